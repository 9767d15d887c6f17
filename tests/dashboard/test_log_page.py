"""The log as lines that open, without a browser."""

import re

import pandas as pd
import pytest
from tapping import button, correct, press

from pairing.bench import Bench
from pairing.model.cup import Cup
from pairing.store import frames


def html(at):
    return " ".join(h.proto.body for h in at.get("html"))


def test_a_log_correction_is_made_with_the_words_of_the_bench(app):
    at = app("one", "log", {"trial": "t1"})
    correct(at)
    pills = {p.label: p for p in at.pills}
    assert (pills["Strength"].value, pills["Liking"].value) == (3, 7)
    pills["Liking"].set_value(4)
    button(at, "Save the correction").click().run()
    assert not at.exception
    assert Bench.open(at.bench_path).tables("readings")["liking"].tolist() == [4.0]


def test_a_correction_shows_a_short_dose_and_keeps_the_exact_one_until_it_is_typed_over(app):
    at = app("one", "log")
    bench = Bench.open(at.bench_path)
    bench.correct("readings", {"trial_id": "t1"}, {"dose_g_per_kg": 2.09559924159})
    at.run()
    button(at, "**7** Plum").click().run()
    correct(at)
    assert dose_of(at).value == "2.1"
    for typed, kept in ((None, 2.09559924159), ("2", 2.0)):
        if typed:
            dose_of(at).set_value(typed)
        next(p for p in at.pills if p.label == "Liking").set_value(int(kept) + 2)
        button(at, "Save the correction").click().run()
        assert bench.tables("readings")[["dose_g_per_kg", "liking"]].to_numpy().tolist() == [[kept, int(kept) + 2]]


@pytest.fixture
def stepped(app):
    """A cup of two additions and two sips, opened in the log."""
    at = app("one", "log")
    bench = Bench.open(at.bench_path)
    made = Cup("oat", 250, shelf=bench.shelf(), trial_id="t2").add("plum", drops=3).sip(15).read({"plum": 2})
    made = made.add("plum", g=9.1).sip(15).read({"plum": 3}, liking=6, off_notes="chalky:2;sweet:1@aftertaste")
    bench.log(made, ended="right", chosen_by="suggested")
    at.query_params["trial"] = "t2"
    at.run()
    return at


def test_what_went_in_is_told_as_it_was_added_and_not_as_if_nothing_had_been_sipped(stepped):
    assert "Gone in so far" in html(stepped)
    assert "6 like slightly, chalky (clear) and sweet after the swallow (slight)" in html(stepped)
    assert "9.2 g" in html(stepped)  # 3 drops and 9.1 g, of which a sip has taken none since


def test_a_wrong_amount_is_corrected_as_it_was_measured_and_every_later_dose_follows(stepped):
    bench = Bench.open(stepped.bench_path)
    before = bench.trial("t2")["readings"]
    correct(stepped)
    fields = {t.label: t for t in stepped.text_input}
    assert "Dose (g per kg)" not in fields
    amounts = {"Oat drink": "250 g", "Plum drops": "3 drops", "Plum drops after 1 sip": "9.1 g"}
    assert {name: fields[name].value for name in amounts} == amounts
    fields["Plum drops after 1 sip"].set_value("12 g")
    button(stepped, "Save the amounts").click().run()
    assert not stepped.exception
    after = bench.trial("t2")
    meant = Cup("oat", 250, shelf=bench.shelf()).add("plum", drops=3).sip(15).add("plum", g=12)
    doses = after["readings"]["dose_g_per_kg"].tolist()
    assert doses == [before["dose_g_per_kg"].iloc[0], pytest.approx(meant.dose_g_per_kg["plum"])]
    same = ["strength", "liking", "ended", "chosen_by", "base_g", "tasted_at", "stepped"]
    pd.testing.assert_frame_equal(after["readings"][same], before[same])
    assert after["steps"]["as_entered"].tolist() == ["250 g", "3 drops", "15 g", "12 g", "15 g"]
    button(stepped, "Save the amounts").click().run()
    assert "No amount is other" in stepped.success[0].value
    button(stepped, "Undo the last change").click().run()
    pd.testing.assert_frame_equal(bench.trial("t2")["readings"], before)


@pytest.mark.parametrize(("label", "text", "said"), [("Oat drink", "20 g", "a sip of 15 g"), ("Plum drops", "", "not")])
def test_an_amount_that_cannot_be_is_refused_and_nothing_is_changed(stepped, label, text, said):
    bench = Bench.open(stepped.bench_path)
    before = bench.revision
    correct(stepped)
    next(t for t in stepped.text_input if t.label == label).set_value(text)
    button(stepped, "Save the amounts").click().run()
    assert said in stepped.error[0].value
    assert bench.revision == before


