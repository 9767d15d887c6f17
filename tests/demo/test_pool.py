"""The demo's pool: invented kitchens, a prior that ships for the demo only and says so."""

import json

import numpy as np
from demo_pool import write

import pairing
from pairing import Bench
from pairing.cli.entry import main
from pairing.learned.prior import Prior
from pairing_demo_data import PRIOR


def test_the_prior_says_that_it_is_invented():
    prior = Prior.load(PRIOR)
    assert prior.facts["kitchens"] == 40
    assert "invented" in prior.facts["licence"]
    assert {"oat", "pea", "milk", "barley"} == set(prior.bases)


def test_it_comes_out_again_as_it_was_made(tmp_path):
    write(tmp_path)
    again, kept = pairing.learn_pooled(tmp_path).prior(licence="again"), Prior.load(PRIOR)
    for name, one in kept.effects.items():
        assert again.effects[name].names == one.names
        assert np.allclose(again.effects[name].mean, one.mean, atol=0.02), name


def test_the_demo_takes_it_when_asked_and_says_so(tmp_path, capsys):
    place = tmp_path / "demo"
    assert main(["demo", "--bench", str(place), "-n", "1", "--with-pool"]) == 0
    assert "invented like this one" in capsys.readouterr().out.replace("\n", " ")
    assert Bench.open(place).adopted is not None
    assert main(["demo", "--bench", str(place), "-n", "1", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["with_pool"] is False
    assert Bench.open(place).adopted is None
