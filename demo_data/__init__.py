"""The demo: a rowing club's kitchen, invented from the bases to the suppliers, as tables of a bench."""

from __future__ import annotations

from pathlib import Path

__all__ = ["PRIOR", "TABLES", "files"]

TABLES = ("bases", "flavourings", "tasters", "targets", "readings", "calibrations", "recipes")
"""Tables that the demo has, in the order in which a bench takes them in."""

PRIOR = Path(__file__).with_name("pool-prior.npz")
"""What 40 invented kitchens know of the demo's bases and flavourings."""


def files() -> dict[str, Path]:
    """Return the file of each table, by the table's name."""
    return {name: Path(__file__).with_name(f"{name}.csv") for name in TABLES}
