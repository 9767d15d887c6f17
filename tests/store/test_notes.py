"""What was assumed keeps its parts, so that it can be said shortly without reading its words again."""

import copy
import pickle

import pandas as pd
import pytest

from pairing.store.exchange import clean
from pairing.store.notes import Note, in_short


@pytest.mark.parametrize("again", [copy.deepcopy, lambda note: pickle.loads(pickle.dumps(note))])
def test_a_note_is_its_words_and_keeps_its_parts(again):
    note = again(Note("dates are read as day/month/year", "tasted_at", example=True))
    assert note == "tasted_at: dates are read as day/month/year"
    assert (note.about, note.text, note.example) == ("tasted_at", "dates are read as day/month/year", True)


def test_what_holds_for_several_is_said_once_and_words_within_mislead_nobody():
    odd = Note("'a: b' is read as c", "name")
    assert in_short([odd, Note("x: y"), Note("x: y", "z"), odd]) == ["name: 'a: b' is read as c", "z: x: y"]
    assert in_short([Note("'1' is read as 1", "a", example=True), Note("'2' is read as 2", "b", example=True)]) == [
        "a: '1' is read as 1",
        "b: '2' is read as 2",
    ]


def test_every_heading_that_was_converted_is_told():
    names = {"base_id": ["oat"], "name": ["Oat"], "salt_g_per_100g": ["0.1"], "energy_kj_per_100g": ["190"]}
    notes = clean("bases", pd.DataFrame(names)).notes
    said = [note for note in in_short(notes) if "column 'salt_g" in note or "column 'energy_kj" in note]
    assert len(said) == 2
    assert {note.about for note in notes} == {"bases"}


def test_what_a_word_of_allergens_is_taken_for_is_said():
    notes = clean(
        "bases", pd.DataFrame({"base_id": ["oat"], "name": ["Oat"], "allergens": ["oats;lactose;milk"]})
    ).notes
    assert [str(note) for note in notes if note.about == "allergens"] == [
        "allergens: read 'lactose' as milk, 'oats' as gluten"
    ]
    notes = clean("tasters", pd.DataFrame({"taster": ["ana"], "avoid": ["prawns"]})).notes
    assert "avoid: read 'prawns' as crustaceans" in notes


def test_a_label_in_drops_wants_the_weight_of_a_drop():
    rows = {"flavouring_id": ["a", "b", "c", "d"], "name": list("ABCD")}
    rows |= {
        "label_dose": ["5 drops per 100 ml", "5 drops per 100 ml", "2 g/kg", "?"],
        "drop_mg": [None, "25", None, None],
    }
    (note,) = [note for note in clean("flavourings", pd.DataFrame(rows)).notes if note.about == "drop_mg"]
    assert note.startswith("drop_mg: empty for a, which a label counts in drops")
