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
