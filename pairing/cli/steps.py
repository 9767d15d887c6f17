"""A cup from the words of a command line: steps and readings in the order in which they were given."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pairing.cli.common import number
from pairing.errors import CupError, QuantityError, in_shell
from pairing.model.columns import STRENGTH_WORDS
from pairing.model.cup import Cup
from pairing.model.fields import on_scale
from pairing.quantities.amounts import assumed, parse_amount
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML
from pairing.quantities.drops import drop_mass
from pairing.quantities.rates import read_in, read_whole

if TYPE_CHECKING:
    from pairing.model.base import Base
    from pairing.model.flavouring import Flavouring
    from pairing.model.portions import Portion
    from pairing.model.shelf import Shelf

__all__ = ["add_step_arguments", "guesses", "log_line", "make_cup", "poured", "poured_g", "to_add", "with_ids"]

_KINDS = ("add", "mix", "rest", "sip", "strength", "pour")


def add_step_arguments(parser: argparse.ArgumentParser, *, required: bool = True) -> None:
    """Declare what can happen to a cup; each may be repeated, and their order counts."""
    about = "base poured, g; or 200ml, by the density of the base"
    parser.add_argument("--base-g", type=poured, required=required, metavar="G", help=about)
    order = parser.add_argument_group("steps, in order, repeatable")
    text = {
        "add": ("ID=AMOUNT", "add a flavouring: sour-plum=11drops, date=12.5g, ginger=3ml"),
        "pour": ("G", "pour more base, g; or 0.5l, by the density of the base"),
        "mix": ("HOW", "mix: spoon, hand blender"),
        "rest": ("MINUTES", "let it stand; or 2h"),
        "sip": ("G", "take a sip, g or 20ml; drink and flavouring alike"),
        "strength": (
            "ID=0–5",
            "read a strength, of what was added last where none is named: "
            + ", ".join(f"{i} {word}" for i, word in enumerate(STRENGTH_WORDS)),
        ),
    }
    for kind in _KINDS:
        metavar, about = text[kind]
        order.add_argument(f"--{kind}", action=_InOrder, metavar=metavar, help=about.replace("%", "%%"))
    about = "from which bottle or bag it came, where it is not the one in use; that one is, from then on"
    order.add_argument("--lot", action="append", default=[], metavar="ID=LOT", help=about)
    parser.set_defaults(steps=())


def with_ids(args: argparse.Namespace, shelf: Shelf) -> None:
    """Put ids in the place of names, in what the steps and lots say."""

    def named(text: str, find: Callable[[str], str]) -> str:
        name, sign, value = text.rpartition("=")
        return f"{find(name.strip())}={value}" if sign and name.strip() else text

    of_flavouring = {"add", "strength"}
    args.steps = tuple(
        (kind, named(text, lambda name: shelf.flavouring(name).flavouring_id) if kind in of_flavouring else text)
        for kind, text in args.steps
    )
    args.lot = [named(text, shelf.item_id) for text in args.lot]


def make_cup(
    args: argparse.Namespace, base_id: str, shelf: Shelf, *, start: Cup | None = None, **judgement: Any
) -> Cup:
    """Pour the cup, or go on with ``start``, and let the steps happen; strengths in a row are one reading.

    ``judgement`` (liking, likeness, …) belongs to the last reading; without a strength it makes one of its own.
    """
    trial_id = getattr(args, "trial_id", None)
    if start is None:
        args.base_g = poured_g(args.base_g, shelf.base(base_id))
    lots = dict(_pair(text, "sour-plum=B") for text in args.lot)
    if start is None:
        cup = Cup(base_id, base_g=args.base_g, shelf=shelf, trial_id=trial_id, lot=lots.get(base_id))
    else:
        cup = start
    runs = list(_runs(args.steps))
    taster = getattr(args, "taster", None)
    for i, (kind, values) in enumerate(runs):
        if kind != "strength":
            cup = _take(cup, kind, values[0], taster, shelf.base(base_id), lots)
            continue
        last = i == len(runs) - 1
        cup = cup.read(strength=_strengths(values, cup), taster=taster, **(judgement if last else {}))
    judged = any(value is not None for value in judgement.values())
    if judged and (not runs or runs[-1][0] != "strength"):
        cup = cup.read(taster=taster, **judgement)
    return cup


def log_line(
    base_id: str, base_g: float, steps: Sequence[tuple[str, str]], judged: Sequence[str] = (), **said: str | None
) -> str:
    """Write the line that logs a cup, to be finished with what was tasted.

    Examples
    --------
    >>> log_line("oat", 250, [("add", "rose=2drops")], ["rose"], taster="ana")
    'pairing log oat --base-g 250 --add rose=2drops --strength rose=… --liking … --taster ana'
    """
    words = ["pairing", "log", base_id, "--base-g", f"{base_g:g}"]
    words += [word for kind, text in steps for word in (f"--{kind}", text)]
    words += [word for item_id in judged for word in ("--strength", f"{item_id}=…")] + ["--liking", "…"]
    words += [word for name, text in said.items() if text is not None for word in (f"--{name.replace('_', '-')}", text)]
    return " ".join("…".join(part and in_shell(part) for part in word.split("…")) for word in words)


def to_add(flavouring_id: str, portion: Portion) -> str:
    """Write what is added of a flavouring as a step says it."""
    amount = f"{portion.drops}drops" if portion.drops else f"{portion.g:.{portion.decimals}f}g"
    return f"{flavouring_id}={amount}"


def guesses(args: argparse.Namespace, base_id: str, shelf: Shelf) -> list[str]:
    """Name what was counted or measured by a drop, a density or a spoon that nobody knows, each once."""
    notes: list[str] = []
    for kind, text in args.steps:
        if kind == "add":
            name, amount = _pair(text, "sour-plum=11drops")
            notes += _guessed(shelf.flavouring(name), amount)
        elif kind in ("pour", "sip") and _volume_ml(text) is not None and shelf.base(base_id).density_g_per_ml is None:
            name = shelf.names[base_id]
            notes.append(
                f"{name} was taken for {DEFAULT_DENSITY_G_PER_ML} g per ml, its density is not known: weigh it"
            )
    return list(dict.fromkeys(notes))


def _guessed(flavouring: Flavouring, text: str) -> Iterator[str]:
    """Say what was assumed to weigh one addition."""
    unit, name = parse_amount(text).unit, flavouring.name
    drop = drop_mass(flavouring)
    if note := assumed(text):
        yield f"{name}, {note}"
    if unit == "drop" and not drop.calibrated and not (drop.comes_in_drops and drop.carrier):
        weigh = f"pairing calibrate {flavouring.flavouring_id}"
        yield f"a drop of {name} was taken for {drop.mg:g} mg, which nobody weighed: {weigh}"
    elif unit == "ml" and flavouring.density_g_per_ml is None:
        yield f"{name} was taken for 1.00 g per ml, its density is not known: weigh it"


def poured_g(amount: float | str, base: Base) -> float:
    """Return the g of base in what was said to be poured: a number of g, or a volume that its density weighs."""
    if not isinstance(amount, str):
        return amount
    return _read(amount, "base_g", base.density_g_per_ml or DEFAULT_DENSITY_G_PER_ML)


def poured(text: str) -> float | str:
    """Read what was poured: g at once, a volume when the base is known."""
    return text if _volume_ml(text) is not None else number(text, "base_g")


def _volume_ml(text: str) -> float | None:
    """Return the volume that a text says; None where it is no volume."""
    try:
        amount = parse_amount(text)
    except QuantityError:
        return None
    return amount.value if amount.unit == "ml" else None


class _InOrder(argparse.Action):
    """Keep (kind, text) in the order of the command line."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: Any,
        option_string: str | None = None,
    ) -> None:
        namespace.steps = (*namespace.steps, (self.dest, str(values)))


