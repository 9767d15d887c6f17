"""A recipe card as a document: printed on one page, or written as Markdown."""

from __future__ import annotations

from dataclasses import replace

from pairing.model.caution import MARKS, NONE_KNOWN, PROFESSIONAL, Caution, alike, together
from pairing.model.wording import lacks
from pairing.quantities.readable import readable
from pairing.report.card import Card, Dose
from pairing.report.compared import not_reached
from pairing.report.document import Block, Bullets, Document, Figure, Heading, Paragraph, Table
from pairing.report.facts import Fact
from pairing.report.figures import Mark, Row, intervals
from pairing.report.lots import lot_line
from pairing.report.scaling import Line
from pairing.stock.shopping import Need

__all__ = ["card_document"]

_MANY = 3


def card_document(card: Card) -> Document:
    """Lay a card out."""
    batch = card.batch
    size = f"{readable(batch.servings)} × {batch.serving_g:g} g" if batch.servings != 1 else f"{batch.serving_g:g} g"
    blocks: list[Block] = [
        *_stops(card),
        Paragraph(
            f"For {size} of base: {batch.base_g:.0f} g ({batch.base_ml:.0f} ml) {batch.base_name}, "
            f"{batch.finished_g:.0f} g of finished drink."
        ),
        *([_amounts(card)] if batch.lines else []),
        *_to_finish(card),
        *(Paragraph(_short(need, batch.servings)) for need in card.short),
        *(Paragraph(note, quiet=True) for note in batch.notes),
        Heading("How"),
        Bullets(batch.steps, ordered=True),
        *_keeps(card),
        Heading("How sure"),
        Bullets(_sure(card)),
        *_picture(card.doses),
        *_labels(card.doses),
        Heading("What it comes to"),
        _nutrition(card),
        *_cost(card),
        Heading("Mind"),
        *_mind(card),
    ]
    foot = f"{PROFESSIONAL[0].upper()}{PROFESSIONAL[1:]}. What is not known to this tool is not said here."
    return Document(card.title, tuple(blocks), f"{card.made_on}  {foot}".strip())


def _keeps(card: Card) -> list[Paragraph]:
    """Say how long a batch holds its strength; one cup is drunk."""
    if card.keeps is None or card.batch.servings <= 1:
        return []
    return [Paragraph(card.keeps.sentence(_names(card)), quiet=True)]


def _stops(card: Card) -> list[Block]:
    """Say first what stops it; where that comes from stands with the other cautions."""
    why = [_cited(group, card) for group in alike(card.cautions) if group[0].severity == "stop"]
    return [Paragraph(f"{MARKS['stop']}: {'; '.join(why)}. Not to be poured.")] if why else []


def _to_finish(card: Card) -> list[Paragraph]:
    """Say what a whole glass wants of each, and why that is not what a sip likes."""
    if card.glass is None or card.poured is None:
        return []
    each = ", ".join(f"{line.name} {_measured(line)}" for line in card.poured.lines)
    why = f"A sip overrates sweetness and strength: a whole glass wants {card.glass.share}."
    return [Paragraph(f"For whole glasses, not sips: {each}. {why}")]


def _measured(line: Line) -> str:
    grams = f"{line.g:g} g" if line.by == "weight" else f"{readable(line.g)} g"
    return grams if line.drops is None else f"{grams} ({line.drops} drop{'s' * (line.drops != 1)})"


def _short(need: Need, servings: float) -> str:
    """Say that there is too little for the batch, what there is makes, and what to buy."""
    return (
        f"{need.name}: {readable(need.need_g)} g are needed, about {need.held_g or 0:.0f} g are there, enough for "
        f"{readable(servings * need.share)} of {readable(servings)} servings; buy {readable(need.buy_g or 0)} g."
    )


def _amounts(card: Card) -> Table:
    held = any(line.first_g is not None for line in card.batch.lines)
    spooned = any(line.spoons is not None for line in card.batch.lines)
    columns = ["flavouring", "dose, g/kg>", "g>", "drops>", "ml>", "exact g>", "rounding>"]
    if spooned:
        columns.insert(5, "spoons (error)>")
    if held:
        columns.insert(3, "of it at first, g>")
    return Table(tuple(columns), tuple(_amount(line, held, spooned) for line in card.batch.lines))


def _amount(line: Line, held: bool, spooned: bool) -> tuple[str, ...]:
    uncertain = "" if line.drop_error_pct is None else f" (drop ±{line.drop_error_pct:.0f} %)"
    cells = [
        line.name,
        readable(line.dose_g_per_kg),
        f"{line.g:g}" if line.by == "weight" else readable(line.g),
        "–" if line.drops is None else str(line.drops),
        readable(line.ml),
        readable(line.exact_g, 4),
        f"{line.error_pct:+.1f} %{uncertain}".replace("-0.0", "+0.0"),
    ]
    if spooned:
        cells.insert(5, "–" if line.spoons is None else f"{line.spoons} ({line.spoon_error_pct:+.0f} %)")
    if held:
        cells.insert(3, "–" if line.first_g is None else f"{line.first_g:g}")
    return tuple(cells)


