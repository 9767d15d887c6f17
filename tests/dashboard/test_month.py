"""Bottles and the evening, without a browser: what is done to a bottle, and an agenda that moves on after a cup."""

import pytest

from pairing.bench import Bench
from pairing.model.cup import Cup


def html(at):
    return " ".join(h.proto.body for h in at.get("html"))


def button(at, label):
    return next(b for b in at.button if b.label == label)


def field(at, label):
    return next(f for f in at.text_input if f.label.startswith(label))


def test_a_bottle_is_entered_weighed_and_emptied(app):
    at = app("one", "bottles")
    bench = Bench.open(at.bench_path)
    next(s for s in at.selectbox if s.label == "What").select("plum")
    for label, text in (("Size", "30 ml"), ("Lot", "A"), ("Price", "12,50"), ("The empty bottle", "20")):
        field(at, label).input(text)
    button(at, "Enter it").click().run()
    (one,) = bench.lots()
    assert (one.lot.lot, one.lot.price, one.held_g) == ("A", 12.5, 30.0)
    assert "about 30 g" in html(at)
    field(at, "Bottle and what is in it").input("45").run()
    button(at, "Weigh").click().run()
    assert bench.lots()[0].held_g == 25.0
    assert "about 25 g" in html(at)
    button(at, "It is empty").click().run()
    assert bench.lots()[0].lot.emptied_at
    assert any("No bottle is entered" in m.value for m in at.markdown)


def test_what_cannot_be_is_refused_with_its_remedy(app):
    at = app("one", "bottles")
    next(s for s in at.selectbox if s.label == "What").select("plum")
    field(at, "Size").input("900 kg")
    button(at, "Enter it").click().run()
    assert "900000 g" in at.error[0].value
    assert Bench.open(at.bench_path).lots() == ()


def test_it_says_what_to_buy_for_a_batch(app):
    at = app("one", "bottles")
    Bench.open(at.bench_path).buy("plum", "5 ml", price=4.0)
    field(at, "Or one written out").input("oat|plum=1.6").run()
    assert "For 1 litres of base of each" in html(at)
    field(at, "Litres").input("20").run()
    assert "6 × 5 ml" in html(at)
    assert "24 EUR" in html(at)


@pytest.mark.parametrize("scored", [False, True])
def test_the_agenda_moves_on_after_a_cup(app, scored):
    at = app("one", "evening")
    bench = Bench.open(at.bench_path)
    assert "First a warm-up that nobody scores" in html(at)
    starts = [it.proto for it in at.get("page_link") if it.proto.label == "Start"]
    assert len(starts) == 1
    if scored:
        bench.log(Cup("oat", base_g=200).add("plum", g=0.2).sip(g=15), liking=6)
        at.run()
        assert "Tasted so far: 1 of 6 cups" in " ".join(m.value for m in at.markdown)
        assert "First a warm-up" not in html(at)
