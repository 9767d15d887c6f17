"""From a log to the graph, where the truth is planted."""

import itertools

import numpy as np
import pandas as pd
import pytest
from simulated import make_palate

from pairing import learn
from pairing.graph.build import difference, graph
from pairing.graph.queries import LIKELY, SURE, Questions

FAMILIES = ("fruit", "spice", "herb", "nut")
BASES = pd.DataFrame({"base_id": ["oat", "whey"], "name": ["Oat", "Whey"]})
IDS = [f"{family}-{k}" for family in FAMILIES for k in range(4)]
FLAVOURINGS = pd.DataFrame(
    {
        "flavouring_id": IDS,
        "name": [id_.title() for id_ in IDS],
        "family": [id_.split("-")[0] for id_ in IDS],
        "label_dose_g_per_kg": 1.0,
    }
)
HELD_OUT = ("fruit-0", "spice-0")


def fruit_and_spice(pair):
    return 1.8 if {id_.split("-")[0] for id_ in pair} == {"fruit", "spice"} else 0.0


def log(combinations, rng, synergy=fruit_and_spice, noise=0.7):
    """One fresh cup per combination, at the needed dose, in either base by turns."""
    own = dict(zip(IDS, rng.normal(0, 0.5, len(IDS)), strict=True))
    rows = []
    for i, ids in enumerate(combinations):
        liking = 5.0 + sum(own[id_] for id_ in ids) + sum(map(synergy, itertools.combinations(ids, 2)))
        liking = min(9, max(1, round(liking + noise * rng.standard_normal())))
        rows += [
            {
                "trial_id": f"t{i:04d}",
                "base_id": BASES["base_id"][i % 2],
                "flavouring_id": id_,
                "dose_g_per_kg": 1.0,
                "strength": 3,
                "liking": liking,
            }
            for id_ in ids
        ]
    return pd.DataFrame(rows + needed_doses())


def needed_doses():
    """Cups that only tell the needed dose, 1 g/kg throughout: half of it is too weak, twice of it too strong."""
    return [
        {
            "trial_id": f"dose-{base}-{id_}-{dose}",
            "base_id": base,
            "flavouring_id": id_,
            "dose_g_per_kg": dose,
            "strength": word,
            "liking": np.nan,
        }
        for base in BASES["base_id"]
        for id_ in IDS
        for dose, word in ((0.5, 1), (0.75, 2), (1.0, 3), (1.3, 4), (2.0, 5))
    ]


def design(rng, without=(), times=2):
    pairs = [pair for pair in itertools.combinations(IDS, 2) if pair not in without] * times
    made = [(id_,) for id_ in IDS for _ in range(4)] + pairs
    return [made[i] for i in rng.permutation(len(made))]


def shuffled(readings, rng):
    """Hand every cup the liking of another one."""
    cups = readings.groupby("trial_id")["liking"].first().dropna()
    mixed = readings["trial_id"].map(dict(zip(cups.index, rng.permutation(cups), strict=True)))
    return readings.assign(liking=mixed.where(readings["liking"].notna()))


@pytest.fixture(scope="module")
def planted():
    rng = np.random.default_rng(1)
    return log(design(rng, without=[HELD_OUT]), rng)


@pytest.fixture(scope="module")
def asked(planted):
    return Questions(graph(learn(BASES, FLAVOURINGS, planted, random_state=0)))


def test_a_planted_pair_that_was_held_out_ranks_first_among_the_untried(asked):
    first = asked.gaps(1).iloc[0]
    assert (first["flavouring_a"], first["flavouring_b"]) == HELD_OUT
    assert asked.partners("fruit-0")[1]["partner"].tolist() == ["spice-0"]
    assert asked.graph.edges[HELD_OUT]["p_positive"] > LIKELY


def test_it_is_found_among_many_untried_pairs():
    rng = np.random.default_rng(2)
    unlike = [pair for pair in itertools.combinations(IDS, 2) if rng.random() < 0.4 and not fruit_and_spice(pair)]
    model = learn(BASES, FLAVOURINGS, log(design(rng, without=[HELD_OUT, *unlike]), rng), random_state=0)
    first = Questions(graph(model)).gaps(1).iloc[0]
    assert (first["flavouring_a"], first["flavouring_b"]) == HELD_OUT


def test_planted_pairs_that_were_tried_stand_out(asked):
    edges = {pair: asked.graph.edges[pair]["synergy"] for pair in asked.graph.edges}
    good = [value for pair, value in edges.items() if fruit_and_spice(pair)]
    rest = [value for pair, value in edges.items() if not fruit_and_spice(pair)]
    assert np.mean(good) > np.mean(rest) + 1.0
    assert np.mean([value > max(rest) for value in good]) > 0.5


@pytest.mark.parametrize("seed", range(3))
def test_shuffled_likings_leave_no_sure_edge(seed):
    palate = make_palate(seed, n_bases=4, n_flavourings=16)
    readings = palate.log(400, np.random.default_rng(seed))
    edges = [
        list(graph(learn(palate.bases_df, palate.flavourings_df, table, random_state=0)).edges(data=True))
        for table in (readings, shuffled(readings, np.random.default_rng(100 + seed)))
    ]
    sure = [sum(not 1 - SURE < edge["p_positive"] < SURE for *_, edge in made) for made in edges]
    assert sure[0] > 0 == sure[1]


