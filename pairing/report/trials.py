"""The trial report: what was tried in a period, what the log has taught, and what is next."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pairing.blind.agreement import judged_by_all, repeatability
from pairing.blind.kept import summary
from pairing.blind.penalty import penalty_table
from pairing.blind.pvalue import PValue, p_number
from pairing.errors import LogError, PairingError
from pairing.learned.roundup import compare
from pairing.model.caution import NONE_KNOWN, PROFESSIONAL, alike, together
from pairing.model.constants import Z80
from pairing.model.portions import MOST_DROPS
from pairing.model.recipe import Recipe, parse_recipe_text
from pairing.model.wording import sentence
from pairing.quantities.readable import between, readable
from pairing.report.compared import not_reached, side_by_side
from pairing.report.document import Block, Bullets, Document, Figure, Heading, Paragraph, Table
from pairing.report.evidence import how_sure
from pairing.report.figures import Mark, Row, intervals, points
from pairing.report.lots import stock_blocks
from pairing.report.period import CupRecord, cups_tried, in_period, log_of

if TYPE_CHECKING:
    import pandas as pd

    from pairing.blind.check import BlindCheck
    from pairing.learned import Learned
    from pairing.model.answers import Suggestion
    from pairing.model.shelf import Shelf
    from pairing.stock.reckon import Held

__all__ = ["UNITS", "trial_report"]

UNITS = ("drops", "g", "ml", "g/kg", "%")
"""Units in which the round-up can say how much to add to a serving."""
MOST_ROWS = 200
MOST_SHOWN = 12


def trial_report(
    model: Learned,
    readings: pd.DataFrame,
    *,
    since: str | None = None,
    until: str | None = None,
    unit: str = "drops",
    comparisons: pd.DataFrame | None = None,
    checks: Mapping[str, BlindCheck] = MappingProxyType({}),
    suggestions: Sequence[Suggestion] = (),
    lots: Sequence[Held] = (),
    currency: str = "",
    made_on: str = "",
) -> Document:
    """Make the report of a period.

    Parameters
    ----------
    model : Learned
        Learned from the whole log.
    readings : DataFrame
        The readings table.
    since, until : str, optional
        Days, YYYY-MM-DD, both included.
    unit : {"drops", "g", "ml", "g/kg", "%"}
        Of the round-up.
    comparisons : DataFrame, optional
        Blind checks.
    checks : mapping of id to BlindCheck
        How they were planned, see `pairing.blind.kept.finished`.
    suggestions : sequence of Suggestion
        What is next.
    lots : sequence of Held
        As of `Bench.lots`.
    currency, made_on : str

    Raises
    ------
    LogError
        When the period holds no cup, or the unit is not known.
    """
    if unit not in UNITS:
        raise LogError(f"unit {unit!r} is not known", f"use one of: {', '.join(UNITS)}")
    period = in_period(readings, since, until)
    cups = cups_tried(model.shelf, period)
    blocks: list[Block] = [
        *_in_short(cups, model.shelf),
        *_tried(cups, model.shelf),
        *_learned(model, cups),
        *_people(model, period),
        *_checks(model.shelf, comparisons, checks, since, until),
        *_round_up(model, cups, unit, currency),
        *_next(model.shelf, suggestions),
        *stock_blocks(model, lots),
        *_list(cups, model.shelf),
    ]
    span = " to ".join(day for day in (since or _days(cups)[0], until or _days(cups)[1]) if day)
    foot = f"{made_on}  {PROFESSIONAL[0].upper()}{PROFESSIONAL[1:]}. Cautions stand on each recipe card.".strip()
    return Document(f"Trials {span}".strip(), tuple(blocks), foot)


def _days(cups: Sequence[CupRecord]) -> tuple[str, str]:
    days = sorted(cup.day for cup in cups if cup.day)
    return (days[0], days[-1]) if days else ("", "")


def _name(recipe: Recipe, shelf: Shelf, *, doses: bool = True) -> str:
    parts = [
        shelf.flavouring(f).name + (f" {d:.3g} g/kg" if doses and d is not None else "")
        for f, d in recipe.doses.items()
    ]
    return f"{shelf.base(recipe.base_id).name}: {' + '.join(parts) or 'plain'}"


def _in_short(cups: Sequence[CupRecord], shelf: Shelf) -> list[Block]:
    tasters = sorted({taster for cup in cups for taster, _ in cup.likings})
    bases = {cup.recipe.base_id for cup in cups}
    flavourings = {f for cup in cups for f in cup.recipe.doses}
    likings = [cup for cup in cups if cup.likings]
    coded = sum(cup.coded for cup in likings)
    ended = Counter(cup.ended or "not said" for cup in cups)
    lines = [
        f"{len(cups)} cups of {len(bases)} bases with {len(flavourings)} flavourings; "
        f"tasted by {', '.join(tasters) or 'nobody'}",
        "how they ended: " + ", ".join(f"{word} {n}" for word, n in ended.most_common()),
    ]
    if likings:
        lines.append(f"liking: {how_sure(len(tasters), len(likings), coded)}")
        best = max(likings, key=lambda cup: cup.liking)
        lines.append(f"best liked cup: {_name(best.recipe, shelf)}, {best.liking:.1f} of 9 ({_seen(best)})")
    return [Heading("In short"), Bullets(tuple(lines))]


def _seen(cup: CupRecord) -> str:
    n = len(cup.likings)
    return how_sure(len({t for t, _ in cup.likings}), n, n if cup.coded else 0, short=True)


def _tried(cups: Sequence[CupRecord], shelf: Shelf) -> list[Block]:
    liked = [cup for cup in cups if cup.likings]
    out: list[Block] = [Heading("What was tried")]
    if liked:
        told = f"Liking of {len(liked)} cups in order; filled points were tasted under a code."
        words = [f"{_name(cup.recipe, shelf)}: {cup.liking:.1f}" for cup in liked]
        xs = [float(i) for i in range(1, len(liked) + 1)]
        out.append(Figure(points(xs, [c.liking for c in liked], words, told, filled=[c.coded for c in liked]), told))
    return out


def _list(cups: Sequence[CupRecord], shelf: Shelf) -> list[Block]:
    rows = tuple(
        (
            cup.day or "–",
            _name(cup.recipe, shelf),
            cup.ended or "–",
            ", ".join(f"{taster} {score:g}" for taster, score in cup.likings) or "–",
            "–" if not cup.likings else "coded" if cup.coded else "sighted",
        )
        for cup in cups[-MOST_ROWS:]
    )
    left = len(cups) - len(rows)
    caption = f"The last {len(rows)} cups; {left} earlier ones are left out" if left else ""
    return [Heading("All cups"), Table(("day", "cup", "ended", "liking, 1 to 9", "tasted"), rows, caption)]


def _learned(model: Learned, cups: Sequence[CupRecord]) -> list[Block]:
    out: list[Block] = [
        Heading("What the log has taught"),
        Paragraph("From the whole log, the period included; bars are 80 % intervals.", quiet=True),
    ]
    out += _best_liked(model, cups)
    out += _doses(model, cups)
    factors = model.base_factor()
    rows = [Row(model.shelf.base(b).name, f, lo, hi, shown=f"{f:.2f}") for b, f, lo, hi in _tuples(factors)]
    if len(rows) > 1:
        told = "Dose needed in each base against an average base (1 is no difference)."
        out.append(Figure(intervals(rows, "base factor", told, log=True, line=1.0), told))
    return out + _pairs(model) + _penalties(model)


def _tuples(table: pd.DataFrame) -> list[tuple[Any, ...]]:
    return list(table.itertuples(index=False, name=None))


def _rows(table: pd.DataFrame) -> list[Any]:
    return list(table.itertuples())


def _best_liked(model: Learned, cups: Sequence[CupRecord]) -> list[Block]:
    groups: dict[tuple[str, tuple[str, ...]], CupRecord] = {}
    for cup in cups:
        key = (cup.recipe.base_id, cup.recipe.flavouring_ids)
        if cup.likings and (key not in groups or cup.liking >= groups[key].liking):
            groups[key] = cup
    if not groups:
        return []
    chosen = list(groups.values())
    found = model.predict([cup.recipe for cup in chosen])
    order = sorted(range(len(chosen)), key=lambda i: -found["liking"].iloc[i])[:MOST_SHOWN]
    rows = []
    for i in order:
        value, _, low, high = (float(v) for v in found.iloc[i])
        rows.append(Row(_name(chosen[i].recipe, model.shelf, doses=False), value, low, high, shown=f"{value:.1f}"))
    told = f"Expected true liking of the best {len(rows)} combinations tried, each at its best liked doses."
    listed = tuple((_name(chosen[i].recipe, model.shelf), f"{chosen[i].liking:.1f}", _seen(chosen[i])) for i in order)
    return [
        Figure(intervals(rows, "liking, 1 to 9", told), told),
        Table(("best liked cup of each", "liked>", "how sure"), listed),
    ]


def _doses(model: Learned, cups: Sequence[CupRecord]) -> list[Block]:
    tried = Counter((cup.recipe.base_id, f) for cup in cups for f in cup.recipe.doses)
    rows, lines = [], []
    for (base_id, flavouring_id), _ in tried.most_common(MOST_SHOWN):
        found = model.needed_dose([base_id], [flavouring_id]).iloc[0]
        name = f"{model.shelf.flavouring(flavouring_id).name} in {model.shelf.base(base_id).name}"
        if not found["reachable"]:
            lines.append(f"{name}: {not_reached(found['readings'])}")
            continue
        dose, low, high = (float(found[c]) for c in ("dose_g_per_kg", "low", "high"))
        label = dose / float(found["label_ratio"]) if math.isfinite(found["label_ratio"]) else math.nan
        marks = (Mark(label, f"label direction {label:.3g} g/kg"),) if math.isfinite(label) else ()
        rows.append(Row(name, dose, low, high, marks, f"{dose:.3g} g/kg"))
    out: list[Block] = []
    if rows:
        told = "Needed dose of what was tried most (dot and bar), with the label direction (triangle)."
        out.append(Figure(intervals(rows, "g of flavouring per kg of finished drink", told, log=True), told))
    return out + ([Bullets(tuple(lines))] if lines else [])


def _pairs(model: Learned) -> list[Block]:
    table = model.synergy()
    table = table[table["tested"]].sort_values("synergy", ascending=False)
    if table.empty:
        return []
    picked = table.head(5) if len(table) <= 8 else table.iloc[[*range(5), *range(len(table) - 3, len(table))]]
    rows = tuple(
        (
            f"{model.shelf.flavouring(r.flavouring_a).name} + {model.shelf.flavouring(r.flavouring_b).name}",
            f"{r.synergy:+.2f} ± {Z80 * r.sd:.2f}",
            f"{r.p_positive:.0%}",
            f"{r.trials}",
        )
        for r in _rows(picked)
    )
    caption = "Pairs tried: liking beyond what the two and the base explain (± 80 %), best and worst"
    return [Table(("pair", "synergy, points>", "chance above 0>", "cups>"), rows, caption)]


def _penalties(model: Learned) -> list[Block]:
    table = penalty_table(model.log, model.shelf)
    table = table[(table["side"] != "just right") & ~table["small"].astype(bool)]
    if table.empty:
        return []
    rows = tuple(
        (
            model.shelf.flavouring(r.flavouring_id).name,
            r.side,
            f"{r.cups}",
            f"{r.drop:+.1f} ({between(r.drop_low, r.drop_high, '+.1f', 95)})",
        )
        for r in _rows(table.sort_values("weighted", ascending=False).head(MOST_SHOWN))
    )
    caption = "What being off the right strength costs, against cups that were just right"
    return [Table(("flavouring", "side", "cups>", "drop in liking, points>"), rows, caption)]


def _people(model: Learned, period: pd.DataFrame) -> list[Block]:
    log, _ = log_of(model.shelf, period)
    table = repeatability(log)
    rows = tuple(
        (
            r.taster,
            f"{r.cups}",
            f"{r.liking_sd:.1f} ({between(r.low, r.high, '.1f', 95)})" if r.cups else "no cup tasted twice",
        )
        for r in _rows(table)
    )
    out: list[Block] = [
        Heading("Who tasted"),
        Table(("taster", "cups of a recipe tasted again>", "spread of liking, points>"), rows),
    ]
    agreed = judged_by_all(log)
    if agreed is not None:
        out.append(
            Paragraph(
                f"Agreement of {agreed.tasters} tasters over {agreed.cups} recipes that all have judged: Kendall's "
                f"W = {agreed.w:.2f} (0 none, 1 full), Friedman χ² = {agreed.statistic:.1f}, "
                f"p {p_number(agreed.p_value, sign=True)}, approximate: by χ², which few tasters follow roughly."
            )
        )
    return out


def _checks(
    shelf: Shelf,
    comparisons: pd.DataFrame | None,
    checks: Mapping[str, BlindCheck],
    since: str | None,
    until: str | None,
) -> list[Block]:
    if comparisons is None or comparisons.empty:
        return [Heading("Blind checks"), Paragraph("None yet. A sighted finding is as much hoped for as found.")]
    days = comparisons["served_at"].map(lambda t: str(t)[:10] if isinstance(t, str) else "")
    inside = comparisons[(days >= (since or "")) & (days <= (until or "9999-12-31"))]
    rows = tuple(
        (
            str(r.check_id),
            f"{r.question} ({r.taster or 'not said'})",
            _side(r.a, shelf),
            _side(r.b, shelf),
            f"{r.picked_a} of {r.n}",
            p_number(r.p_value),
            PValue(r.p_value, r.two_sided, r.sequential).how,
        )
        for r in _rows(summary(inside, checks))
    )
    if not rows:
        return [Heading("Blind checks"), Paragraph("None finished in this period.")]
    caption = "Finished checks; p is exact"
    columns = ("check", "question (taster)", "expected, or picked more often", "against", "picked>", "p>", "how")
    return [Heading("Blind checks"), Table(columns, rows, caption)]


def _side(text: str, shelf: Shelf) -> str:
    """Name a side of a check as a cup is named; a trial's id stays as it is."""
    try:
        return _name(parse_recipe_text(text), shelf)
    except PairingError:
        return text


