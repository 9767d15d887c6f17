import re

import pytest

from pairing.blind.plan import plan
from pairing.blind.sheets import allergens, helper_sheet, orders_sheet, stickers, taster_sheet
from pairing.errors import LogError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat drink", allergens="gluten")],
    [
        Flavouring(flavouring_id="plum", name="Plum drops", label_dose_g_per_kg=1, allergens="none", food_use="yes"),
        Flavouring(flavouring_id="nut", name="Hazelnut drops", label_dose_g_per_kg=1, allergens="nuts", food_use="yes"),
        Flavouring(flavouring_id="odd", name="Odd drops", label_dose_g_per_kg=1, food_use="yes"),
    ],
)


def _text(sheet):
    return "\n".join([sheet.title, *sheet.text, *sheet.checklist, *("\t".join(row) for row in sheet.rows)])


@pytest.mark.parametrize(("method", "question"), [("paired", "prefer"), ("3-afc", "stronger"), ("duo-trio", "odd")])
def test_the_tasters_sheet_tells_nothing(method, question):
    check = plan("oat|plum=2", "oat|nut=1", method=method, question=question, random_state=0, check_id="c1")
    text = _text(taster_sheet(check, SHELF))
    for word in ("plum", "Plum", "nut=", "Hazelnut", "Oat", "oat", "g/kg", " A", " B", "=", "average"):
        assert word not in text
    for serving in check.servings:
        assert all(code in text for code in serving.codes)


def test_the_tasters_sheet_is_the_same_whatever_the_contents():
    one = plan("oat|plum=2", "oat|plum=1", random_state=0, check_id="c1")
    other = plan("oat|plum=1", "oat|plum=2", random_state=0, check_id="c1")
    assert taster_sheet(one, SHELF) == taster_sheet(other, SHELF)


def test_the_helpers_sheet_lists_contents_and_allergens():
    check = plan("oat|plum=2", "oat|nut=1", random_state=0, per_session=6)
    sheet = helper_sheet(check, SHELF)
    text = _text(sheet)
    assert "Plum drops (2 g/kg)" in text
    assert "Hazelnut drops (1 g/kg)" in text
    assert "may contain gluten, nuts" in text
    assert "stops as soon as the answer is clear" in text
    assert "opaque cups" in text
    for row, serving in zip(sheet.rows, check.servings, strict=True):
        side = dict(re.findall(r"(\d{3}) = ([AB])", row[-1]))
        assert side == {c: s.upper() for c, s in zip(serving.codes, serving.contents, strict=True)}


def test_one_session_is_mixed_at_a_time():
    check = plan("oat|plum=10", "oat|", servings=20, per_session=5, random_state=0)
    shelf = Shelf.of([Base(base_id="oat", name="oat")], [Flavouring(flavouring_id="plum", name="plum", form="powder")])
    line = next(t for t in helper_sheet(check, shelf, 0.001).text if t.startswith("Side A"))
    base_g, flavouring_g = (float(x) for x in re.search(r"([\d.]+) g oat \+ ([\d.]+) g plum", line).groups())
    assert base_g + flavouring_g == pytest.approx(5 * 30 * 1.15, abs=1)
    assert flavouring_g / (base_g + flavouring_g) == pytest.approx(0.010, abs=2e-4)


def test_unknown_allergens_are_said_and_nothing_is_called_safe():
    text = allergens(plan("oat|odd=1", "oat|plum=1"), SHELF)
    assert "unknown" in text
    bare = Shelf.of([Base(base_id="oat", name="Oat", allergens="none")], [SHELF.flavouring("plum")])
    assert allergens(plan("oat|plum=1", "oat|plum=2"), bare).startswith(
        "No allergen is written down; that is not free from."
    )


def test_alcohol_and_caffeine_are_said_without_telling_which_cup():
    shelf = Shelf.of(
        [Base(base_id="oat", name="Oat drink", allergens="none", ethanol_g_per_100g=0, caffeine_mg_per_100g=0)],
        [
            Flavouring(
                flavouring_id="rum",
                name="Rum drops",
                ethanol_g_per_g=0.4,
                caffeine_mg_per_g=0,
                form="drops",
                food_use="yes",
            ),
            Flavouring(
                flavouring_id="tea",
                name="Tea extract",
                ethanol_g_per_g=0,
                caffeine_mg_per_g=20,
                form="extract",
                food_use="yes",
            ),
            Flavouring(flavouring_id="odd", name="Odd drops", form="drops", food_use="yes"),
        ],
    )
    check = plan("oat|rum=10", "oat|tea=2", random_state=0)
    text = _text(taster_sheet(check, shelf))
    assert "Alcohol in either cup: up to 0.52 % vol." in text
    assert "Caffeine in either cup: up to 1.2 mg a cup." in text
    assert "Rum" not in text
    unknown = _text(taster_sheet(plan("oat|odd=1", "oat|rum=10", random_state=0), shelf))
    assert "Alcohol in either cup: unknown, at least 0.52 % vol." in unknown
    plain = _text(taster_sheet(plan("oat|tea=2", "oat|tea=1", random_state=0), shelf))
    assert "Alcohol" not in plain
    assert "undiluted" in _text(helper_sheet(check, shelf))


def test_several_cups_are_handled_as_two_are_but_have_no_sides():
    text = _text(orders_sheet(("plain", "plum", "date"), 6, random_state=0)[0])
    assert "opaque cups" in text
    assert "side" not in text
    assert "3 cups, 6 orders." in text
    assert "3 cups, 1 order." in _text(orders_sheet(("plain", "plum", "date"), 1, random_state=0)[0])


def test_a_cup_named_twice_is_named():
    with pytest.raises(LogError, match=r"^plum is named twice"):
        orders_sheet(("plain", "plum", "plum"), 2)


def test_a_target_stands_on_every_sheet():
    check = plan("oat|plum=2", "oat|plum=1", question="closer", target="cardamom cake", random_state=0)
    for sheet in (taster_sheet(check, SHELF), helper_sheet(check, SHELF), stickers(check, SHELF)):
        assert "The target: cardamom cake." in _text(sheet)


def test_stickers_hold_every_cup_once_under_its_side():
    check = plan("oat|plum=2", "oat|plum=1", servings=10, alone=True, random_state=0)
    sheet = stickers(check, SHELF)
    found = {}
    for _, side, codes in sheet.rows:
        for code in codes.split():
            assert code not in found
            found[code] = side.lower()
    assert found == {c: side for s in check.servings for c, side in zip(s.codes, s.contents, strict=True)}
    assert any("Shut your eyes" in step for step in sheet.checklist)
    assert len(sheet.rows) == 2 * check.servings[-1].session
    helper = [line for line in helper_sheet(check, SHELF).text if line.startswith("Side ")]
    assert [line for line in sheet.text if line.startswith("Side ")] == helper  # whoever is alone mixes, too


def test_an_open_reference_cannot_be_hidden_from_oneself():
    with pytest.raises(LogError, match="cannot be done alone"):
        stickers(plan("oat|plum=2", "oat|plum=1", method="duo-trio", question="odd", alone=True), SHELF)
