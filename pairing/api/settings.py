"""Settings of a plugin, as it declares them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

__all__ = ["KINDS", "Setting"]

KINDS = ("number", "whole", "yes-no", "text", "file")
"""What the value of a setting may be."""


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One setting in the plugin's part of the bench's ``plugins.toml``. Since 1.1.

    Attributes
    ----------
    name : str
        Lower case with underscores, the unit in it: ``max_sugars_g_per_100g``.
    about : str
        One sentence that people read.
    kind : {"number", "whole", "yes-no", "text", "file"}
        ``file``: a path, taken from the bench's folder on; it has to be there.
    unit : str
        For people, such as ``g/kg``.
    low, high : float or None
        Closed range of a number.
    choices : tuple of str
        Texts that are allowed; empty: any.
    default : any
        What the plugin is handed where nothing is set; None: nothing.
    each : {"", "base", "flavouring", "taster", "name"}
        The setting is a table with one such value for each of these ids (``name``: any word).

    Examples
    --------
    >>> Setting(name="max_sugars_g_per_100g", about="Most sugars in a cup", kind="number", unit="g/100 g", low=0).low
    0
    """

    name: str
    about: str
    kind: str = "text"
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    default: Any = None
    each: str = ""
