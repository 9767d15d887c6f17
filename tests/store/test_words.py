"""Free text with a meaning: known words pass in silence, unknown ones are kept with a note."""

import pandas as pd
import pytest

from pairing import Bench
from pairing.errors import QuantityError, TableError
from pairing.model.recipe import Recipe
from pairing.model.taster import Taster
from pairing.safety.avoidance import forbidden
from pairing.safety.cautions import cautions
from pairing.store.exchange import clean


def flavourings(**columns):
    return pd.DataFrame({"flavouring_id": ["plum"], "name": ["Plum"], "label_dose_g_per_kg": [5.0], **columns})


@pytest.mark.parametrize(
    "known",
    [
        {"form": "Oil drops", "carrier": "propylene glycol:0.9;water", "allergens": "may contain hazelnuts"},
        {"form": "powder", "carrier": "Triacetin", "allergens": "none"},
        {"sweeteners": "Reb A:20;acesulfame K;erythritol:500;E955"},
        {"sweeteners": "none"},
        {"form": "nut paste", "carrier": "none", "allergens": None},
        {"form": None, "carrier": None, "tags": "anything", "family": "else"},
    ],
)
def test_known_words_need_no_note(known):
    assert clean("flavourings", flavourings(**known)).notes == ()


def test_unknown_words_are_kept_and_noted():
    cleaned = clean("flavourings", flavourings(form="sparkle", carrier="watr:0.5;water:0.5"))
    form, carrier = cleaned.notes
    assert "form 'sparkle'" in form
    assert "carrier 'watr'" in carrier
    assert "water" in carrier
    row = cleaned.table.iloc[0]
    assert (row["form"], row["carrier"]) == ("sparkle", "watr:0.5;water:0.5")


def test_unknown_sweeteners_are_kept_and_noted():
    bases = pd.DataFrame({"base_id": ["oat"], "name": ["Oat"], "sweeteners": ["sucralos:5;stevia"]})
    for cleaned in (clean("bases", bases), clean("flavourings", flavourings(sweeteners="sucralos:5;stevia"))):
        assert cleaned.table["sweeteners"].tolist() == ["sucralos:5;stevia"]
        (note,) = cleaned.notes
        assert "sweeteners 'sucralos' is not a word that is known" in note
        assert "neither an intake limit nor an energy here: did you mean sucralose?" in note


def test_many_unknown_words_are_counted():
    table = pd.concat([flavourings(form=f"thing {i}").assign(flavouring_id=f"f{i}") for i in range(9)])
    assert clean("flavourings", table).notes[-1] == "form: 4 more words that are not known"


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    return Bench.create(tmp_path_factory.mktemp("words") / "b")


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"allergens": "mlik;soy"}, ("'mlik' is no allergen", "did you mean mlek or milk")),
        ({"allergens": "keine"}, ("'keine' is no allergen", "none is written after reading the label")),
        ({"tags": "fruity;hazelnit"}, ("tag 'hazelnit' is 'hazelnut' but for a slip", "or another tag")),
        ({"tags": "contains mlik"}, ("tag 'contains mlik' is 'milk'", "write milk there and in allergens")),
        ({"sweeteners": "aspertame:5"}, ("'aspertame' is 'aspartame' but for a slip", "did you mean aspartame?")),
        ({"sweeteners": "stevia;neotmae"}, ("'neotmae' is 'neotame' but for a slip", "did you mean neotame?")),
    ],
)
def test_an_allergen_that_nobody_can_place_is_refused_at_every_door(bench, facts, said):
    for table, row in (("flavourings", flavourings()), ("bases", pd.DataFrame({"base_id": ["oat"], "name": ["Oat"]}))):
        report = bench.load(**{table: row.assign(**facts)})
        assert not report.accepted.get(table)
        told = " ".join(report.refused[["reason", "remedy"]].iloc[0])
        assert all(words in told for words in said)
    bench.load(bases=pd.DataFrame({"base_id": ["rice"], "name": ["Rice"]}))
    with pytest.raises(TableError, match=said[0]):
        bench.correct("bases", "rice", facts)


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"sweeteners": "sucralose:600000"}, "sweeteners adds up to 600000 mg in 1 g, at most 1000 fit"),
        ({"sweeteners": "sucralose:600;aspartame:500"}, "sweeteners adds up to 1100 mg in 1 g"),
        ({"carrier": "ethanol:40"}, "carrier adds up to 40 g in 1 g, at most 1 fit"),
        ({"carrier": "ethanol:0.4;water:0.61", "sweeteners": "sucralose:600"}, None),
    ],
)
def test_more_than_fits_is_a_wrong_unit_and_refused(tmp_path, facts, said):
    found = Bench.create(tmp_path / "b").load(flavourings=flavourings(**facts)).refused["reason"].tolist()
    assert (not found) if said is None else said in found[0]


