"""Cautions about what a drink does to the drinker: ethanol, intake limits, statements that labels must carry."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from pairing.errors import QuantityError
from pairing.model.base import Base
from pairing.model.caution import PROFESSIONAL, Caution
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.composition import compose
from pairing.nutrition.content import Content, content, polyols_g_per_g, substances_of
from pairing.nutrition.factors import carrier_named
from pairing.nutrition.intake import CUSTOMARY_BODY_MASS_KG, daily_limit_mg, limit_for
from pairing.nutrition.parts import made_of
from pairing.nutrition.serving import Serving

__all__ = ["ethanol_caution", "intake_cautions", "label_cautions"]

_WORTH_SAYING = 0.25
"""Share of a day's limit from which a caution is given (our choice, no source)."""
_ETHANOL = {
    "EU": (
        "EU: strength declared above 1.2 %; UK guidance: alcohol-free up to 0.05 %, low-alcohol up to 1.2 %",
        "Regulation (EU) 1169/2011 Art. 9(1)(k) (from memory); UK Department of Health guidance",
    ),
    "US": (
        "US: below 0.5 % may be called non-alcoholic, alcohol-free means none",
        "FDA CPG 510.400",
    ),
}


def ethanol_caution(found: Serving, jurisdiction: str) -> Caution | None:
    """Return the ethanol of a serving in g and % v/v: always shown unless it is known to be none."""
    if found.ethanol_g == 0:
        return None
    if found.ethanol_g is None:
        least = found.at_least.get("ethanol_g", 0.0)
        known = f"at least {least:.2g} g ethanol; " if least > 0 else ""
        text, severity = f"{known}ethanol is unknown: {', '.join(found.lacking('ethanol'))}", "warn"
    else:
        pct = found.ethanol_pct_vv or 0.0
        text = f"{found.ethanol_g:.2g} g ethanol per serving, {pct:.2g} % by volume ({_ETHANOL[jurisdiction][0]})"
        severity = "warn" if pct >= 0.5 else "note"
    return Caution(
        text=text,
        kind="ethanol",
        severity=severity,
        source=_ETHANOL[jurisdiction][1],
        jurisdiction=jurisdiction,
        cannot_know="who abstains, is pregnant, in recovery, takes medicines or is under age: ask",
    )


def intake_cautions(
    found: Serving,
    recipe: Recipe,
    shelf: Shelf,
    people: Sequence[Taster | str],
    jurisdiction: str,
    servings_per_day: float,
) -> Iterator[Caution]:
    """Compare a day's servings with the published intake limits, for the lightest person present."""
    if not (math.isfinite(servings_per_day) and 0 < servings_per_day <= 100):
        raise QuantityError(
            f"servings_per_day is {servings_per_day:g}, allowed is above 0 to 100", "say how many are drunk in a day"
        )
    held = content({recipe.base_id: found.base_g, **found.grams}, shelf)
    masses = [p.body_mass_kg for p in people if isinstance(p, Taster) and p.body_mass_kg is not None]
    body, said = (min(masses), "") if masses else (CUSTOMARY_BODY_MASS_KG, " assumed")
    yield from against_limits(held, body, jurisdiction, servings_per_day, said)
    if masses and body < 40:
        yield Caution(
            text=f"a body mass of {body:g} kg may be a child's: limits for adults do not hold, ask a professional",
            kind="person",
            severity="warn",
            source="common practice (no source)",
            jurisdiction="any",
            cannot_know="age and health",
        )
    yield from _much_caffeine(held, found, jurisdiction)
    yield from _many_polyols(found, recipe, shelf, jurisdiction)
    quinine = held.mg.get("quinine", 0.0) > 0 or "quinine" in held.unmeasured
    if quinine and jurisdiction == "US":
        litres = found.finished_g / 1000
        yield _intake(
            f"quinine {held.mg.get('quinine', 0.0) / litres:.3g} mg/l or more: at most 83 mg/kg in carbonated drinks, "
            "named on the label; still drinks are not covered",
            "21 CFR 172.575",
            jurisdiction,
            severity="warn",
        )
    elif quinine:
        yield _intake("contains quinine: must be named on the label", "Regulation (EU) 1169/2011, Annex VII", "EU")


def _much_caffeine(held: Content, found: Serving, jurisdiction: str) -> Iterator[Caution]:
    mg_per_l = held.mg.get("caffeine", 0.0) / (found.finished_g / 1000)
    if jurisdiction == "EU" and mg_per_l > 150:
        yield _label(
            f"high caffeine content ({mg_per_l:.3g} mg/l, 1 g/ml assumed): not recommended for children, "
            "pregnant or breast-feeding women",
            "Regulation (EU) 1169/2011, Annex III",
            "EU",
        )


def _many_polyols(found: Serving, recipe: Recipe, shelf: Shelf, jurisdiction: str) -> Iterator[Caution]:
    polyols_g = polyols_g_per_g(shelf.base(recipe.base_id), shelf) * found.base_g
    polyols_g += sum(polyols_g_per_g(shelf.flavouring(i), shelf) * g for i, g in found.grams.items())
    if jurisdiction == "EU" and polyols_g > 0.1 * found.finished_g:
        yield _label(
            f"{100 * polyols_g / found.finished_g:.0f} % polyols: excessive consumption may produce laxative effects",
            "Regulation (EU) 1169/2011, Annex III",
            "EU",
        )


