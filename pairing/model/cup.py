"""The cup: base, additions, mixing, rests, sips, readings and splits in order, with mass balance."""

from __future__ import annotations

import math
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from types import MappingProxyType
from typing import Any

from pairing.errors import CupError
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.fields import clean_id
from pairing.model.flavouring import Flavouring
from pairing.model.reading import Reading
from pairing.model.shelf import Shelf
from pairing.model.steps import EMPTY, Contents, Step
from pairing.quantities.amounts import Amount, amount_to_g
from pairing.quantities.rates import number_of
from pairing.quantities.readable import readable

__all__ = ["Cup", "Step"]

MIN_STEP_G, MAX_CUP_G = 1e-6, 1_000_000.0


class Cup:
    """One vessel. Immutable: each call returns a new cup.

    Parameters
    ----------
    base_id : str
    base_g : float
        Base poured, g.
    shelf : Shelf, optional
        Flavouring facts: drop masses and densities. Without it a drop has the uncalibrated default mass and a
        millilitre weighs 1.00 g, until a bench that it is logged to, or a model that is asked, weighs them again.
    trial_id : str, optional
        A fresh random id when not given.
    at, lot : str, optional
        When it was poured (ISO 8601), and the base's lot.

    Attributes
    ----------
    steps : tuple of Step
    readings : tuple of Reading

    Examples
    --------
    >>> cup = Cup("oat", base_g=400).add("plum", g=0.4).mix("spoon").rest(minutes=5).sip(g=20)
    >>> round(cup.dose_g_per_kg["plum"], 3), round(cup.content_g, 1)
    (0.999, 380.4)
    >>> part, rest = cup.split(g=100)
    >>> part.dose_g_per_kg == cup.dose_g_per_kg
    True
    """

    __slots__ = ("_contents", "_shelf", "base_id", "readings", "steps", "trial_id")

    base_id: str
    trial_id: str
    steps: tuple[Step, ...]
    readings: tuple[Reading, ...]
    _contents: Contents
    _shelf: Shelf | None

    def __init__(
        self,
        base_id: str,
        base_g: float,
        *,
        shelf: Shelf | None = None,
        trial_id: str | None = None,
        at: str | datetime | None = None,
        lot: str | None = None,
    ) -> None:
        name = clean_id(base_id, "base_id")
        if shelf is not None:
            name = shelf.base(name).base_id
        grams = _mass(base_g, "base_g", "the base poured")
        poured = Step(kind="pour", item_id=name, amount_g=grams, as_entered=f"{grams:g} g", at=_when(at), lot=lot)
        self._set(name, trial_id or uuid.uuid4().hex, shelf)
        self._keep((poured,), (), EMPTY.after(poured))

    def _set(self, base_id: str, trial_id: str, shelf: Shelf | None) -> None:
        object.__setattr__(self, "base_id", base_id)
        object.__setattr__(self, "trial_id", clean_id(trial_id, "trial_id"))
        object.__setattr__(self, "_shelf", shelf)

    def _keep(self, steps: tuple[Step, ...], readings: tuple[Reading, ...], contents: Contents) -> None:
        object.__setattr__(self, "steps", steps)
        object.__setattr__(self, "readings", readings)
        object.__setattr__(self, "_contents", contents)

    def _then(self, *steps: Step, readings: tuple[Reading, ...] | None = None, trial_id: str | None = None) -> Cup:
        contents = self._contents
        for step in steps:
            contents = contents.after(step)
        made = Cup.__new__(Cup)
        made._set(self.base_id, trial_id or self.trial_id, self._shelf)
        made._keep((*self.steps, *steps), self.readings if readings is None else readings, contents)
        return made

    @classmethod
    def from_steps(
        cls,
        base_id: str,
        steps: Iterable[Step],
        *,
        trial_id: str,
        readings: Iterable[Reading] = (),
        shelf: Shelf | None = None,
    ) -> Cup:
        """Make the cup again from its steps, as they are kept in the ``steps`` table."""
        cup = cls.__new__(cls)
        cup._set(clean_id(base_id, "base_id"), trial_id, shelf)
        cup._keep((), tuple(readings), EMPTY)
        cup = cup._then(*steps)
        if not cup.steps or cup.steps[0].kind != "pour":
            raise CupError(f"the steps of {trial_id} do not begin with a pour", "give all steps, first to last")
        return cup

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"a cup is immutable: {name} cannot be set; each step returns a new cup")

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"a cup is immutable: {name} cannot be deleted")

    def __reduce__(self) -> tuple[Any, ...]:
        return _restore, (self.base_id, self.steps, self.trial_id, self.readings, self._shelf)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Cup):
            return NotImplemented
        mine = (self.base_id, self.trial_id, self.steps, self.readings)
        return mine == (other.base_id, other.trial_id, other.steps, other.readings)

    def __hash__(self) -> int:
        return hash((self.trial_id, len(self.steps), len(self.readings)))

    def __repr__(self) -> str:
        doses = ", ".join(f"{k} {v:.4g} g/kg" for k, v in self.dose_g_per_kg.items()) or "plain"
        return f"<Cup {self.base_id}: {doses}; {readable(self.content_g, 4)} g left>"

    @property
    def shelf(self) -> Shelf | None:
        """Where the facts come from that drops and millilitres are weighed by."""
        return self._shelf

    @property
    def base_g(self) -> float:
        """Base poured into this cup so far, g; for a portion, what it held of it when it was taken."""
        return math.fsum([self._at_start().grams[None], *(s.amount_g or 0.0 for s in self._own("pour"))])

    @property
    def content_g(self) -> float:
        """What is left in the cup, g."""
        return self._contents.total_g

    @property
    def contents_g(self) -> Mapping[str, float]:
        """What is left of each flavouring, g."""
        return MappingProxyType({k: v for k, v in self._contents.grams.items() if k is not None})

    @property
    def dose_g_per_kg(self) -> Mapping[str, float]:
        """Dose of each flavouring now, g/kg; additions, dilutions and sips all counted."""
        names = [name for name in self._contents.parts if name is not None]
        return MappingProxyType({name: self._contents.dose_g_per_kg(name) for name in names})

    @property
    def swallowed_g(self) -> float:
        """Drink swallowed from this cup by everybody, g."""
        return math.fsum(s.amount_g or 0.0 for s in self._own("sip"))

    @property
    def parent_trial_id(self) -> str | None:
        """The cup that this one was split off, if any."""
        return next((s.parent_trial_id for s in reversed(self.steps) if s.parent_trial_id), None)

    def swallowed(self, taster: str | None = None) -> Mapping[str | None, float]:
        """Return g swallowed from this cup, by flavouring id; the base is under None.

        Parameters
        ----------
        taster : str, optional
            Only this person's sips (sips without a name are those of ``me``).
        """
        out: dict[str | None, float] = {}
        contents = self._at_start()
        for step in self.steps[self._first() :]:
            if step.kind == "sip" and taster in (None, step.taster or DEFAULT_TASTER):
                share = (step.amount_g or 0.0) / contents.total_g
                for item, mass in contents.grams.items():
                    out[item] = out.get(item, 0.0) + mass * share
            contents = contents.after(step)
        return MappingProxyType(out)

    def _first(self) -> int:
        return max((n + 1 for n, s in enumerate(self.steps) if s.parent_trial_id), default=0)

    def _own(self, kind: str) -> list[Step]:
        return [s for s in self.steps[self._first() :] if s.kind == kind]

    def _at_start(self) -> Contents:
        contents = EMPTY
        for step in self.steps[: self._first()]:
            contents = contents.after(step)
        return contents

    def pour(self, *, g: float, at: str | datetime | None = None, lot: str | None = None) -> Cup:
        """Pour more base: dilutes everything in the cup."""
        grams = _mass(g, "g", "the base poured")
        self._check_not_empty()
        return self._then(
            Step(kind="pour", item_id=self.base_id, amount_g=grams, as_entered=f"{grams:g} g", at=_when(at), lot=lot)
        )

    def add(
        self,
        flavouring_id: str,
        *,
        drops: float | None = None,
        g: float | None = None,
        ml: float | None = None,
        at: str | datetime | None = None,
        lot: str | None = None,
    ) -> Cup:
        """Add a flavouring, in exactly one of drops, g or ml.

        Raises
        ------
        CupError
            When none or several are given, or the amount is not above 0.
        UnknownIdError
            When the cup's shelf does not know the flavouring.
        """
        name = clean_id(flavouring_id, "flavouring_id")
        given = [(unit, value) for unit, value in (("drop", drops), ("g", g), ("ml", ml)) if value is not None]
        if len(given) != 1:
            raise CupError(f"{name}: {len(given)} amounts are given", "give one of drops=, g= or ml=")
        self._check_not_empty()
        unit, value = given[0]
        facts = self._facts(name, lot)
        name = name if facts is None else facts.flavouring_id
        amount = _mass(value, {"drop": "drops"}.get(unit, unit), f"the {name} added")
        grams = amount_to_g(Amount(amount, unit), facts)
        said = f"{amount:g} {'drop' if unit == 'drop' and amount == 1 else {'drop': 'drops'}.get(unit, unit)}"
        return self._then(Step(kind="add", item_id=name, amount_g=grams, as_entered=said, at=_when(at), lot=lot))

    def _facts(self, flavouring_id: str, lot: str | None) -> Flavouring | None:
        return None if self._shelf is None else self._shelf.flavouring(flavouring_id, lot)

    def mix(self, how: str = "stirred", *, at: str | datetime | None = None) -> Cup:
        """Mix, and say with what."""
        return self._then(Step(kind="mix", as_entered=str(how).strip() or "stirred", at=_when(at)))

    def rest(self, minutes: float, *, at: str | datetime | None = None) -> Cup:
        """Let it stand, in minutes."""
        value = number_of(minutes, "minutes", CupError)
        if not (math.isfinite(value) and value >= 0):
            raise CupError(f"the rest is {value:g} minutes, it must be 0 or more", "give minutes")
        return self._then(Step(kind="rest", as_entered=f"{value!r}".removesuffix(".0") + " min", at=_when(at)))

    def sip(self, g: float, *, taster: str | None = None, at: str | datetime | None = None) -> Cup:
        """Take a sip: drink and flavouring alike."""
        grams = _mass(g, "g", "the sip")
        self._check_room(grams, "sip", leave_some=False)
        return self._then(
            Step(kind="sip", amount_g=grams, as_entered=f"{grams:g} g", taster=taster or DEFAULT_TASTER, at=_when(at))
        )

    def split(self, g: float, *, trial_id: str | None = None, at: str | datetime | None = None) -> tuple[Cup, Cup]:
        """Take off a portion of g grams; both keep dose and history.

        Returns
        -------
        part, rest : Cup
            The portion is a trial of its own without readings yet; the rest goes on as this cup.
        """
        grams = _mass(g, "g", "the portion")
        self._check_room(grams, "portion", leave_some=True)
        left = self.content_g - grams
        taken = Step(
            kind="split", amount_g=grams, as_entered=f"{grams:g} g", parent_trial_id=self.trial_id, at=_when(at)
        )
        part = self._then(taken, readings=(), trial_id=trial_id or uuid.uuid4().hex)
        rest = self._then(replace(taken, amount_g=left, parent_trial_id=None))
        return part, rest

    def read(self, strength: Mapping[str, int] | None = None, liking: float | None = None, **judgement: Any) -> Cup:
        """Write down one taster's judgement of the cup as it is now.

        Parameters
        ----------
        strength : mapping of flavouring_id to int
            0 *not detected* to 5 *much too strong*.
        liking : float
            1 to 9.
        **judgement
            Any further field of `Reading`. ``taster`` is whoever sipped last when not given; ``mixing``,
            ``minutes_since_addition`` and ``stepped`` follow from the steps.
        """
        implied = {
            "taster": next((s.taster for s in reversed(self.steps) if s.kind == "sip" and s.taster), DEFAULT_TASTER),
            "mixing": next((s.as_entered for s in reversed(self.steps) if s.kind == "mix"), None),
            "minutes_since_addition": self._minutes_since_addition(),
            "stepped": "yes" if self._was_tasted_before_last_addition() else "no",
        }
        stated = {k: v for k, v in judgement.items() if v is not None}
        if wrong := sorted(set(stated) - set(Reading.__dataclass_fields__)):
            raise CupError(f"a reading has no {', '.join(wrong)}", "see Reading for what can be written down")
        if not isinstance(strength, Mapping | None):
            raise CupError(f"strength is {strength!r}, no mapping", "write {flavouring_id: 0 to 5}")
        reading = Reading(
            dose_g_per_kg=self.dose_g_per_kg, strength=strength or {}, liking=liking, **{**implied, **stated}
        )
        return self._then(readings=(*self.readings, reading))

    def _minutes_since_addition(self) -> float | None:
        total, rested = 0.0, False
        for step in reversed(self.steps):
            if step.kind == "add":
                return total if rested else None
            if step.kind == "rest":
                if step.minutes is None:
                    return None
                total, rested = total + step.minutes, True
        return None

    def _was_tasted_before_last_addition(self) -> bool:
        own = self.steps[self._first() :]
        added = max((n for n, s in enumerate(own) if s.kind == "add"), default=-1)
        sipped = any(s.kind == "sip" for s in own[: max(added, 0)])
        read_with_less = any(dict(r.dose_g_per_kg) != dict(self.dose_g_per_kg) for r in self.readings)
        return sipped or read_with_less

    def _check_room(self, grams: float, what: str, *, leave_some: bool) -> None:
        left = self.content_g
        if grams > left * (1 + 1e-9) or (leave_some and grams >= left):
            raise CupError(
                f"a {what} of {grams:g} g does not fit: {readable(left, 4)} g are in the cup",
                f"take a smaller {what}, or pour a new cup",
            )

    def _check_not_empty(self) -> None:
        if self._contents.left == 0:
            raise CupError("the cup is empty: 0 g are left", "pour a new cup")


def _mass(value: object, name: str, what: str) -> float:
    number = number_of(value, name, CupError)
    if not (math.isfinite(number) and MIN_STEP_G <= number <= MAX_CUP_G):
        raise CupError(
            f"{name} ({what}) is {number:g}, allowed is {MIN_STEP_G:g} to {MAX_CUP_G:g}", "correct the amount"
        )
    return number


def _when(at: str | datetime | None) -> str | None:
    return at.isoformat() if isinstance(at, datetime) else at


def _restore(
    base_id: str, steps: tuple[Step, ...], trial_id: str, readings: tuple[Reading, ...], shelf: Shelf | None
) -> Cup:
    return Cup.from_steps(base_id, steps, trial_id=trial_id, readings=readings, shelf=shelf)