def test_a_carrier_that_is_one_but_for_a_slip_is_refused(bench):
    report = bench.load(flavourings=flavourings(carrier="ethnaol:0.5"))
    assert "'ethnaol' is 'ethanol' but for a slip" in report.refused["reason"].iloc[0]
    assert bench.load(flavourings=flavourings(flavouring_id="kept", carrier="triacetin:0.5")).accepted


def test_somebody_who_cannot_be_is_refused(bench):
    for age, kg in ((0, 20), (2, 90), (30, 9)):
        report = bench.load(tasters=pd.DataFrame([{"taster": "bo", "age_years": age, "body_mass_kg": kg}]))
        assert f"body_mass_kg is {kg} at an age of {age}, allowed is" in report.refused["reason"].iloc[0]
        with pytest.raises(QuantityError, match="correct the body mass"):
            cautions(Recipe("rice"), bench.shelf(), [Taster(taster="bo", age_years=age, body_mass_kg=kg)])
    good = [(0.2, 6), (1, 10), (6, 20), (15, 110), (30, 38), (30, 250)]
    rows = [{"taster": f"t{i}", "age_years": age, "body_mass_kg": kg} for i, (age, kg) in enumerate(good)]
    assert bench.load(tasters=pd.DataFrame(rows)).accepted == {"tasters": len(good)}
    with pytest.raises(TableError, match="at an age of 2"):
        bench.correct("tasters", "t5", {"age_years": 2})


def test_every_allergen_that_nobody_can_place_is_named(bench):
    words = [f"odd{i}" for i in range(9)]
    reasons = bench.load(flavourings=flavourings(allergens=";".join(words))).refused["reason"].iloc[0]
    assert all(word in reasons for word in words)


@pytest.mark.parametrize("tag", ["bitter", "beany", "salted", "grainy", "cocos", "creamy", "hearty", "label-read"])
def test_other_tags_are_free_words_and_a_declaration_may_be_open(bench, tag):
    plum = flavourings(flavouring_id=tag, tags=f"{tag};anything else", allergens="coconut;milk;?")
    assert bench.load(flavourings=plum).accepted == {"flavourings": 1}


def test_what_is_kept_already_is_not_asked_again(bench, tmp_path):
    bench.load(flavourings=flavourings(flavouring_id="old", allergens="milk"))
    folder = bench.export(tmp_path / "out")
    kept = folder / "flavourings.csv"
    kept.write_text(kept.read_text("utf-8").replace(",milk,", ",mlik,"), "utf-8")
    again = Bench.create(tmp_path / "again")
    assert again.load(kept.parent).refused.empty
    assert again.shelf().flavouring("old").allergens == {"mlik"}
    assert again.correct("flavourings", "old", {"cost_per_g": 1.0})
    assert forbidden(["old"], again.shelf(), Taster(taster="ana", avoid_allergens="nuts"))


def test_a_carrier_that_is_a_poison_is_said_to_be_none_for_drinks():
    (note,) = clean("flavourings", flavourings(carrier="isopropanol:0.9;water")).notes
    assert note.startswith("carrier: 'isopropanol' is not for drinks: what it carries is never suggested")
