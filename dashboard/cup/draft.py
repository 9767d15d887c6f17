"""A cup that is being made: a list of things that happened, saved at every tap.

Nothing is ever taken out of the list: undo is one more entry. What is shown, which question comes next and the cup
itself all follow from replaying it, so a reload, a second tab or another phone sees the same.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from pairing.errors import CupError
from pairing.model.columns import JUST_RIGHT
from pairing.model.cup import Cup
from pairing_dashboard.cup import logged

if TYPE_CHECKING:
    from pairing.model.shelf import Shelf

__all__ = ["CLEAR", "HOW_MUCH", "NOTHING", "SIP_G", "Draft", "State", "cup", "likely_end", "overridden", "state"]

SIP_G = 15.0
"""A sip when nothing else is entered, g."""
CLEAR = 2
"""How much of an off-note when nothing else is said."""
HOW_MUCH = {1: "slight", CLEAR: "clear", 3: "strong"}
"""How much of an off-note, in words."""
NOTHING = "nothing"
"""What is still there after the swallow when nothing is."""
LOST = ("spoiled", "unfinished")
"""Ends after which nobody is asked for a liking."""


@dataclass(frozen=True)
class Draft:
    """What has happened to one unfinished cup.

    Parameters
    ----------
    draft_id : str
        Becomes the trial's id.
    events : tuple of mapping
        In order; each has ``kind`` and ``at`` (ISO time).
    version : int
        How often it was saved: a window that is behind is told so.
    """

    draft_id: str = field(default_factory=lambda: uuid.uuid4().hex)
    events: tuple[Mapping[str, Any], ...] = ()
    version: int = 0

    def add(self, kind: str, **facts: Any) -> Draft:
        """Return the draft with one more thing that happened."""
        event = {"kind": kind, "at": datetime.now(UTC).isoformat(timespec="seconds"), **facts}
        return replace(self, events=(*self.events, event))

    def undo(self) -> Draft:
        """Return the draft with the last thing taken back (as an entry of its own)."""
        return self.add("undo") if self.live else self

    @property
    def live(self) -> tuple[Mapping[str, Any], ...]:
        """The events that count: those not taken back.

        Examples
        --------
        >>> [e["kind"] for e in Draft("x").add("base", base_id="oat").add("pour", g=200).undo().live]
        ['base']
        """
        kept: list[Mapping[str, Any]] = []
        for event in self.events:
            if event["kind"] != "undo":
                kept.append(event)
            elif kept:
                kept.pop()
        return tuple(kept)

    @property
    def taken_back(self) -> Mapping[str, Any]:
        """What the last entry took back, to be said again; empty when it took nothing back.

        Examples
        --------
        >>> Draft("x").add("base", base_id="oat").undo().taken_back["base_id"]
        'oat'
        """
        if not self.events or self.events[-1]["kind"] != "undo":
            return {}
        return replace(self, events=self.events[:-1]).live[-1]

    def saved(self) -> Draft:
        """Return the draft as it is after being saved once more."""
        return replace(self, version=self.version + 1)

    def as_dict(self) -> dict[str, Any]:
        """Return plain values for the bench to keep."""
        return {"draft_id": self.draft_id, "events": [dict(e) for e in self.events], "version": self.version}

    @classmethod
    def of(cls, kept: Mapping[str, Any]) -> Draft:
        """Read back what `as_dict` wrote."""
        return cls(kept["draft_id"], tuple(kept["events"]), kept["version"])


@dataclass(frozen=True)
class State:
    """Where a draft has got to.

    Attributes
    ----------
    question : str
        ``base | flavourings | pour | add | sip | liking | rest | end | done``.
    closed : bool
        Nothing more is planned for now.
    current : str or None
        The flavouring that is being stepped.
    taster : str or None
        Who is asked.
    aims_g_per_kg : mapping of flavouring_id to float
        Doses of the suggestion that the cup was started from.
    purpose : str
        Of that suggestion; ``confirm`` is poured straight to its doses.
    lots : mapping of item_id to lot
        Which bottle it was, where that was asked; None where nobody knows.
    for_tasters, serving_g
        Whom the suggestion was made for and in what serving; offered when those are asked.
    temperature_c : float or None
        How warm the cup is drunk.
    """

    question: str
    base_id: str | None = None
    planned: tuple[str, ...] = ()
    aims_g_per_kg: Mapping[str, float] = field(default_factory=dict)
    tasters: tuple[str, ...] = ()
    base_g: float | None = None
    current: str | None = None
    taster: str | None = None
    ended: str | None = None
    closed: bool = False
    chosen_by: str = "own"
    purpose: str = ""
    overridden: tuple[str, ...] = ()
    target_id: str | None = None
    for_tasters: Sequence[str] = ()
    serving_g: float | None = None
    temperature_c: float | None = None
    answers: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    settled: tuple[str, ...] = ()
    lots: Mapping[str, str | None] = field(default_factory=dict)

    @property
    def last(self) -> bool:
        """Whether nobody else has still to judge it."""
        return self.tasters[-1:] == (self.taster,)


def state(draft: Draft) -> State:
    """Replay a draft and say which question comes next.

    Examples
    --------
    >>> state(Draft("x")).question
    'base'
    """
    facts: dict[str, Any] = {"answers": {}, "lots": {}}
    settled: list[str] = []
    waiting_for_sip = False
    for event in draft.live:
        match event["kind"]:
            case "lot":
                facts["lots"][event["item_id"]] = event["lot"]
            case "pour":
                facts["base_g"] = event["g"]
                facts["tasters"] = tuple(event.get("tasters", facts.get("tasters", ())))
                facts["temperature_c"] = event.get("temperature_c")
            case "add" | "dilute" | "mix" | "stand":
                settled += event.get("settles", ())
                waiting_for_sip = not event.get("settles")  # what is poured straight in and done with is not stepped
            case "read" | "logged":
                waiting_for_sip = False
                settled += event.get("settles", ())
                facts |= _of_state(event)
            case "settle":
                settled.append(event["flavouring_id"])
            case "reopen":
                settled = [i for i in settled if i != event["flavouring_id"]]
            case "plan":
                before, listed = facts.get("planned", ()), tuple(event["flavouring_ids"])
                whole = event["closed"] and set(before) <= set(listed)  # says in which order, too
                facts["planned"] = listed if whole else (*before, *(i for i in listed if i not in before))
                facts["closed"] = facts.get("closed", False) or event["closed"]
            case "unplan":
                facts["planned"] = tuple(i for i in facts.get("planned", ()) if i != event["flavouring_id"])
            case "tasters":
                facts["tasters"] = tuple(event["tasters"])
            case "override":
                facts["overridden"] = (*facts.get("overridden", ()), event["flavouring_id"])
            case "liking":
                facts["answers"].setdefault(event["taster"], {})["liking"] = event["value"]
            case "rest":
                said = {k: event.get(k) for k in ("likeness", "off_notes", "after", "attributes", "note", "glass")}
                facts["answers"].setdefault(event["taster"], {}).update(said)
                facts["ended"] = event.get("ended", facts.get("ended"))
            case _:
                facts |= _of_state(event)
    left = [i for i in facts.get("planned", ()) if i not in settled]
    facts["current"] = left[0] if left else None
    facts["settled"] = tuple(i for i in facts.get("planned", ()) if i in settled)
    facts["taster"] = _asked(facts, waiting_for_sip)
    return State(question=_question(facts, waiting_for_sip), **facts)


def _of_state(event: Mapping[str, Any]) -> dict[str, Any]:
    """Return what an event says of the state outright; a list was a tuple before it was kept."""
    own = {k: v for k, v in event.items() if k in State.__dataclass_fields__}
    return {k: tuple(v) if isinstance(v, list) else v for k, v in own.items()}


def overridden(draft: Draft) -> tuple[str, ...]:
    """Return the flavourings of which more went in after somebody chose to go on past a pause.

    Examples
    --------
    >>> on = Draft("x").add("override", flavouring_id="plum")
    >>> overridden(on), overridden(on.add("add", flavouring_id="plum", amount=1, unit="g"))
    ((), ('plum',))
    """
    chosen: list[str] = []
    found: list[str] = []
    for event in draft.live:
        if event["kind"] == "override":
            chosen.append(event["flavouring_id"])
        elif event["kind"] == "add" and event["flavouring_id"] in chosen:
            found.append(event["flavouring_id"])
    return tuple(dict.fromkeys(found))


def likely_end(now: State, draft: Draft) -> str:
    """Return the end that follows from the last words on strength; it is offered, and may be changed.

    Examples
    --------
    >>> said = Draft("x").add("read", strength={"plum": 4}).add("read", strength={"plum": 3})
    >>> likely_end(state(said), said)
    'right'
    """
    last: dict[str, int] = {}
    for event in draft.live:
        last |= event.get("strength", {}) if event["kind"] == "read" else {}
    words = [word for i, word in last.items() if i in now.planned or not now.planned]
    if any(word > JUST_RIGHT for word in words):
        return "too strong"
    return "not reached" if any(word < JUST_RIGHT for word in words) else "right"


def _asked(facts: Mapping[str, Any], waiting_for_sip: bool) -> str | None:
    """Who is asked next: the first taster while stepping, then each in turn; nobody about a cup that was lost."""
    present: Sequence[str] = facts.get("tasters", ())
    if facts.get("ended") in LOST:
        return None
    if facts.get("ended") is None and (facts["current"] or waiting_for_sip):
        return present[0] if present else None
    unanswered = [t for t in present if not {"liking", "note"} <= facts["answers"].get(t, {}).keys()]
    return unanswered[0] if unanswered else None


def _question(facts: Mapping[str, Any], waiting_for_sip: bool) -> str:
    for fact, question in (("base_id", "base"), ("closed", "flavourings"), ("base_g", "pour"), ("tasters", "pour")):
        if not facts.get(fact):
            return question
    if facts.get("ended") is None and waiting_for_sip:
        return "sip" if facts["current"] else _judged(facts)
    if facts.get("ended") is None and facts["current"]:
        return "add"
    return _judged(facts)


def _judged(facts: Mapping[str, Any]) -> str:
    """Which question of the end comes next: liking first, the end last."""
    if facts["taster"] is None:
        return "done" if facts.get("ended") else "end"
    return "rest" if "liking" in facts["answers"].get(facts["taster"], {}) else "liking"


def cup(draft: Draft, shelf: Shelf) -> Cup:
    """Make the cup that the draft describes.

    What was said about a reading after it (liking, off-notes, a note) goes into that taster's last reading; who had
    none yet took a sip to say it.
    """
    now = state(draft)
    if now.base_id is None or now.base_g is None:
        raise CupError("nothing is poured yet", "choose a base and say how much is in the cup")
    first = next(e for e in draft.live if e["kind"] in ("pour", "logged"))
    if first["kind"] == "logged":
        made = logged.cup_of(first, draft.draft_id, shelf)
    else:
        facts: dict[str, Any] = {"at": first["at"], "lot": now.lots.get(now.base_id)}
        made = Cup(now.base_id, base_g=now.base_g, shelf=shelf, trial_id=draft.draft_id, **facts)
    last = {e["taster"]: i for i, e in enumerate(draft.live) if e["kind"] == "read"}
    for i, event in enumerate(draft.live):
        match event["kind"]:
            case "add":
                lot = now.lots.get(event["flavouring_id"])
                made = made.add(event["flavouring_id"], **{event["unit"]: event["amount"]}, at=event["at"], lot=lot)
            case "dilute":
                made = made.pour(g=event["g"], at=event["at"])
            case "mix":
                made = made.mix(at=event["at"])
            case "stand":
                made = made.rest(event["minutes"], at=event["at"])
            case "read":
                said = now.answers.get(event["taster"], {}) if last[event["taster"]] == i else {}
                made = _read(made, event, said, now)
            case "liking" if event["taster"] not in last:
                made = _read(made, event, now.answers[event["taster"]], now)
    return made


def _read(made: Cup, event: Mapping[str, Any], said: Mapping[str, Any], now: State) -> Cup:
    likeness = said.get("likeness")
    noted, attributes = (_amounts(said.get(name)) for name in ("off_notes", "attributes"))
    off_notes = ";".join(filter(None, [noted, *(still_there(said.get("after") or ()))])) or None
    return made.sip(g=event.get("g", SIP_G), taster=event["taster"], at=event["at"]).read(
        strength=event.get("strength", {}),
        taster=event["taster"],
        liking=said.get("liking"),
        likeness=likeness,
        target_id=now.target_id if likeness is not None else None,
        temperature_c=now.temperature_c,
        off_notes=off_notes,
        attributes=attributes,
        note=said.get("note") or None,
        glass=said.get("glass"),
        tasted_at=event["at"],
    )


def still_there(after: Sequence[str]) -> list[str]:
    """Write what was still there a minute after the swallow as off-notes; nothing at all is written down, too.

    Examples
    --------
    >>> still_there(["sweet", "drying"]), still_there([NOTHING])
    (['sweet:2@aftertaste', 'drying:2@aftertaste'], ['none@aftertaste'])
    """
    found = [f"{word}:{CLEAR}@aftertaste" for word in after if word != NOTHING]
    return found or (["none@aftertaste"] if after else [])


def _amounts(said: Mapping[str, int] | None) -> str | None:
    return ";".join(f"{word}:{how}" for word, how in (said or {}).items()) or None
