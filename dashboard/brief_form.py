"""The brief as controls: goal, limits, what must and must never go in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.model.brief import Brief
from pairing_dashboard import parts

if TYPE_CHECKING:
    from pairing.model.shelf import Shelf

__all__ = ["ask"]


def ask(shelf: Shelf) -> Brief | None:
    """Ask for the brief; None where it contradicts itself (the reason is shown)."""
    st.subheader("Brief", anchor=False)
    bases = {b.base_id: b.name for b in shelf.bases.values()}
    inside = {f.flavouring_id: f.name for f in shelf.flavourings.values()}
    chosen: dict[str, Any] = {
        "bases": _several("Bases", bases, "all"),
        "must_have": _several("Must have", inside, "nothing in particular"),
        "never": _several("Never", inside, "nothing"),
        "tasters": _several("For", {t: t for t in shelf.tasters}, "all tasters"),
        "max_flavourings": st.segmented_control(
            "At most so many flavourings", [1, 2, 3], default=2, required=True, key="brief-most"
        ),
        "max_added_kcal": _limit("Added energy at most, kcal per serving", 1.0, "kcal"),
        "max_total_kcal": _limit("Total energy at most, kcal per serving", 10.0, "total"),
        "max_added_cost": _limit("Added cost at most, per serving", 0.05, "cost"),
        "serving_g": _limit("Serving, g of base", 10.0, "serving"),
    }
    allergens = sorted(
        {a for f in shelf.flavourings.values() for a in f.allergens or ()}
        | {a for b in shelf.bases.values() for a in b.allergens or ()}
    )
    chosen["avoid_allergens"] = _several("Without", {a: a for a in allergens}, "no allergen named")
    try:
        return Brief(**{name: value for name, value in chosen.items() if value is not None})
    except PairingError as error:
        parts.problem(error)
        return None


def _several(label: str, names: dict[str, str], none: str) -> tuple[str, ...] | None:
    key = f"brief-{label}"
    return tuple(st.multiselect(label, list(names), format_func=names.__getitem__, placeholder=none, key=key)) or None


def _limit(label: str, by: float, key: str) -> float | None:
    return st.number_input(label, 0.0, None, None, by, key=f"brief-{key}", placeholder="no limit")