def test_a_dose_that_was_corrected_by_hand_is_corrected_by_hand_again(stepped):
    bench = Bench.open(stepped.bench_path)
    bench.correct("readings", {"trial_id": "t2", "reading": 2}, {"dose_g_per_kg": 46.2})
    stepped.run()
    correct(stepped)
    assert not any(b.label == "Save the amounts" for b in stepped.button)
    assert dose_of(stepped).value == "46.2"


def dose_of(at):
    return next(t for t in at.text_input if t.label.startswith("Dose"))


def test_a_line_opens_its_cup_and_a_link_shows_the_same(app):
    at = app("demo", "log")
    lines = [b for b in at.button if (b.key or "").startswith("line-")]
    assert 0 < len(lines) <= 25
    lines[3].click().run()
    assert not at.exception
    trial = at.query_params["trial"]
    assert trial in (lines[3].key.removeprefix("line-"), [lines[3].key.removeprefix("line-")])
    assert "In the cup" in html(at)
    there = app("demo", "log", {"trial": lines[3].key.removeprefix("line-")})
    assert "In the cup" in html(there)
    press(there, "Repeat it")
    assert Bench.open(there.bench_path).list_drafts()


def test_a_recipe_is_kept_from_its_cup(app):
    at = app("one", "log", {"trial": "t1"})
    button(at, "Keep it").click().run()
    assert not at.exception
    kept = Bench.open(at.bench_path).tables("recipes")
    assert kept[["base_id", "name"]].values.tolist() == [["oat", "Plum drops in Oat drink"]]


def test_amounts_in_the_log_are_as_a_hand_measures_them(app):
    at = app("one", "log")
    bench = Bench.open(at.bench_path)
    row = {"trial_id": "t2", "base_id": "oat", "flavouring_id": "plum", "amount": "410 drops", "base_g": 250}
    bench.load(readings=pd.DataFrame([{**row, "liking": 6}]))
    at.query_params["trial"] = "t2"
    at.run()
    assert "410 drops" not in html(at)
    assert re.search(r"\d g \(\d+ ml\)|\d\.\d g", html(at))


def test_changes_are_told_by_names_and_in_words(app):
    at = app("one", "log")
    bench = Bench.open(at.bench_path)
    bench.correct("readings", {"trial_id": "t1"}, {"liking": 2})
    at.run()
    assert "corrected" in html(at)
    assert "T1" not in html(at)


def test_undo_takes_the_last_change_back(app):
    at = app("one", "log")
    bench = Bench.open(at.bench_path)
    bench.correct("readings", {"trial_id": "t1"}, {"liking": 2})
    at.run()
    button(at, "Undo the last change").click().run()
    assert Bench.open(at.bench_path).tables("readings")["liking"].tolist() == [7.0]


def test_a_report_of_the_log(app):
    at = app("demo", "log")
    next(t for t in at.toggle if t.key == "report").set_value(True).run()
    assert not at.exception
    assert [e.value for e in at.error] == []
    assert at.header[0].value


@pytest.mark.parametrize("view", ["log", "doses"])
def test_a_page_reads_no_more_rows_of_a_longer_log(app, view, monkeypatch):
    at = app("one", view)
    bench = Bench.open(at.bench_path)
    read = []
    fetch = frames.fetch

    def counted(tx, spec, *query):
        rows = fetch(tx, spec, *query)
        read.append(len(rows) if spec.name == "readings" else 0)
        return rows

    def rows_read():
        read.clear()
        at.run()
        assert not at.exception
        return sum(read)

    many = pd.DataFrame(
        [{"trial_id": f"n{i}", "base_id": "oat", "flavouring_id": "plum", "dose_g_per_kg": 1.0, "strength": 3}
         for i in range(3000)]
    )  # fmt: skip
    bench.load(readings=many.iloc[:1000])
    bench.learn(random_state=0)
    at.run()
    monkeypatch.setattr(frames, "fetch", counted)
    short = rows_read()
    bench.load(readings=many.iloc[1000:])
    bench.learn(random_state=0)
    assert rows_read() <= short + 10
    assert 0 < short < 1000


def test_a_cup_that_is_open_is_listed_whatever_the_page_holds(app):
    at = app("demo", "log")
    bench = Bench.open(at.bench_path)
    first = bench.trials()[0]
    at.query_params["trial"] = first
    at.run()
    lines = [b.key for b in at.button if (b.key or "").startswith("line-")]
    assert lines[0] == f"line-{first}"
    assert len(lines) == 21
    next(s for s in at.selectbox if s.key == "log-base_id").select("pea").run()
    assert not at.exception
    told = [b.label for b in at.button if (b.key or "").startswith("line-")]
    assert all("Pea protein shake" in line for line in told[1:])