def against_limits(
    held: Content, body_mass_kg: float, jurisdiction: str, times: float = 1, said: str = ""
) -> Iterator[Caution]:
    """Compare amounts with the limits, from a quarter of a day's limit on; what is unmeasured is named.

    Parameters
    ----------
    held : Content
        mg in one serving (or in everything that was swallowed).
    body_mass_kg : float
    times : float
        Servings in a day.
    said : str
        Added to the body mass, such as `` assumed``.
    """
    for substance in sorted({*held.mg, *held.unmeasured}):
        limit, day = limit_for(substance, jurisdiction), daily_limit_mg(substance, body_mass_kg, jurisdiction)
        if limit is None or day is None:
            continue
        mg = held.mg.get(substance, 0.0)
        who = f"for {body_mass_kg:g} kg{said}"
        unit = " steviol equivalents" if substance == "steviol glycosides" else ""
        note = f"; {limit.note}" if limit.note else ""
        if not limit.permitted:
            yield _intake(f"{substance} may not be added to food here", limit.source, jurisdiction, severity="stop")
        elif mg * times >= day * _WORTH_SAYING:
            severity = "warn" if mg * times >= day else "note"
            share = f"{100 * mg * times / day:.0f} % of the {day:.4g} mg a day"
            yield _intake(
                f"{substance}: {mg * times:.4g} mg{unit} a day is {share} {who}{note}",
                limit.source,
                jurisdiction,
                severity=severity,
            )
        if limit.mg_per_serving is not None and mg >= limit.mg_per_serving:
            yield _intake(
                f"{substance}: {mg:.4g} mg in one serving, at most {limit.mg_per_serving:g} mg at a time",
                limit.source,
                jurisdiction,
                severity="warn",
            )
        if substance == "glycyrrhizin" and (mg * times >= 50 or substance in held.unmeasured):
            yield _intake(
                f"glycyrrhizin (liquorice) {mg * times:.3g} mg or more a day: not with high blood pressure",
                f"{limit.source}; a later trial saw blood pressure rise at 100 mg a day",
                jurisdiction,
                severity="warn",
            )
        elif substance in held.unmeasured and substance not in ("caffeine", "sodium"):
            items = ", ".join(held.unmeasured[substance])
            yield _intake(
                f"{substance} in an unknown amount ({items}); the limit is {day:.4g} mg a day {who}{note}",
                limit.source,
                jurisdiction,
            )


def label_cautions(recipe: Recipe, shelf: Shelf, jurisdiction: str) -> Iterator[Caution]:
    """Return statements for people whom an ingredient can hurt: phenylketonuria, unknown sweeteners, much caffeine."""
    items = {recipe.base_id: compose(shelf.base(recipe.base_id), shelf)} | {
        i: shelf.flavouring(i) for i in recipe.flavouring_ids
    }
    inside = {i: [x, *made_of(x, shelf)] for i, x in items.items()}
    aspartame = [i for i, x in items.items() if "aspartame" in substances_of(x, shelf)]
    law = "Regulation (EU) 1169/2011, Annex III" if jurisdiction == "EU" else "21 CFR 172.804"
    if aspartame:
        yield _label(
            f"aspartame ({', '.join(aspartame)}): a source of phenylalanine, not for people with phenylketonuria",
            law,
            jurisdiction,
        )
    silent = [i for i, x in items.items() if x.sweeteners is None and any(_is_silent(y) for y in inside[i])]
    if silent:
        yield _label(
            f"sweeteners are unknown ({', '.join(silent)}): aspartame, dangerous in phenylketonuria, is not ruled out",
            law,
            jurisdiction,
        )
    xylitol = [i for i, found in inside.items() if any(_is_xylitol(n) for y in found for n in y.sweeteners or ())]
    if xylitol:
        yield Caution(
            text=f"xylitol ({', '.join(xylitol)}): poisonous to dogs",
            kind="label",
            severity="warn",
            source="common practice (no source)",
            jurisdiction="any",
            cannot_know="whether a dog is about",
        )


def _is_silent(item: Base | Flavouring) -> bool:
    return item.sweeteners is None and getattr(item, "sweetened", None) in ("yes", "unknown")


def _is_xylitol(name: str) -> bool:
    found = carrier_named(name)
    return "xylitol" in name.casefold() or (found is not None and found.name == "xylitol")


def _intake(text: str, source: str, jurisdiction: str, severity: str = "note") -> Caution:
    return Caution(
        text=text,
        kind="intake",
        severity=severity,
        source=source,
        jurisdiction=jurisdiction,
        cannot_know=f"what else is eaten and drunk that day, age, pregnancy and illness; {PROFESSIONAL}",
    )


def _label(text: str, source: str, jurisdiction: str) -> Caution:
    return Caution(
        text=text,
        kind="label",
        severity="warn",
        source=source,
        jurisdiction=jurisdiction,
        cannot_know="whom it is for: ask before pouring",
    )
