"""Whatever a bench holds, in every table that there is, comes back byte for byte, from one database to the other."""

import tempfile
from pathlib import Path

import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pairing import Bench, Cup
from pairing.model.columns import TABLES
from pairing.store.archive import BEFORE, BESIDE, PAST
from pairing.store.schema import metadata

WORD = st.from_regex(r"[a-zé]{3,8}", fullmatch=True)
TEXT = st.text(st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1, max_size=12).map("{}.".format)
IDS = {
    "base_id": ("oat", "Oat"),
    "flavouring_id": ("quince", "0168"),
    "target_id": ("pie",),
    "item_id": ("oat", "0168"),
}
"""What rows refer to; tables with one row for each of these have just these rows."""
ALWAYS = (*IDS, "dose_g_per_kg")
PARENTS = ("version_of", "reference_trial_id", "parent_trial_id")
WRITTEN = {
    "label_dose": st.sampled_from(["3 drops per 100 ml", "0.8 %", "2 fl oz per 5 gal"]),
    "amount": st.sampled_from(["11 drops", "1.2 g", "3 ml"]),
    "size": st.sampled_from(["30 ml", "1 kg"]),
    "off_notes": st.sampled_from(["bitter:1@aftertaste", "chalky:3;bitter"]),
    "doses": st.floats(0.01, 100).map("quince={!r};0168=2".format),
    "question": st.sampled_from(["stronger", "prefer"]),
    "answer": st.sampled_from(["left", "right"]),
    "allergens": st.sampled_from(["milk;soy", "none", "gluten;?"]),
    "tags": st.sampled_from(["jammy", "bright;round"]),
    "avoid": st.sampled_from(["ethanol", "0168;caffeine"]),
    "avoid_allergens": st.sampled_from(["milk", "soy;milk"]),
    "grams": st.floats(0.01, 0.4),
    "body_mass_kg": st.floats(40, 120),
    "age_years": st.floats(20, 80),
    "made_at": st.just("2000-03-01"),
    "bought_at": st.just("2000-03-02T18:00"),
    "emptied_at": st.just("2025-03-01T18:30:00"),
}
"""Columns that have a form, or an order, of their own."""
BESIDE_TABLES = {"meta", "blobs", "settings", "drafts", PAST}
"""What is kept beside the tables: `kept_beside` fills what an export takes of it; learned state is learned again."""


def cells(column, filled):
    """Make cells of a column; empty ones too, where that is allowed and they are not to be ``filled``."""
    low, high = column.low or 0.0, 1e6 if column.high is None else column.high
    if column.name in WRITTEN:
        made = WRITTEN[column.name]
    elif column.name in IDS:
        made = st.sampled_from(IDS[column.name])
    elif column.kind in ("number", "integer"):
        made = st.floats(low, min(high, 200.0)) if column.kind == "number" else st.integers(int(low), int(min(high, 9)))
    else:
        most = 1.0 if column.name == "carrier" else min(high, 5.0) if high > 1 else 0.9  # no more fits
        share = st.floats(max(low, 0.1), most)
        made = {
            "id": WORD, "text": TEXT, "choice": st.sampled_from(column.choices or ("",)),
            "words": st.lists(WORD, min_size=1, max_size=3, unique=True).map(";".join),
            "amounts": st.builds("{}:{!r}".format, WORD, share),
            "time": st.datetimes(pd.Timestamp("2001-01-01"), pd.Timestamp("2024-01-01")).map(lambda t: t.isoformat()),
            "bytes": st.binary(min_size=1, max_size=300),
        }[column.kind]  # fmt: skip
    return made if filled or column.required or column.name in ALWAYS else st.none() | made


@st.composite
def table(draw, spec):
    """Make a table with every column filled in its first row."""
    own = IDS.get(spec.key[0]) if len(spec.key) == 1 else None
    rows = []
    for n in range(len(own) if own else draw(st.integers(1, 3))):
        row = {c.name: draw(cells(c, filled=not n)) for c in spec.columns}
        first = spec.columns[0].name
        row[first] = own[n] if own else row[first] if first in IDS else f"{row[first]}-{n}"
        row |= {name: None for name in PARENTS if name in row}
        row |= {spec.key[-1]: n + 1} if spec.by_name[spec.key[-1]].kind == "integer" else {}
        rows.append(row)
    return pd.DataFrame(rows).astype(object).drop_duplicates(list(spec.key), ignore_index=True)


def kept_beside(bench, draw):
    """Fill what lies beside the tables: settings, sets of bottles, cups in hand."""
    bench.configure(currency=draw(st.sampled_from(["GBP", "EUR"])), scale_g=draw(st.floats(0.01, 1)))
    bench.save_set("porch", ["quince"])
    bench.save_draft("cup-1", {"base_id": "oat", "said": draw(st.lists(TEXT | st.floats(-1e9, 1e9) | st.none()))})


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@settings(max_examples=3, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_every_table_comes_back_byte_for_byte_from_either_database(server, data):
    assert set(metadata(is_file=True).tables) == {*TABLES, *BESIDE_TABLES}  # another one has to be filled here
    server.empty()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench.create(Path(folder, "kitchen"), author=data.draw(TEXT))
        made = {name: data.draw(table(spec), label=name) for name, spec in TABLES.items()}
        report = bench.load(**made)
        assert report.refused.empty, report.refused[["table", "column", "value", "reason"]].to_dict("records")
        assert report.accepted == {name: len(rows) for name, rows in made.items()}
        kept_beside(bench, data.draw)
        cup = Cup("oat", base_g=300, trial_id="0042").add("quince", g=0.3).sip(g=10).read(strength={"quince": 3})
        bench.log(cup, liking=7)
        bench.correct("bases", "oat", {"name": data.draw(TEXT) + "!", "ph": data.draw(st.none() | st.floats(0, 14))})
        bench.log(cup, liking=6, on_conflict="revise")
        bench.undo()
        first = bench.export(Path(folder, "first"), everything=True)
        assert {Path(name).stem for name in contents(first)} >= {
            *TABLES,
            PAST,
            *BESIDE,
            BEFORE.format("bases"),
            BEFORE.format("readings"),
        }
        for n, place in enumerate((server.url(), Path(folder, "again"))):
            copy = Bench.create(place, author="ben")
            assert copy.load(first).refused.empty
            again = copy.export(Path(folder, f"again-{n}"), everything=True)
            assert contents(again) == contents(first)
