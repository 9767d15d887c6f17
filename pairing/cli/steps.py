"""A cup from the words of a command line: steps and readings in the order in which they were given."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from pairing.cli.common import number
from pairing.errors import CupError
from pairing.model.columns import STRENGTH_WORDS

if TYPE_CHECKING:
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf

__all__ = ["add_step_arguments", "make_cup"]

_KINDS = ("add", "mix", "rest", "sip", "strength", "pour")
_TEXTS = ("off_notes", "reminds_of", "target_id", "session", "tasted_at")


def add_step_arguments(parser: argparse.ArgumentParser, *, required: bool = True) -> None:
    """Declare what can happen to a cup; each may be repeated, and their order counts."""
    parser.add_argument("--base-g", type=number, required=required, metavar="G", help="base poured, g")
    order = parser.add_argument_group("steps, in order, repeatable")
    text = {
        "add": ("ID=AMOUNT", "add a flavouring: sour-plum=11drops, date=12.5g, ginger=3ml"),
        "pour": ("G", "pour more base, g"),
        "mix": ("HOW", "mix: spoon, hand blender"),
        "rest": ("MINUTES", "let it stand"),
        "sip": ("G", "take a sip, g; drink and flavouring alike"),
        "strength": ("ID=0–5", "read a strength: " + ", ".join(f"{i} {word}" for i, word in enumerate(STRENGTH_WORDS))),
    }
    for kind in _KINDS:
        metavar, about = text[kind]
        order.add_argument(f"--{kind}", action=_InOrder, metavar=metavar, help=about.replace("%", "%%"))
    parser.set_defaults(steps=())


def make_cup(args: argparse.Namespace, base_id: str, shelf: Shelf, **judgement: Any) -> Cup:
    """Pour the cup and let the steps happen; strengths given without a step between them are one reading.

    ``judgement`` (liking, likeness, …) belongs to the last reading; without a strength it makes one of its own.
    """
    from pairing.model.cup import Cup

    cup = Cup(base_id, base_g=args.base_g, shelf=shelf, trial_id=getattr(args, "trial_id", None))
    runs = list(_runs(args.steps))
    taster = getattr(args, "taster", None)
    for i, (kind, values) in enumerate(runs):
        if kind != "strength":
            cup = _take(cup, kind, values[0], taster)
            continue
        last = i == len(runs) - 1
        cup = cup.read(strength=_strengths(values), taster=taster, **(judgement if last else {}))
    judged = any(value is not None for value in judgement.values())
    if judged and (not runs or runs[-1][0] != "strength"):
        cup = cup.read(taster=taster, **judgement)
    return cup


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


def _take(cup: Cup, kind: str, text: str, taster: str | None) -> Cup:
    if kind == "add":
        from pairing.units import parse_amount

        flavouring_id, amount_text = _pair(text, "sour-plum=11drops")
        amount = parse_amount(amount_text)
        given = {amount.unit: amount.value}
        return cup.add(flavouring_id, drops=given.get("drop"), g=given.get("g"), ml=given.get("ml"))
    if kind == "mix":
        return cup.mix(text)
    value = _number(text, kind)
    if kind == "rest":
        return cup.rest(minutes=value)
    return cup.pour(g=value) if kind == "pour" else cup.sip(g=value, taster=taster)


def _strengths(texts: list[str]) -> Mapping[str, int]:
    found: dict[str, int] = {}
    for text in texts:
        flavouring_id, word = _pair(text, "sour-plum=3")
        known = {name: i for i, name in enumerate(STRENGTH_WORDS)}
        try:
            found[flavouring_id] = known[word.casefold()] if word.casefold() in known else int(word)
        except ValueError:
            allowed = ", ".join(f"{i} {name}" for i, name in enumerate(STRENGTH_WORDS))
            raise CupError(f"strength {word!r} is not on the scale", f"use one of: {allowed}") from None
    return found


def _pair(text: str, example: str) -> tuple[str, str]:
    flavouring_id, sign, value = text.rpartition("=")
    if not sign or not flavouring_id.strip() or not value.strip():
        raise CupError(f"{text!r} has no flavouring and value", f"write {example}")
    return flavouring_id.strip(), value.strip()


def _number(text: str, kind: str) -> float:
    words = text.replace(",", ".").split()
    try:
        return float(words[0].removesuffix("min").removesuffix("g"))
    except (ValueError, IndexError):
        raise CupError(f"--{kind} {text!r} is not a number", "give digits, such as 15") from None
