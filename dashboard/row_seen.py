"""A row as it was when it was chosen to be corrected; what is saved is held against that.

A field may begin with a number in fewer digits than are kept: until something else is typed, the kept one stays.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import streamlit as st

from pairing.errors import ConflictError
from pairing_dashboard.wording import cell

__all__ = ["RowSeen", "forget", "save", "seen"]

STALE = -1
"""Revision of a row that is to be read anew."""


@dataclass(frozen=True)
class RowSeen:
    """A row in a form, the revision of the bench that it is of, and what was typed over an older one."""

    form: str
    of: Hashable
    revision: int
    row: Mapping[str, Any]
    typed: Mapping[str, str] = field(default_factory=dict)
    short: Mapping[str, str] = field(default_factory=dict)

    def key(self, column: str) -> str:
        """Key of a field: it keeps what is typed until the row is chosen or read anew."""
        return f"{self.form}-{self.of}-{column}-{self.revision}"

    def shown(self, column: str) -> str:
        """Return what a field begins with."""
        return self.typed.get(column, self._began(column))

    def _began(self, column: str) -> str:
        return self.short.get(column, cell(self.row.get(column)))

    def changed(self, answers: Mapping[str, str]) -> dict[str, str]:
        """Return the answers that are not what stood there."""
        return {name: text for name, text in answers.items() if text != self._began(name)}


def seen(
    form: str, of: Hashable, revision: int, row: Mapping[str, Any], short: Mapping[str, str] | None = None
) -> RowSeen:
    """Return the row of a form as it was when it was chosen, with what some fields show of it in ``short``."""
    short = short or {}
    kept: RowSeen | None = st.session_state.get(_name(form))
    if kept is None or kept.of != of:
        kept = st.session_state[_name(form)] = RowSeen(form, of, revision, row, short=short)
    elif kept.revision == STALE:
        kept = st.session_state[_name(form)] = replace(kept, revision=revision, row=row, short=short)
    return kept


def save(of: RowSeen, answers: Mapping[str, str], write: Callable[[dict[str, str]], None]) -> None:
    """Write what was changed; after a conflict the row is read anew, and what was typed stays."""
    changed = of.changed(answers)
    try:
        write(changed)
    except ConflictError:
        st.session_state[_name(of.form)] = replace(of, revision=STALE, typed=changed)
        raise
    forget(of.form)


def forget(form: str) -> None:
    """Read the row of a form anew."""
    st.session_state.pop(_name(form), None)


def _name(form: str) -> str:
    return f"seen-{form}"
