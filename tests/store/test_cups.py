import pandas as pd
import pytest
import store_tables

from pairing import Cup
from pairing.errors import ConflictError, CupError, PairingError, TableError
from pairing.model.columns import STEPS
from pairing.model.cup import Step


@pytest.fixture
def bench(place):
    return store_tables.stocked(place("kitchen"))


@pytest.fixture
def ladder(bench):
    return (
        Cup("oat", base_g=400, shelf=bench.shelf(), trial_id="ladder")
        .add("quince", drops=11, lot="7")
        .mix("hand blender")
        .rest(minutes=5)
        .sip(g=15)
        .read(strength={"quince": 2})
        .add("quince", drops=4)
        .add("clove", g=0.05)
        .sip(g=15)
        .read(strength={"quince": 3, "clove": 1})
    )


def test_one_row_per_flavouring_per_reading(bench, ladder):
    trial_id = bench.log(
        ladder, ended="right", liking=7, taster="ana", chosen_by="own", off_notes="bitter:1@aftertaste"
    )
    rows = bench.tables("readings")
    assert set(rows["trial_id"]) == {trial_id} == {"ladder"}
    assert list(zip(rows["reading"], rows["flavouring_id"], rows["strength"], strict=True)) == [
        (1, "quince", 2), (2, "quince", 3), (2, "clove", 1)
    ]  # fmt: skip
    first, last = ladder.readings
    assert rows["dose_g_per_kg"][0] == first.dose_g_per_kg["quince"]
    assert rows["dose_g_per_kg"][2] == last.dose_g_per_kg["clove"]
    assert rows["liking"].isna().tolist() == [True, False, False]
    assert rows["stepped"].tolist() == ["no", "yes", "yes"]
    assert rows["off_notes"].tolist() == [None, "bitter:1@aftertaste", "bitter:1@aftertaste"]
    for name, value in {"taster": "ana", "base_id": "oat", "ended": "right", "chosen_by": "own", "base_g": 400}.items():
        assert set(rows[name]) == {value}
    assert rows["tasted_at"].notna().all()


def test_steps_come_back_without_loss(bench, ladder):
    bench.log(ladder, ended="right")
    rows = bench.tables("steps").astype(object)
    rows = rows.where(rows.notna(), None)
    names = [n for n in STEPS.names if n not in ("trial_id", "step")]
    steps = [Step(**row) for row in rows[names].to_dict("records")]
    again = Cup.from_steps("oat", steps, trial_id="ladder", readings=ladder.readings)
    assert again == ladder
    assert again.dose_g_per_kg == ladder.dose_g_per_kg


def test_logging_again_changes_nothing(bench, ladder):
    bench.log(ladder, ended="right", liking=7)
    before = bench.revision
    assert bench.log(ladder, ended="right", liking=7) == "ladder"
    assert bench.revision == before


def test_other_content_under_the_same_id_is_a_conflict_or_a_revision(bench, ladder):
    bench.log(ladder, ended="right", liking=7)
    with pytest.raises(ConflictError, match=r"trial 'ladder' is logged already.*revise"):
        bench.log(ladder, ended="right", liking=8)
    longer = ladder.add("clove", g=0.05).sip(g=15).read(strength={"quince": 3, "clove": 3})
    bench.log(longer, ended="right", liking=8, on_conflict="revise")
    rows = bench.tables("readings")
    assert len(rows) == 5
    assert rows["liking"].tolist()[3:] == [8, 8]
    bench.undo()
    assert len(bench.tables("readings")) == 3
    shorter = Cup("oat", base_g=400, trial_id="ladder").read(liking=2)
    bench.log(shorter, on_conflict="revise")
    assert bench.tables("readings")["flavouring_id"].tolist() == [None]
    assert bench.tables("steps")["kind"].tolist() == ["pour"]


def test_a_correction_keeps_when_it_was_tasted(bench, ladder, monkeypatch):
    monkeypatch.setattr("pairing.store.ledger.now", lambda: "2024-05-01T10:00:00")
    bench.log(ladder, ended="right", liking=7)
    monkeypatch.setattr("pairing.store.ledger.now", lambda: "2024-06-01T10:00:00")
    bench.log(ladder, ended="right", liking=4, on_conflict="revise")
    rows = bench.tables("readings")
    assert rows["liking"].dropna().unique().tolist() == [4]
    assert set(rows["tasted_at"]) == {"2024-05-01T10:00:00"}


def test_logged_again_after_undo(bench, ladder):
    bench.log(ladder, ended="right")
    bench.undo()
    assert bench.tables("readings").empty
    bench.log(ladder, ended="right")
    assert len(bench.tables("readings")) == 3


def test_a_last_word_of_somebody_else_is_a_reading_of_its_own(bench, ladder):
    cup = ladder.read(liking=4, taster="ben")
    bench.log(cup, liking=8, taster="ana", ended="right")
    rows = bench.tables("readings").drop_duplicates(["taster", "reading"])
    assert rows[["taster", "reading"]].to_numpy().tolist() == [["ana", 1], ["ana", 2], ["ben", 1]]
    assert rows["liking"].tolist()[1:] == [8, 4]


def test_a_liking_after_more_was_added_is_another_reading(bench, ladder):
    bench.log(ladder.add("quince", drops=9), liking=3, ended="too strong")
    rows = bench.tables("readings")
    assert rows["reading"].max() == 3
    assert rows["strength"].isna().tolist() == [False] * 3 + [True] * 2


def test_contradicting_the_last_reading_is_refused(bench):
    cup = Cup("oat", base_g=300).add("quince", g=0.3).read(liking=7)
    with pytest.raises(CupError, match="liking is 3, the last reading says 7"):
        bench.log(cup, liking=3)


