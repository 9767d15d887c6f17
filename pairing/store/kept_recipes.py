"""Recipes are kept by name: every change is a version of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pairing.errors import TableError
from pairing.model.fields import clean_id
from pairing.model.recipe import Recipe, recipe_text
from pairing.store import ledger
from pairing.store.exchange import clean
from pairing.store.known import known_names

if TYPE_CHECKING:
    from pairing.store.database import Transaction

__all__ = ["keep_recipe"]

_SAME = ("base_id", "doses", "status", "note")


def keep_recipe(
    tx: Transaction, recipe: Recipe, name: str, status: str = "kept", note: str | None = None, parent: str | None = None
) -> str:
    """Keep a recipe under a name, as its next version, and return ``name@version``.

    The very same again changes nothing; anything else is a new version, and no old one is overwritten.

    Raises
    ------
    TableError
        When the name cannot be told from a recipe, a base or a version, a dose is open, or the status is none.
    """
    import pandas as pd

    name = clean_id(name, "name")
    if "|" in name or "@" in name or name in ledger.ids(tx, "bases"):
        raise TableError(
            f"{name!r} cannot name a recipe: it is a base, or holds | or @", "choose another, such as evening-quince"
        )
    if lacking := [key for key, dose in recipe.doses.items() if dose is None]:
        raise TableError(f"the dose of {', '.join(lacking)} is open", "a recipe is kept with all its doses, in g/kg")
    rows = ledger.current(tx, "recipes")
    own = rows[rows["recipe_id"] == name].sort_values("version")
    row: dict[str, Any] = {
        "recipe_id": name,
        "version": 1 if own.empty else int(own["version"].iloc[-1]) + 1,
        "base_id": recipe.base_id,
        "doses": recipe_text(recipe).partition("|")[2],
        "name": name,
        "status": status,
        "parent": parent or (None if own.empty else f"{name}@{int(own['version'].iloc[-1])}"),
        "note": note,
        "at": ledger.now(),
    }
    if not own.empty and all((own[c].iloc[-1] or None) == row[c] for c in _SAME):
        return f"{name}@{row['version'] - 1}"
    frame = clean("recipes", pd.DataFrame([row]), known=known_names(tx), on_bad="raise").table
    begun = ledger.begin_revision(tx, "keep", about=f"recipe {name}, version {row['version']}")
    ledger.append(tx, "recipes", frame, begun.batch)
    return f"{name}@{row['version']}"
