"""Free text with a meaning: known words pass in silence, unknown ones are kept with a note."""

import pandas as pd
import pytest

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
    cleaned = clean("flavourings", flavourings(form="sparkle", carrier="watr:0.5;water:0.5", allergens="mlik;soy"))
    form, carrier, allergen = cleaned.notes
    assert "form 'sparkle'" in form
    assert "carrier 'watr'" in carrier
    assert "water" in carrier
    assert "allergens 'mlik'" in allergen
    assert "did you mean mlek or milk" in allergen
    row = cleaned.table.iloc[0]
    assert (row["form"], row["carrier"], row["allergens"]) == ("sparkle", "watr:0.5;water:0.5", "mlik;soy")
    bases = pd.DataFrame({"base_id": ["oat"], "name": ["Oat"], "allergens": ["brix"]})
    assert "allergens 'brix'" in clean("bases", bases).notes[0]


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


def test_every_unknown_allergen_is_named_for_it_keeps_the_bottle_from_people():
    words = [f"odd{i}" for i in range(9)]
    noted = " ".join(clean("flavourings", flavourings(allergens=";".join(words))).notes)
    assert all(word in noted for word in words)
    assert "incomplete" in noted
    assert clean("flavourings", flavourings(allergens="coconut;milk;?")).notes[0].startswith("allergens '?'")
