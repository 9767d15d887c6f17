"""What each role may do in a bench that several people share; checked where every change begins."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from pairing.errors import StoreError, nearest

if TYPE_CHECKING:
    from pairing.store.database import Transaction

__all__ = ["OWNER", "ROLES", "check", "check_others", "read_role"]

OWNER = "owner"
_TASTE, _CORRECT, _IMPORT, _MERGE, _ERASE = "taste", "correct", "import", "merge", "erase"
ROLES: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "guest": frozenset(),
        "taster": frozenset({_TASTE}),
        "keeper": frozenset({_TASTE, _CORRECT, _IMPORT}),
        OWNER: frozenset({_TASTE, _CORRECT, _IMPORT, _MERGE, _ERASE}),
    }
)
"""What each role may do, from the least to the most."""
_NEEDS = {"log": _TASTE, "calibrate": _TASTE, "weigh": _TASTE, "keep": _TASTE, "correct": _TASTE, "undo": _TASTE}
_NEEDS |= {"load": _IMPORT, "settings": _CORRECT, "merge": _MERGE}
"""What it takes to begin a revision of a kind; any other kind is an owner's."""
_WORDS = {
    _TASTE: "log cups",
    _CORRECT: "change what others wrote",
    _IMPORT: "import tables",
    _MERGE: "merge benches",
    _ERASE: "do that",
}


def read_role(role: str) -> str:
    """Return a role's name.

    Raises
    ------
    StoreError
        When there is no such role.
    """
    if role not in ROLES:
        raise StoreError(f"no role {role!r}", nearest(role, ROLES))
    return role


def check(tx: Transaction, action: str) -> None:
    """Refuse an action that the role of who writes does not allow.

    Raises
    ------
    StoreError
    """
    _need(tx, _NEEDS.get(action, _ERASE))


def check_others(tx: Transaction, batches: Iterable[int]) -> None:
    """Refuse to change what somebody else wrote in these batches, where the role does not allow it.

    Raises
    ------
    StoreError
    """
    if _CORRECT in ROLES[tx.db.role]:
        return
    done = tx.table("revisions").c
    wrote = tx.table("revisions").select().with_only_columns(done.author).where(done.batch.in_(set(batches)))
    if any(author != tx.author for author in tx.execute(wrote).scalars()):
        _need(tx, _CORRECT)


def _need(tx: Transaction, what: str) -> None:
    if what not in ROLES[tx.db.role]:
        able = next(role for role, may in ROLES.items() if what in may)
        raise StoreError(
            f"{tx.author} is a {tx.db.role} of {tx.db.name} and may not {_WORDS[what]}",
            f"ask somebody who is {'an' if able[0] in 'aeiou' else 'a'} {able}; nothing was changed",
        )
