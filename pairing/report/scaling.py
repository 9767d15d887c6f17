"""From a recipe to what is weighed and dropped: one cup to 20 litres, rounded to what scale and dropper can do."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from pairing.errors import QuantityError
from pairing.model import doses as arithmetic
from pairing.model.base import Base
from pairing.model.constants import MAX_SERVING_G
from pairing.model.flavouring import Flavouring
from pairing.model.portions import MOST_DROPS
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.by_form import how_to_add
from pairing.nutrition.maximum import maximum_of, others_shares
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML, MAX_DOSE_G_PER_KG
from pairing.quantities.drops import drop_mass

__all__ = ["HOLD_BACK", "MAX_LITRES", "WEIGH_FROM_LITRES", "Batch", "Line", "scale"]

MAX_LITRES = 20.0
WEIGH_FROM_LITRES = 1.0
"""From here on drops are not counted: a miscounted drop in ten is 10 % of the dose (our choice, no source)."""
HOLD_BACK = 0.15
"""Share of the flavouring held back from a batch until it was tasted (our choice, no source)."""
TOO_COARSE = 0.05
"""Rounding that moves a dose by more than this asks for a finer scale or a dilution (our choice, no source)."""
TEASPOON_ML = 5.0
"""A teaspoon; a tablespoon is three (21 CFR 101.9(b)(5)(viii))."""
_FIRST = ("powder", "paste", "syrup", "sugar", "juice", "extract", "tincture")


@dataclass(frozen=True, kw_only=True)
class Line:
    """One flavouring of a batch.

    Attributes
    ----------
    flavouring_id, name : str
    dose_g_per_kg : float
        As the recipe has it.
    exact_g : float
    by : {"weight", "drops"}
        How to measure it.
    g, drops, ml : float, int or None, float
        Rounded to what can be measured: g that go in, drops where they are counted, ml as an aid.
    first_g : float or None
        From 1 litre on: what goes in before tasting; the rest is held back.
    error_pct : float
        What rounding does to the dose, %.
    drop_error_pct : float or None
        How far the mass of a drop is uncertain, ± % (half the interval), where drops are counted.
    spoons : str or None
        The same in spoons of 5 and 15 ml, to a quarter teaspoon: below 1 litre, where the density is known.
    spoon_error_pct : float or None
        What that rounding does to the dose, %.
    too_strong : bool
        Even one drop, or one step of the scale, is above the maximum dose: nothing of it can be measured out.
    """

    flavouring_id: str
    name: str
    dose_g_per_kg: float
    exact_g: float
    by: str
    g: float
    drops: int | None
    ml: float
    first_g: float | None
    error_pct: float
    drop_error_pct: float | None
    spoons: str | None = None
    spoon_error_pct: float | None = None
    too_strong: bool = False


@dataclass(frozen=True, kw_only=True)
class Batch:
    """A recipe at one size.

    Attributes
    ----------
    recipe : Recipe
    base_name : str
    servings : float
    serving_g, base_g, base_ml, finished_g : float
        Base per serving; base in all, by weight and volume; finished drink.
    lines : tuple of Line
        In the order of mixing.
    steps, notes : tuple of str
        What to do, and what was assumed or is too coarse.
    """

    recipe: Recipe
    base_name: str
    servings: float
    serving_g: float
    base_g: float
    base_ml: float
    finished_g: float
    lines: tuple[Line, ...]
    steps: tuple[str, ...]
    notes: tuple[str, ...]


def scale(
    recipe: Recipe,
    shelf: Shelf,
    *,
    servings: float = 1,
    serving_g: float | None = None,
    litres: float | None = None,
    scale_g: float = 0.1,
) -> Batch:
    """Scale a recipe to a number of servings, or to litres of base.

    Parameters
    ----------
    recipe : Recipe
        Numeric doses.
    shelf : Shelf
    servings : float
        How many; ignored when ``litres`` is given.
    serving_g : float, optional
        g of base poured for one; default the base's serving, else 250 g.
    litres : float, optional
        Base in all, up to 20.
    scale_g : float
        Step of the scale for the flavourings, g.

    Raises
    ------
    QuantityError
        When a dose is open, or the size is outside one cup to 20 litres.

    Examples
    --------
    >>> shelf = Shelf.of([Base(base_id="oat", name="Oat", density_g_per_ml=1.0, serving_g=300)],
    ...                  [Flavouring(flavouring_id="plum", name="Plum", form="syrup")])
    >>> batch = scale(Recipe("oat", {"plum": 10.0}), shelf, servings=2)
    >>> batch.base_g, batch.lines[0].g
    (600.0, 6.1)
    """
    base = shelf.base(recipe.base_id)
    if not (math.isfinite(scale_g) and 0.0001 <= scale_g <= 10):
        raise QuantityError(f"a scale of {scale_g:g} g steps cannot be used", "0.1 g is usual, 0.01 g finer")
    each = base.serving(serving_g)
    base_g = _base_g(base, servings, each, litres)
    base_ml = base_g / (base.density_g_per_ml or DEFAULT_DENSITY_G_PER_ML)
    doses = _numeric(recipe)
    finished_g = arithmetic.finished_g(base_g, doses)
    weigh = max(base_ml, finished_g) >= 1000 * WEIGH_FROM_LITRES  # a litre, or a kilogram: whichever comes first
    exact = arithmetic.grams(base_g, doses)
    in_order = sorted(exact, key=lambda name: (_turn(shelf.flavouring(name)), -exact[name]))
    dropped = {name: not weigh and _dropped(shelf.flavouring(name), g) for name, g in exact.items()}
    step_g = {n: drop_mass(shelf.flavouring(n)).mg / 1000 if dropped[n] else scale_g for n in exact}
    most_g = {name: _most_g(name, shelf, doses, base_g, exact, step_g) for name in exact}
    lines = tuple(
        _line(shelf.flavouring(n), doses[n], exact[n], weigh, dropped[n], step_g[n], most_g[n]) for n in in_order
    )
    return Batch(
        recipe=recipe,
        base_name=base.name,
        servings=base_g / each,
        serving_g=each,
        base_g=base_g,
        base_ml=base_ml,
        finished_g=finished_g,
        lines=lines,
        steps=_steps(base, base_g, lines, weigh, {n: how_to_add(shelf.flavouring(n), base) for n in exact}),
        notes=_notes(base, lines, scale_g),
    )


def _base_g(base: Base, servings: float, each: float, litres: float | None) -> float:
    density = base.density_g_per_ml or DEFAULT_DENSITY_G_PER_ML
    if not (math.isfinite(each) and 1 <= each <= MAX_SERVING_G):
        raise QuantityError(
            f"serving_g is {each:g}, allowed is 1 to {MAX_SERVING_G:g} g", "give g of base poured for one serving"
        )
    if litres is not None:
        if not (math.isfinite(litres) and 0 < litres <= MAX_LITRES):
            raise QuantityError(f"{litres:g} litres cannot be made, allowed is above 0 to {MAX_LITRES:g}", "split it")
        return 1000 * litres * density
    most = math.floor(1000 * MAX_LITRES * density / each)
    if not (math.isfinite(servings) and 0 < servings <= most):
        raise QuantityError(
            f"{servings:g} servings of {each:g} g cannot be made, allowed is 1 to {most} ({MAX_LITRES:g} litres)",
            "ask for at least one; split a larger batch, and mind that heat and mixing differ at that size",
        )
    return servings * each


def _numeric(recipe: Recipe) -> dict[str, float]:
    if open_doses := [name for name, dose in recipe.doses.items() if dose is None]:
        raise QuantityError(f"the dose of {', '.join(open_doses)} is open", "give g/kg, or ask for the best dose first")
    return {name: float(dose) for name, dose in recipe.doses.items() if dose is not None}


def _turn(flavouring: Flavouring) -> int:
    """Place in the order of mixing: what has to dissolve first, what evaporates last (common practice, no source)."""
    form = (flavouring.form or "").casefold()
    return next((i for i, word in enumerate(_FIRST) if word in form), len(_FIRST))


def _dropped(flavouring: Flavouring, exact_g: float) -> bool:
    """Whether it is counted in drops: where the bottle gives them, and there are not more than anybody counts."""
    drop = drop_mass(flavouring)
    return drop.comes_in_drops and exact_g < (MOST_DROPS + 0.5) * drop.mg / 1000


def _most_g(
    name: str,
    shelf: Shelf,
    doses: Mapping[str, float],
    base_g: float,
    exact_g: Mapping[str, float],
    step_g: Mapping[str, float],
) -> float:
    """Return how much of a flavouring rounding may come to without passing its maximum dose, g.

    What the other flavourings weigh is taken a step short. A recipe that asks for more than the maximum is rounded
    down to what it asks for: its cautions say stop.
    """
    most = maximum_of(shelf.flavouring(name), shelf)
    if most is None:
        return math.inf
    free = 1.0 - sum(others_shares(name, doses, shelf).values())
    share = min(MAX_DOSE_G_PER_KG, max(doses[name], most * free)) / 1000
    rest_g = base_g + sum(max(0.0, g - step_g[other]) for other, g in exact_g.items() if other != name)
    return share * rest_g / (1 - share)


def _line(
    flavouring: Flavouring, dose: float, exact_g: float, weigh: bool, dropped: bool, step_g: float, most_g: float
) -> Line:
    drop = drop_mass(flavouring)
    steps = max(round(exact_g / step_g), 1 if dropped and exact_g > 0 else 0)
    steps = int(min(steps, most_g / step_g + 1e-9))
    grams = steps * step_g
    first = min(grams, round((1 - HOLD_BACK) * exact_g / step_g) * step_g) if weigh else None
    spoons = spoon_error = None
    if not dropped and not weigh and flavouring.density_g_per_ml is not None:
        spoons, spoon_error = _spoons(exact_g / flavouring.density_g_per_ml, most_g / flavouring.density_g_per_ml)
    return Line(
        flavouring_id=flavouring.flavouring_id,
        name=flavouring.name,
        dose_g_per_kg=dose,
        exact_g=exact_g,
        by="drops" if dropped else "weight",
        g=_tidy(grams),
        drops=steps if dropped else None,
        ml=arithmetic.ml(grams, flavouring),
        first_g=None if first is None else _tidy(first),
        error_pct=100 * (grams - exact_g) / exact_g if exact_g > 0 else 0.0,
        drop_error_pct=100 * (drop.high - drop.low) / 2 / drop.mg if dropped else None,
        spoons=spoons,
        spoon_error_pct=spoon_error,
        too_strong=exact_g > 0 and most_g < step_g * (1 - 1e-9),
    )


def _spoons(volume_ml: float, most_ml: float = math.inf) -> tuple[str | None, float | None]:
    """Round to a quarter of a 5 ml teaspoon, down where up is too much; less than that no spoon can do.

    Examples
    --------
    >>> _spoons(18.9)[0]
    '1 tbsp ¾ tsp'
    """
    quarters = int(min(round(volume_ml / (TEASPOON_ML / 4)), most_ml / (TEASPOON_ML / 4) + 1e-9))
    if quarters < 1:
        return None, None
    table, rest = divmod(quarters, 12)
    tea, part = divmod(rest, 4)
    tea_text = f"{tea or ''}{('', '¼', '½', '¾')[part]}"
    words = [*([f"{table} tbsp"] if table else []), *([f"{tea_text} tsp"] if tea_text else [])]
    return " ".join(words), 100 * (quarters * TEASPOON_ML / 4 / volume_ml - 1)


def _tidy(grams: float) -> float:
    return float(f"{grams:.10g}")


def _steps(base: Base, base_g: float, lines: tuple[Line, ...], weigh: bool, how: Mapping[str, str]) -> tuple[str, ...]:
    pour = f"Pour {base_g:.0f} g {base.name}"
    if not lines:
        return (f"{pour}.",)
    steps = [f"{pour}; keep back a little to rinse the weighing cups with." if weigh else f"{pour}."]
    for place, line in enumerate(lines):
        known = {how[other.flavouring_id] for other in lines[:place]}  # said once is enough
        so = f": {how[line.flavouring_id]}" if how[line.flavouring_id] not in {"", *known} else ""
        if line.too_strong:
            steps.append(f"Add no {line.name} as it is: too strong to measure out here, dilute it first.")
        elif line.drops is not None:
            steps.append(f"Add {line.drops} drop{'s' if line.drops != 1 else ''} {line.name} ({line.g:.2f} g){so}.")
        elif line.first_g is not None:
            steps.append(f"Weigh {line.g:g} g {line.name}; add {line.first_g:g} g, hold back the rest{so}.")
        else:
            steps.append(f"Add {line.g:g} g {line.name}{so}.")
    if not weigh:
        return (*steps, "Mix well, rest 5 minutes, mix again, taste.")
    return (
        *steps,
        "Mix well, rest 15 minutes, mix again, taste from a small cup.",
        f"Finish with what was held back ({HOLD_BACK:.0%}), little by little, as far as it is wanted.",
        "Weigh, never count drops, at this size. Log the batch with what went in.",
        "Chill at once, write the date on it, and mind the time out of the fridge.",
    )


def _notes(base: Base, lines: tuple[Line, ...], scale_g: float) -> tuple[str, ...]:
    notes = []
    if base.density_g_per_ml is None:
        notes.append(f"{base.name}: density {DEFAULT_DENSITY_G_PER_ML:g} g/ml assumed for millilitres.")
    for line in lines:
        if line.too_strong:
            notes.append(
                f"{line.name}: {_smallest(line, scale_g)} is above its maximum dose here, so it cannot be measured "
                "out; dilute it first, as pairing dose says, or make a larger batch."
            )
        elif abs(line.error_pct) > 100 * TOO_COARSE:
            cure = "make a larger batch, or dilute it first, as pairing dose says"
            finer = f"weigh on a finer scale than {scale_g:g} g, or {cure}" if line.by == "weight" else cure
            notes.append(f"{line.name}: rounding moves the dose by {line.error_pct:+.0f} %; {finer}.")
        if line.drop_error_pct is not None and line.drop_error_pct > 20:
            notes.append(f"{line.name}: a drop is uncertain by ±{line.drop_error_pct:.0f} %; weigh 20 drops once.")
    return tuple(notes)


def _smallest(line: Line, scale_g: float) -> str:
    return "even one drop" if line.by == "drops" else f"even {scale_g:g} g, a step of the scale,"
