"""Sheets of a blind check: the helper's with the contents, the taster's with codes only, stickers to taste alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pairing.blind.check import BlindCheck
from pairing.blind.codes import codes
from pairing.blind.orders import serving_orders
from pairing.blind.safe import for_helper, for_taster, to_mind
from pairing.errors import LogError
from pairing.evening.williams import williams
from pairing.model.base import Base
from pairing.model.chance import generator
from pairing.model.doses import finished_g, grams
from pairing.model.flavouring import Flavouring
from pairing.model.portions import SCALE_G
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.composition import allergens_of
from pairing.nutrition.serving import serving
from pairing.quantities.readable import readable
from pairing.safety.session import SIP_G

if TYPE_CHECKING:
    import numpy as np

__all__ = [
    "HOLD_BACK",
    "REST_S",
    "SIP_G",
    "Sheet",
    "alcohol_and_caffeine",
    "allergens",
    "helper_sheet",
    "length",
    "orders_sheet",
    "stickers",
    "taster_sheet",
]

REST_S = 60
"""Rest between servings, s: at least 30, longer for what lingers (common practice, no source)."""
HOLD_BACK = 1.15
"""Batch per side over what is poured: spills and a last look (our choice, no source)."""

_HANDLING = (
    "Mix one batch of each side, at the same time and the same way; let both stand equally long.",
    "Pour every cup from these batches: same temperature, same fill, same opaque cups; where the colour differs, lids "
    "and straws, or eyes shut.",
    "Give every taster separate portions, never a shared cup.",
    f"Rest {REST_S} s between servings, longer for what lingers; rinse with still water, and plain unsalted crackers "
    "if wanted.",
    "Out of the fridge no longer than 2 h, 1 h above 32 °C; mix afresh for the next session. Local food "
    "codes come first.",
)


@dataclass(frozen=True)
class Sheet:
    """A sheet to print: words, a list to tick off, and a table."""

    title: str
    text: tuple[str, ...]
    checklist: tuple[str, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def taster_sheet(check: BlindCheck, shelf: Shelf, **how: Any) -> Sheet:
    """Return the sheet that the taster may see: codes and a place for the answer, nothing of the contents.

    Parameters
    ----------
    check : BlindCheck
    shelf : Shelf
        For the allergens that either side may contain, named together.
    **how
        ``rules, already`` of `pairing.blind.safe.to_mind`.
    """
    answer = "write the code of the cup that you pick" + (", or 'tie'" if check.ties else "; guess if you must")
    text = [
        check.asked.ask,
        *_target(check),
        f"Taste from left to right, then {answer}. Rest {REST_S} s and rinse before the next.",
    ]
    found = to_mind(check, shelf, **how)
    text += [allergens(check, shelf), *alcohol_and_caffeine(check, shelf), *for_taster(found)]
    return Sheet(
        f"Taster's sheet, check {check.check_id}",
        tuple(text),
        (),
        ("session", "serving", *(["first"] if check.method == "duo-trio" else []), "cups, left to right", "my pick"),
        tuple(
            (str(s.session), str(s.number), *(["reference"] if s.reference else []), "   ".join(s.codes), "")
            for s in check.servings
        ),
    )


def helper_sheet(check: BlindCheck, shelf: Shelf, scale_g: float = SCALE_G, **how: Any) -> Sheet:
    """Return the sheet that says what is in which cup, and what to mind; it is kept from the taster until the end."""
    text = [
        "Keep this sheet from the taster until the check is finished.",
        length(check),
        *_target(check),
        *_batches(check, shelf, scale_g),
    ]
    text += [allergens(check, shelf), *alcohol_and_caffeine(check, shelf)]
    text += for_helper(to_mind(check, shelf, **how), shelf.names)
    return Sheet(
        f"Helper's sheet, check {check.check_id}",
        tuple(text),
        _HANDLING,
        ("session", "serving", *(["reference"] if check.method == "duo-trio" else []), "code = side, left to right"),
        tuple(
            (
                str(s.session),
                str(s.number),
                *([s.reference.upper()] if s.reference else []),
                "   ".join(f"{code} = {side.upper()}" for code, side in zip(s.codes, s.contents, strict=True)),
            )
            for s in check.servings
        ),
    )


def stickers(check: BlindCheck, shelf: Shelf, scale_g: float = SCALE_G, **how: Any) -> Sheet:
    """Return the stickers for a taster without a helper: what to mix, and the codes under the cups, session by session.

    Raises
    ------
    LogError
        For a duo-trio check, whose open reference would give the contents away.
    """
    if check.method == "duo-trio":
        raise LogError("a duo-trio check cannot be done alone", "use paired or 3-afc")
    steps = (
        "Write each code on a sticker and put it under an empty cup, one side after the other.",
        "Pour side A into the cups of side A and side B into the others, a few servings at a time.",
        "Set out the cups of one serving on a tray. Shut your eyes and shuffle them until you have lost track.",
        "Taste, decide, set the cup that you pick apart. Only then look under it and enter its code.",
        "Do not read this list again before the check is finished.",
        *_HANDLING,
    )
    codes_of: dict[tuple[int, str], list[str]] = {}
    for s in check.servings:
        for code, side in zip(s.codes, s.contents, strict=True):
            codes_of.setdefault((s.session, side), []).append(code)
    rows = [(str(session), side.upper(), "   ".join(mine)) for (session, side), mine in sorted(codes_of.items())]
    return Sheet(
        f"Stickers, check {check.check_id}",
        (
            *(check.asked.ask, *_target(check), length(check), *_batches(check, shelf, scale_g)),
            *(allergens(check, shelf), *alcohol_and_caffeine(check, shelf), *for_taster(to_mind(check, shelf, **how))),
        ),
        steps,
        ("session", "side", "codes, in the order of the servings"),
        tuple(rows),
    )


def orders_sheet(
    cups: Sequence[str], rows: int, random_state: int | np.random.Generator | None = None
) -> tuple[Sheet, Mapping[str, str]]:
    """Return coded serving orders of several cups, and which cup has which code.

    Parameters
    ----------
    cups : sequence of str
        What is tasted: two or more, named once each.
    rows : int
        Tasters or sessions, one order each; a Williams design hands them out.
    random_state : int, Generator or None

    Raises
    ------
    LogError
        When a cup is named twice.
    QuantityError
        With fewer than two cups or no row.
    """
    if len(set(cups)) != len(cups):
        twice = sorted({cup for cup in cups if list(cups).count(cup) > 1})
        raise LogError(f"{', '.join(twice)} is named twice", "name each cup once")
    rng = generator(random_state)
    given = serving_orders(tuple(cups), rows, rng)
    code = dict(zip(cups, codes(len(cups), rng), strict=True))
    return (
        Sheet(
            "Serving orders",
            (
                f"{len(cups)} cups, {rows} order{'' if rows == 1 else 's'}. In each full block of "
                f"{len(williams(len(cups)))} orders every cup stands in every place, and follows every other one, "
                "equally often" + ("; this is less than a block." if rows < len(williams(len(cups))) else "."),
            ),
            _HANDLING[1:],
            ("order", *(f"cup {i}" for i in range(1, len(cups) + 1))),
            tuple((str(i), *(code[cup] for cup in row)) for i, row in enumerate(given, start=1)),
        ),
        code,
    )


def allergens(check: BlindCheck, shelf: Shelf) -> str:
    """Name the allergens of both sides together, so that nothing is told about either."""
    found: set[str] = set()
    unknown = False
    for side in (check.a, check.b):
        items: list[Base | Flavouring] = [shelf.base(side.base_id), *map(shelf.flavouring, side.flavouring_ids)]
        for item in items:
            declared, open_ = allergens_of(item, shelf)
            unknown |= bool(open_)
            found |= declared
    words = (
        f"Either cup may contain {', '.join(sorted(found))}."
        if found
        else "No allergen is written down; that is not free from."
    )
    if unknown:
        words += " For some of what is in them the allergens are unknown."
    return f"{words} Read the labels before anyone with an allergy tastes."


def _target(check: BlindCheck) -> tuple[str, ...]:
    return (f"The target: {check.target}. It stands beside every serving and is tasted first.",) if check.target else ()


def alcohol_and_caffeine(check: BlindCheck, shelf: Shelf) -> tuple[str, ...]:
    """Say what either cup may hold of both at most, so that nothing is told about which; unknown is said."""
    both = [serving(side, shelf, SIP_G) for side in (check.a, check.b)]
    out = []
    for name, unit, field in (("Alcohol", "% vol", "ethanol_pct_vv"), ("Caffeine", "mg a cup", "caffeine_mg")):
        values = [getattr(one, field) for one in both]
        most = max(one.at_least.get(field, 0.0) if v is None else v for one, v in zip(both, values, strict=True))
        if None in values:
            at_least = f", at least {readable(most, 2)} {unit}" if most > 0 else ""
            out.append(f"{name} in either cup: unknown{at_least}.")
        elif most > 0:
            out.append(f"{name} in either cup: up to {readable(most, 2)} {unit}.")
    return tuple(out)


def _cups(check: BlindCheck, side: str) -> int:
    """Count the cups of one side in the session that takes most of them."""
    by_session: dict[int, int] = {}
    for s in check.servings:
        cups = s.contents.count(side) + (s.reference == side)
        by_session[s.session] = by_session.get(s.session, 0) + cups
    return max(by_session.values())


def _recipe(check: BlindCheck, side: str) -> Recipe:
    return check.a if side == "a" else check.b


def _amounts(recipe: Recipe, cups: int) -> tuple[float, dict[str, float]]:
    doses = {name: float(dose or 0.0) for name, dose in recipe.doses.items()}
    drink_g = cups * SIP_G * HOLD_BACK
    base_g = drink_g / finished_g(1.0, doses)
    return base_g, grams(base_g, doses)


def _batches(check: BlindCheck, shelf: Shelf, scale_g: float) -> tuple[str, ...]:
    return tuple(f"Side {side.upper()}: {_batch(check, side, shelf, scale_g)}" for side in "ab")


def _batch(check: BlindCheck, side: str, shelf: Shelf, scale_g: float) -> str:
    """Say what one side is, and how much of it to mix."""
    recipe, cups = _recipe(check, side), _cups(check, side)
    base_g, parts = _amounts(recipe, cups)
    words = [f"{base_g:.0f} g {shelf.base(recipe.base_id).name}"]
    for flavouring_id, amount in parts.items():
        much = shelf.portion(flavouring_id, amount, scale_g)
        words.append(f"{much} {shelf.names[flavouring_id]} ({recipe.doses[flavouring_id]:.4g} g/kg)")
    return f"{' + '.join(words)}; for one session, up to {cups} cups of {SIP_G:g} g"


def length(check: BlindCheck) -> str:
    """Say how many servings a check takes, and how they are spread."""
    sessions = check.servings[-1].session
    if check.rule is None:
        return f"{len(check.servings)} servings in {sessions} sessions, on different days where that can be done."
    rule = check.rule
    return (
        f"It stops as soon as the answer is clear: after {rule.servings(rule.p1):.0f} servings on average when the "
        f"difference is d′ = {check.d_prime:g}, {rule.servings(rule.p0):.0f} when there is none, {rule.cap} at most; a "
        f"fixed number would be {rule.fixed}. Mix and pour session by session."
    )