def test_shuffled_likings_hide_the_planted_pair(planted):
    hidden = [
        graph(learn(BASES, FLAVOURINGS, shuffled(planted, np.random.default_rng(seed)), random_state=0))
        for seed in range(3)
    ]
    assert all(made.edges[HELD_OUT]["p_positive"] < LIKELY for made in hidden)


def test_shuffling_takes_away_what_was_sure(planted, asked):
    assert [1 for *_, edge in asked.graph.edges(data=True) if edge["p_positive"] >= SURE]


def test_a_popular_flavouring_is_not_a_good_partner_of_everything():
    # herb-0 is liked and is in every other cup; it brings its own points and nothing to any pair.
    rng = np.random.default_rng(3)
    others = [id_ for id_ in IDS if id_ != "herb-0"]
    cups = [("herb-0", id_) for id_ in others] * 6 + [(id_,) for id_ in others] * 3 + [("herb-0",)] * 10
    cups += [pair for pair in itertools.combinations(others, 2) if rng.random() < 0.4]
    readings = log([cups[i] for i in rng.permutation(len(cups))], rng, synergy=lambda pair: 0.0)
    popular = readings.groupby("trial_id")["flavouring_id"].transform(lambda ids: "herb-0" in set(ids))
    readings["liking"] = (readings["liking"] + 2 * popular).clip(1, 9)
    made = graph(learn(BASES, FLAVOURINGS, readings, random_state=0))
    synergy = {pair: edge["synergy"] for *pair, edge in made.edges(data=True) for pair in [frozenset(pair)]}
    mine = np.mean([value for pair, value in synergy.items() if "herb-0" in pair])
    rest = np.mean([value for pair, value in synergy.items() if "herb-0" not in pair])
    assert abs(mine - rest) < 0.25
    assert made.nodes["herb-0"]["points"] > 1.2
    assert sum(made.edges["herb-0", id_]["p_positive"] >= LIKELY for id_ in others) <= 1


def test_always_together_stays_unsure_and_the_graph_says_so():
    rng = np.random.default_rng(4)
    twins = ("herb-1", "nut-1")
    cups = [pair for pair in design(rng, times=2) if not set(twins) & set(pair)] + [twins] * 8
    readings = log(cups, rng, synergy=lambda pair: 2.0 * (set(pair) == set(twins)))
    made = graph(learn(BASES, FLAVOURINGS, readings, random_state=0))
    edge = made.edges[twins]
    assert edge["inseparable"] is True
    apart = log(cups + [(id_,) for id_ in twins for _ in range(8)], rng, synergy=lambda pair: 0.0)
    other = graph(learn(BASES, FLAVOURINGS, apart, random_state=0)).edges[twins]
    assert "inseparable" not in other
    assert edge["sd"] > other["sd"]
    assert edge["p_positive"] < SURE


def test_synergies_follow_the_hidden_truth_of_a_simulated_palate():
    palate = make_palate(5, n_bases=4, n_flavourings=12)
    readings = palate.log(400, np.random.default_rng(0), share=(0.3, 0.7, 0))
    made = graph(learn(palate.bases_df, palate.flavourings_df, readings, random_state=0))
    learned = np.array([edge["synergy"] for *_, edge in made.edges(data=True)])
    truth = np.array([palate.true_synergy(a, b) for a, b in made.edges])
    assert np.corrcoef(learned, truth)[0, 1] > 0.6
    sd = np.array([edge["sd"] for *_, edge in made.edges(data=True)])
    assert 0.65 < np.mean(np.abs(learned - truth) < 1.2816 * sd) < 0.95


def test_a_pair_that_works_in_one_base_only_differs_most():
    rng = np.random.default_rng(6)
    only = ("herb-2", "nut-3")
    readings = log([*design(rng, times=2), *[only] * 12], rng, synergy=lambda pair: 0.0)
    cups = readings.dropna(subset="liking").groupby("trial_id")["flavouring_id"].agg(set)
    here = readings["trial_id"].isin(cups.index[cups == set(only)]) & (readings["base_id"] == "oat")
    readings["liking"] = (readings["liking"] + 3 * here).clip(1, 9)
    model = learn(BASES, FLAVOURINGS, readings, random_state=0)
    edges = {frozenset(pair): edge for *pair, edge in difference(model, "oat", "whey").edges(data=True)}
    assert max(edges, key=lambda pair: edges[pair]["difference"]) == set(only)
    found = edges[frozenset(only)]
    assert found["difference"] == pytest.approx(found["synergy_a"] - found["synergy_b"], abs=1e-9)
    assert found["p_positive"] > LIKELY
    sd = {base: graph(model, base).edges[only]["sd"] for base in ("oat", "whey")}
    assert found["sd"] < (sd["oat"] ** 2 + sd["whey"] ** 2) ** 0.5