def _runs(steps: tuple[tuple[str, str], ...]) -> Iterator[tuple[str, list[str]]]:
    """Gather strengths that follow one another; every other step stands alone."""
    waiting: list[str] = []
    for kind, text in steps:
        if kind == "strength":
            waiting.append(text)
            continue
        if waiting:
            yield "strength", waiting
            waiting = []
        yield kind, [text]
    if waiting:
        yield "strength", waiting


def _take(cup: Cup, kind: str, text: str, taster: str | None, base: Base, lots: Mapping[str, str]) -> Cup:
    if kind == "add":
        flavouring_id, amount_text = _pair(text, "sour-plum=11drops")
        amount = parse_amount(amount_text)
        given, lot = {amount.unit: amount.value}, lots.get(flavouring_id)
        return cup.add(flavouring_id, drops=given.get("drop"), g=given.get("g"), ml=given.get("ml"), lot=lot)
    if kind == "mix":
        return cup.mix(text)
    if kind == "rest":
        return cup.rest(minutes=_read(text, "rest_minutes"))
    grams = _read(text, f"{kind}_g", base.density_g_per_ml or DEFAULT_DENSITY_G_PER_ML)
    return cup.pour(g=grams, lot=lots.get(base.base_id)) if kind == "pour" else cup.sip(g=grams, taster=taster)


def _strengths(texts: list[str], cup: Cup) -> Mapping[str, int]:
    found: dict[str, int] = {}
    added = [step.item_id for step in cup.steps if step.kind == "add"]
    for said in texts:
        text = said if "=" in said or not added else f"{added[-1]}={said}"
        flavouring_id, word = _pair(text, "sour-plum=3")
        known = on_scale(word, "strength")
        try:
            found[flavouring_id] = read_whole(word) if known is None else int(known)
        except QuantityError:
            allowed = ", ".join(f"{i} {name}" for i, name in enumerate(STRENGTH_WORDS))
            raise CupError(f"strength {word!r} is not on the scale", f"use one of: {allowed}") from None
    return found


def _pair(text: str, example: str) -> tuple[str, str]:
    flavouring_id, sign, value = text.rpartition("=")
    if not sign or not flavouring_id.strip() or not value.strip():
        raise CupError(f"{text!r} has no flavouring and value", f"write {example}")
    return flavouring_id.strip(), value.strip()


def _read(text: str, name: str, density_g_per_ml: float | None = None) -> float:
    try:
        return read_in(text, name, density_g_per_ml=density_g_per_ml)
    except QuantityError as error:
        raise CupError(f"--{name.split('_', maxsplit=1)[0]}: {error.message}", error.hint) from None
