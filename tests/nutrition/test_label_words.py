"""Sweeteners and carriers by every name that a label may give them."""

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.content import content
from pairing.nutrition.substances import misspelt_substance, steviol_share, substance_named, substances_named
from pairing.safety.avoidance import forbidden
from pairing.safety.cautions import cautions


def sweet(sweeteners):
    return Flavouring(flavouring_id="x", name="X", sweeteners=sweeteners, carrier="water", allergens="none")


def test_a_stevia_of_no_stated_kind_is_counted_as_the_richest():
    assert steviol_share("stevia") == steviol_share("dulcoside a") > steviol_share("stevioside")
    assert steviol_share("steviol equivalents") == 1


@pytest.mark.parametrize(
    ("word", "substances"),
    [
        ("E 955", {"sucralose"}),
        ("E955", {"sucralose"}),
        ("e-951", {"aspartame"}),
        ("Sweetener: E 951", {"aspartame"}),
        ("aspartame-acesulfame salt", {"aspartame", "acesulfame k"}),
        ("salt of aspartame and acesulfame", {"aspartame", "acesulfame k"}),
        ("E962", {"aspartame", "acesulfame k"}),
        ("Acesulfame-K", {"acesulfame k"}),
        ("ace k", {"acesulfame k"}),
        ("saccharine", {"saccharin"}),
        ("sodium saccharin", {"saccharin"}),
        ("cyclamates", {"cyclamate"}),
        ("RebA", {"steviol glycosides"}),
        ("reb-a", {"steviol glycosides"}),
        ("Rebaudioside-A", {"steviol glycosides"}),
        ("E 960", {"steviol glycosides"}),
        ("steviol glycosides (E960c)", {"steviol glycosides"}),
        ("E 1520", {"propylene glycol"}),
        ("propan-1,2-diol", {"propylene glycol"}),
        ("liquorice;menthol", {"glycyrrhizin", "menthol"}),
        ("caffeine-free", set()),
        ("caffeine free", set()),
        ("E 9551", set()),
        ("place kettle", set()),
        ("upgraded sugar", set()),
    ],
)
def test_words_of_labels_name_substances(word, substances):
    assert set(substances_named(word)) == substances
    assert substance_named(word) in (substances or {None})


def test_what_stands_beside_a_salt_of_two_is_counted_in_full():
    assert substances_named("E 962, sucralose")["sucralose"] == 1.0


def test_the_salt_of_two_sweeteners_counts_as_both_by_mass():
    """From memory: molar masses of aspartame 294.3, acesulfame K 201.2, their salt 457.5 g/mol."""
    shelf = Shelf.of([Base(base_id="water", name="Water")], [sweet("E 962:100")])
    assert any("phenylalanine" in c.text for c in cautions(Recipe("water", {"x": 40.0}), shelf))
    held = content({"x": 10.0}, shelf)
    assert held.mg["aspartame"] == pytest.approx(1000 * 294.3 / 457.5)
    assert held.mg["acesulfame k"] == pytest.approx(1000 * 201.2 / 457.5)


@pytest.mark.parametrize("sweetener", ["E 951", "aspartame-acesulfame salt", "E962"])
@pytest.mark.parametrize("avoided", ["aspartame", "e 951"])
def test_a_sweetener_is_avoided_by_any_of_its_names(sweetener, avoided):
    shelf = Shelf.of([], [sweet(f"{sweetener}:100")])
    assert forbidden(["x"], shelf, Taster(taster="ana", avoid=avoided))[0].why == f"contains {avoided}"


@pytest.mark.parametrize(
    ("written", "meant"),
    [("aspertame", "aspartame"), ("sorbitel", "sorbitol"), ("weingeistt", "weingeist"), ("dextrosse", "dextrose")],
)
def test_a_slip_is_seen_in_sweeteners_carriers_and_plain_sugars(written, meant):
    assert misspelt_substance(written) == meant
    assert misspelt_substance(meant) is None
