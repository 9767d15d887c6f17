"""Three-digit codes that tell a taster nothing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from pairing.errors import LogError, QuantityError
from pairing.model.chance import generator

if TYPE_CHECKING:
    import numpy as np

__all__ = ["N_CODES", "codes", "read_code"]

N_CODES = 900
"""100 to 999: three-digit random numbers are the usual blinding code (ISO 13299:2016)."""


def codes(n: int, random_state: int | np.random.Generator | None = None, used: Iterable[str] = ()) -> tuple[str, ...]:
    """Draw n distinct codes from 100 to 999.

    Parameters
    ----------
    n : int
    random_state : int, Generator or None
    used : iterable of str
        Codes that are on other cups of the session.

    Raises
    ------
    QuantityError
        When fewer than n codes are left.

    Examples
    --------
    >>> drawn = codes(4, random_state=0)
    >>> len(set(drawn)), all(100 <= int(code) <= 999 for code in drawn)
    (4, True)
    """
    taken = {str(code) for code in used}
    free = [code for code in map(str, range(100, 1000)) if code not in taken]
    if not 1 <= n <= len(free):
        raise QuantityError(
            f"{n} codes were asked for, {len(free)} of {N_CODES} three-digit codes are free",
            "spread the cups over several sessions",
        )
    picked = generator(random_state).choice(len(free), size=n, replace=False)
    return tuple(free[i] for i in picked)


def read_code(text: object) -> str:
    """Read a code as somebody writes it down.

    Examples
    --------
    >>> read_code(" 407 ")
    '407'
    """
    code = str(text).strip()
    if not (code.isascii() and code.isdigit() and len(code) == 3 and code[0] != "0"):
        raise LogError(f"{code!r} is no code, codes are numbers from 100 to 999", "copy it from the cup")
    return code