def _sure(card: Card) -> tuple[str, ...]:
    lines = []
    if card.liking is not None:
        lines.append(
            f"expected liking {card.liking:.1f} of 9, between {card.liking_low:.1f} and {card.liking_high:.1f} with a "
            "chance of 80 %"
        )
    if card.evidence is not None:
        lines += card.evidence.sentences
    lines += [lot_line(row, _names(card)) for row in card.lots]
    for dose in card.doses:
        if not dose.reachable:
            lines.append(f"{dose.name}: {not_reached(dose.readings)}")
    return tuple(lines) or ("nothing has been learned about it yet",)


def _picture(doses: tuple[Dose, ...]) -> list[Block]:
    rows, words = [], []
    for dose in doses:
        if dose.dose <= 0:
            continue
        marks = (
            [] if dose.label_low is None else [Mark(dose.label_low, f"label direction {readable(dose.label_low)} g/kg")]
        )
        if dose.label_high is not None and dose.label_high != dose.label_low:
            marks.append(Mark(dose.label_high, f"label direction up to {readable(dose.label_high)} g/kg"))
        known = dose.low is not None and dose.high is not None and dose.reachable
        low, high = (dose.low, dose.high) if known else (float("nan"), float("nan"))
        rows.append(Row(dose.name, dose.dose, low or 0.0, high or 0.0, tuple(marks), f"{readable(dose.dose)} g/kg"))
        words.append(
            f"{dose.name} at {readable(dose.dose)} g/kg"
            + (f", right between {low:.3g} and {high:.3g} (80 %)" if known else "")
            + (f", label {readable(dose.label_low)}" if dose.label_low is not None else "")
        )
    if not rows:
        return []
    told = "Dose (dot), where it reads just right (bar), label direction (triangle): " + "; ".join(words) + "."
    return [Figure(intervals(rows, "g of flavouring per kg of finished drink", told, log=True), told)]


def _labels(doses: tuple[Dose, ...]) -> list[Block]:
    said = [f"{dose.name}, {dose.label}" for dose in doses if dose.label]
    return [Paragraph(f"Labels as understood: {'. '.join(said)}.", quiet=True)] if said else []


def _nutrition(card: Card) -> Table:
    label = "label, per 100 g>" if card.per_serving.jurisdiction == "EU" else "label, per serving>"
    rows = tuple(
        (
            f"{fact.name}, {fact.unit}",
            _figure(fact.serving, fact),
            "–" if fact.per_100g is None else readable(fact.per_100g),
            "–" if fact.label is None else fact.label,
        )
        for fact in card.facts
    )
    caption = f"Exact, and as {card.per_serving.jurisdiction} rules round a label"
    return Table(("", "per serving>", "per 100 g>", label), rows, caption)


def _figure(value: float | None, fact: Fact) -> str:
    if value is not None:
        return readable(value)
    return "unknown" if not fact.at_least else f"unknown, at least {readable(fact.at_least)}"


def _cost(card: Card) -> list[Block]:
    one = card.per_serving
    unit = f" {card.currency}" if card.currency else ""
    added = "unknown" if one.added_cost is None else f"{one.added_cost:.2f}{unit}"
    total = "unknown" if one.total_cost is None else f"{one.total_cost:.2f}{unit}"
    out: list[Block] = [Paragraph(f"Cost per serving: flavourings {added}, in all {total}.")]
    if one.unknown or one.assumptions:
        said = "; ".join((*lacks(one.unknown, _names(card)), *one.assumptions))
        out.append(Paragraph(f"Unknown or assumed: {said}.", quiet=True))
    return out


def _names(card: Card) -> dict[str, str]:
    return {card.recipe.base_id: card.batch.base_name} | {dose.flavouring_id: dose.name for dose in card.doses}


def _together(group: list[Caution], card: Card) -> str:
    """Say it once; what is about three flavourings or more, and all of them, does not name each."""
    flavourings = {dose.flavouring_id for dose in card.doses}
    items = {item for one in group for item in one.items}
    if len(flavourings) >= _MANY and flavourings <= items:
        group = [replace(one, items=(*sorted(items - flavourings), "every flavouring in it")) for one in group]
    return together(group, _names(card))


def _sources(card: Card) -> dict[str, int]:
    """Return the numbers of where the cautions come from."""
    named = dict.fromkeys(group[0].source for group in alike(card.cautions))
    return {source: number for number, source in enumerate(named, start=1)}


def _cited(group: list[Caution], card: Card) -> str:
    return f"{_together(group, card)} [{_sources(card)[group[0].source]}]"


def _mind(card: Card) -> list[Block]:
    """Write cautions that say the same once, then where they come from and what the tool cannot know about them."""
    if not card.cautions:
        return [Bullets((NONE_KNOWN,))]
    groups = alike(card.cautions)
    unknown = dict.fromkeys(group[0].cannot_know for group in groups if group[0].cannot_know)
    return [
        Bullets(tuple(f"{MARKS[g[0].severity]}: {_cited(g, card)}" for g in groups if g[0].severity != "stop")),
        Paragraph(f"Sources: {'; '.join(f'[{i}] {source}' for source, i in _sources(card).items())}.", quiet=True),
        Paragraph(f"Not known here: {'; '.join(unknown)}.", quiet=True),
    ]
