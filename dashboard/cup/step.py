"""What every question at the bench needs, and the ways of answering it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing_dashboard import parts
from pairing_dashboard.cup.draft import Draft, State
from pairing_dashboard.wording import md

if TYPE_CHECKING:
    import pandas as pd
    from streamlit.delta_generator import DeltaGenerator

    from pairing.api import Attribute, RuleLike
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf

__all__ = ["FEW", "Step"]

FEW = 9
"""Up to so many choices are shown side by side; more are searched in a list."""


@dataclass(frozen=True)
class Step:
    """What a question needs: the cup so far and how to answer."""

    shelf: Shelf
    draft: Draft
    state: State
    tap: Callable[..., None]
    advise: Callable[[], Any]
    readings: pd.DataFrame
    brought: Mapping[str, str]
    keep: Callable[..., Any]
    bar: DeltaGenerator
    made: Cup | None
    needed: Callable[[str], tuple[float, float, float] | None]
    portion: Callable[[str, float], Any]
    targets: Mapping[str, str] = field(default_factory=dict)
    jurisdiction: str = "EU"
    rules: Sequence[RuleLike] = ()
    attributes: Sequence[Attribute] = ()
    already: Mapping[str, Any] = field(default_factory=dict)

    @property
    def tasters(self) -> list[str]:
        """Who has tasted here, or is on the shelf; ``me`` to begin with."""
        return list(dict.fromkeys([*self.shelf.tasters, *self.readings["taster"].dropna(), "me"]))

    @property
    def usual_tasters(self) -> list[str]:
        """Whom the cup is meant for, else who tasted the last one."""
        if self.state.for_tasters:
            return list(self.state.for_tasters)
        if self.readings.empty:
            return self.tasters[:1]
        last = self.readings["trial_id"].iloc[-1]
        return list(dict.fromkeys(self.readings.loc[self.readings["trial_id"] == last, "taster"]))

    @property
    def off_notes(self) -> list[str]:
        """Off-notes that were written before, latest first."""
        written = ";".join(self.readings["off_notes"].dropna().iloc[::-1])
        return list(dict.fromkeys(w.split(":")[0].strip() for w in written.split(";") if w.strip() and "@" not in w))

    def name(self, item_id: str | None) -> str:
        """Name of a flavouring or base, its id when the shelf has lost it."""
        for kind in (self.shelf.flavourings, self.shelf.bases):
            if item_id is not None and item_id in kind:
                return str(kind[item_id].name)
        return str(item_id)

    def key(self, name: str) -> str:
        """Widget key of this very moment, so that an answer never slides on to the next question."""
        return f"{name}-{self.draft.draft_id}-{len(self.draft.events)}"

    def button(
        self,
        label: str,
        kind: str,
        *,
        primary: bool = False,
        disabled: bool = False,
        read: Callable[[], dict[str, Any]] = dict,
        name: str = "",
        **facts: Any,
    ) -> None:
        """Draw a wide button that answers; the primary one stands in the bar under the thumb.

        What stands in fields beside the button comes from ``read``, which is asked when the button is tapped: a field
        that is left by that very tap hands over its text only then. It raises `PairingError` when something is missing.
        """

        def answer() -> None:
            if (entered := parts.attempt(read)) is not None:
                self.tap(kind, **{**facts, **entered})

        (self.bar if primary else st).button(
            label,
            key=self.key(name or label),  # with a name the label may change without moving away from under a finger
            type="primary" if primary else "secondary",
            disabled=disabled,
            width="stretch",
            on_click=answer,
        )

    def pick(self, question: str, names: Mapping[str, str], kind: str, fact: str, **facts: Any) -> None:
        """Ask for one of several things; choosing is answering."""
        key = self.key(question)

        def answer() -> None:
            if (chosen := st.session_state[key]) is not None:
                self.tap(kind, **{fact: chosen}, **facts)

        with st.container(key=f"answer-{question.lower().replace(' ', '-')}"):
            if len(names) <= FEW:
                st.pills(
                    question,
                    list(names),
                    format_func=lambda i: md(names[i]),
                    key=key,
                    on_change=answer,
                    label_visibility="collapsed",
                    width="stretch",
                )
            else:
                st.selectbox(
                    question,
                    list(names),
                    index=None,
                    format_func=names.__getitem__,
                    key=key,
                    on_change=answer,
                    placeholder="Type to search",
                    label_visibility="collapsed",
                )

    @property
    def who(self) -> str:
        """Whom a question is put to, when there are several."""
        return f"{self.state.taster}: " if len(self.state.tasters) > 1 else ""

    def said_to(self, question: str) -> str:
        """Put a question to whoever is asked."""
        return self.who + question if self.who else question[0].upper() + question[1:]
