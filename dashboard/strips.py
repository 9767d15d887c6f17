"""Small drawings made of boxes, each with its words: where a number lies on its scale, and how sure that is."""

from __future__ import annotations

from pairing.model.fields import is_missing
from pairing_dashboard.parts import escape
from pairing_dashboard.wording import UNKNOWN, interval, number

__all__ = ["kcal", "liking_strip", "sums"]

_ENDS = (1.0, 9.0)


def liking_strip(value: float, low: float, high: float, *, shown: bool = True) -> str:
    """Draw an expected liking with its 80 % interval on the scale from 1 to 9, the figures beside it.

    Examples
    --------
    >>> "80 % between 6.0 and 8.0" in liking_strip(7, 6, 8)
    True
    """
    said = f"Expected liking {value:.1f}, 80 % between {low:.1f} and {high:.1f}, on a scale from 1 to 9"
    ends = "".join(f'<s style="left:{_at(mark)}%"></s>' for mark in range(1, 10))
    drawn = (
        f'<span class="strip" role="img" aria-label="{said}">{ends}'
        f'<i style="left:{_at(low)}%;width:{_at(high) - _at(low):.1f}%"></i><b style="left:{_at(value)}%"></b></span>'
    )
    figures = f'<span class="figures" aria-hidden="true">{escape(interval(value, low, high))}</span>'
    return f'<span class="liking">{drawn}{figures if shown else ""}</span>'


def _at(value: float) -> float:
    low, high = _ENDS
    return round(100 * (min(max(value, low), high) - low) / (high - low), 1)


def kcal(value: float | None) -> str:
    """Write added energy; quietly where it is unknown.

    Examples
    --------
    >>> kcal(3.57), kcal(None)
    ('<span>+3.6 kcal</span>', '<span class="quiet">energy unknown</span>')
    """
    return _muted("energy") if is_missing(value) else f"<span>+{number(value, 2)} kcal</span>"


def sums(energy_kcal: float | None, cost: float | None, currency: str) -> str:
    """Write what a recipe adds in energy and cost; quietly where that is unknown.

    Examples
    --------
    >>> sums(3.57, None, "EUR")
    '<span>+3.6 kcal</span> · <span class="quiet">cost unknown</span>'
    """
    money = _muted("cost") if is_missing(cost) else f"<span>{cost:.2f} {escape(currency)}</span>"
    return f"{kcal(energy_kcal)} · {money}"


def _muted(what: str) -> str:
    return f'<span class="quiet">{what} {UNKNOWN}</span>'