def test_plain_and_spoiled_cups(bench):
    bench.log(Cup("oat", base_g=300, trial_id="plain"), liking=6)
    bench.log(Cup("oat", base_g=300, trial_id="curdled").add("quince", g=1), ended="spoiled")
    rows = bench.tables("readings")
    assert rows["flavouring_id"].tolist() == [None, "quince"]
    assert rows["dose_g_per_kg"].tolist()[0] == 0
    assert rows["ended"].tolist() == [None, "spoiled"]
    with pytest.raises(CupError, match="nothing to log"):
        bench.log(Cup("oat", base_g=300))


def test_unknown_ids_and_words_are_refused_and_nothing_is_kept(bench):
    before = bench.revision
    with pytest.raises(TableError, match="'oats' is not a known base — did you mean oat"):
        bench.log(Cup("oats", base_g=300).read(liking=6))
    with pytest.raises(TableError, match="not a known flavouring"):
        bench.log(Cup("oat", base_g=300).add("rose", g=1).read(liking=6))
    with pytest.raises(PairingError, match="ended 'great' is not known"):
        bench.log(Cup("oat", base_g=300).read(liking=6), ended="great")
    with pytest.raises(PairingError, match="liking is 12"):
        bench.log(Cup("oat", base_g=300), liking=12)
    with pytest.raises(TableError, match="not a known target"):
        bench.log(Cup("oat", base_g=300), likeness=4, target_id="pie")
    assert bench.revision == before
    assert bench.tables("steps").empty


def test_portions_are_trials_of_their_own(bench, ladder):
    part, rest = ladder.split(g=100, trial_id="portion")
    bench.log(rest, ended="right")
    bench.log(part.add("clove", g=0.01).read(liking=8), ended="right")
    steps = bench.tables("steps")
    assert steps["parent_trial_id"].dropna().unique().tolist() == ["ladder"]
    assert bench.tables("readings")["trial_id"].unique().tolist() == ["ladder", "portion"]


def test_a_draft_is_done_with_the_log(bench, ladder):
    bench.save_draft("phone", {"steps": 3})
    bench.log(ladder, ended="right", draft_id="phone")
    assert bench.load_draft("phone") is None


def test_attributes_and_the_rest_of_a_reading(bench):
    cup = Cup("oat", base_g=300).add("quince", g=0.3)
    bench.log(
        cup.read(
            liking=6, attributes="overall:4;sweetness:2.5", session="s1", position=2, blind="coded", temperature_c=8
        )
    )
    row = bench.tables("readings").iloc[0]
    assert row["attributes"] == "overall:4;sweetness:2.5"
    assert (row["session"], row["position"], row["blind"], row["temperature_c"]) == ("s1", 2, "coded", 8)


def test_the_log_can_be_cleaned_and_loaded_like_any_table(bench, ladder, place):
    bench.log(ladder, ended="right", liking=7)
    other = store_tables.stocked(place("other"))
    report = other.load(readings=bench.tables("readings"), steps=bench.tables("steps"))
    assert report.refused.empty
    pd.testing.assert_frame_equal(other.tables("readings"), bench.tables("readings"))


def test_drops_of_a_cup_without_a_shelf_weigh_what_the_bench_knows(bench):
    def pour(**shelf):
        return Cup("oat", base_g=400, **shelf).add("quince", drops=11).sip(g=15).read(strength={"quince": 2})

    bench.calibrate("quince", 40, 2.4)
    bench.log(pour(), trial_id="bare")
    bench.log(pour(shelf=bench.shelf()), trial_id="known")
    doses = bench.tables("readings").set_index("trial_id")["dose_g_per_kg"]
    assert doses["bare"] == pytest.approx(1000 * 0.66 / 400.66)
    assert doses["bare"] == pytest.approx(doses["known"])
    steps = bench.tables("steps").query("kind == 'add'")
    assert steps["as_entered"].tolist() == ["11 drops"] * 2
    assert steps["amount_g"].tolist() == pytest.approx([0.66] * 2)


def test_a_cup_logged_twice_is_one_though_the_bottle_was_weighed_between(bench):
    cup = Cup("oat", base_g=400).add("quince", drops=11).read(strength={"quince": 2}, liking=7)
    bench.log(cup)
    bench.calibrate("quince", 40, 2.4)
    revision = bench.revision
    assert bench.log(cup) == cup.trial_id
    assert bench.revision == revision


@pytest.mark.parametrize("other", ["oat", None, 3])
def test_what_is_no_cup_is_refused(bench, other):
    with pytest.raises(CupError, match="is no cup"):
        bench.log(other, liking=7)


def test_an_override_is_kept_in_the_note_of_the_last_reading(bench, ladder):
    bench.log(ladder, note="oily", overridden=["clove", "clove"])
    assert bench.tables("readings")["note"].tolist() == [None, *["oily; past 3 × the label on purpose: clove"] * 2]
    revision = bench.revision
    bench.log(ladder, note="oily", overridden=["clove", "clove"])
    assert bench.revision == revision
    spoiled = Cup("oat", base_g=100).add("clove", g=1)
    trial_id = bench.log(spoiled, ended="spoiled", overridden=["clove"])
    rows = bench.tables("readings")
    assert rows.loc[rows["trial_id"] == trial_id, "note"].tolist() == ["past 3 × the label on purpose: clove"]
    with pytest.raises(CupError, match=r"quince cannot have been overridden.*in it are: clove"):
        bench.log(Cup("oat", base_g=100).add("clove", g=1), liking=3, overridden=["quince"])