def _round_up(model: Learned, cups: Sequence[CupRecord], unit: str, currency: str) -> list[Block]:
    flavourings = sorted({f for cup in cups for f in cup.recipe.doses})
    bases = sorted({cup.recipe.base_id for cup in cups})
    if not flavourings:
        return []
    table = compare(model, flavourings, bases)
    table = table[table["cups"] > 0]
    rows = tuple(
        (
            f"{model.shelf.flavouring(r.flavouring_id).name} in {model.shelf.base(r.base_id).name}",
            _amount(r, unit) if r.reached else not_reached(r.cups),
            _number(r.added_kcal, ".1f"),
            _number(r.cost, ".2f"),
            f"{r.liking:.1f} ({r.liking_low:.1f} to {r.liking_high:.1f})",
            _number(r.p_best, ".0%") if r.p_best == r.p_best else "–",
            f"{r.cups}",
            how_sure(int(r.tasters), int(r.cups), round(float(r.share_blind) * int(r.cups)), short=True),
        )
        for r in _rows(table.head(MOST_ROWS))
    )
    money = f"cost, {currency}>" if currency else "cost>"
    much = f"{unit}>" if unit in ("g/kg", "%") else f"{unit} a serving>"
    columns = ("", much, "added kcal>", money, "liking (80 %)>", "chance best in its base>", "cups>", "how sure")
    caption = "Each flavouring alone at its needed dose, per serving, best first"
    best = [Recipe(r.base_id, {r.flavouring_id: r.dose_g_per_kg}) for r in _rows(table[table["reached"]].head(5))]
    names = [_name(one, model.shelf, doses=False) for one in best]
    return [
        Heading("Round-up"),
        Table(columns, rows, caption),
        *side_by_side(model, best, names, bases, flavourings),
    ]


def _amount(row: Any, unit: str) -> str:
    if unit == "drops":
        return f"{row.drops:.0f}" if row.drops <= MOST_DROPS else f"{readable(row.grams)} g"  # NaN where none fall
    values = {"g": row.grams, "ml": row.ml, "g/kg": row.dose_g_per_kg, "%": row.dose_g_per_kg / 10}
    return readable(values[unit])


def _number(value: float, form: str) -> str:
    return "unknown" if math.isnan(value) else format(value, form)


def _next(shelf: Shelf, suggestions: Sequence[Suggestion]) -> list[Block]:
    if not suggestions:
        return []
    rows = tuple(
        (
            _name(s.recipe, shelf),
            f"{s.liking:.1f} ({s.liking_low:.1f} to {s.liking_high:.1f})",
            "unknown" if s.added_kcal is None else f"{s.added_kcal:.1f}",
            s.purpose,
            "; ".join(sentence(reason, shelf) for reason in s.reasons[:2]),
            "; ".join(together(same, shelf.names) for same in alike(s.cautions)) or NONE_KNOWN,
        )
        for s in suggestions
    )
    columns = ("cup", "expected liking (80 %)>", "added kcal>", "purpose", "why", "mind")
    return [Heading("What is next"), Table(columns, rows)]
