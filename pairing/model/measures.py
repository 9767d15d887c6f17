"""In which measures a bench likes its amounts: drops, g or ml first, and metric or US volumes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["FIRST", "SYSTEMS", "USUAL", "Measures"]

FIRST = ("drops", "g", "ml")
SYSTEMS = ("metric", "US")
_TSP_ML, _FL_OZ_ML = 4.92892, 29.5735
"""US teaspoon and US fluid ounce, ml (NIST Handbook 44, 2024, Appendix C)."""
_LEAST_TSP, _FROM_FL_OZ = 0.1, 1.0


@dataclass(frozen=True)
class Measures:
    """How amounts are said; what is measured out stays the same.

    Attributes
    ----------
    first : {"drops", "g", "ml"}
        Which figure of an amount comes first, where the amount has it.
    system : {"metric", "US"}
        In which units volumes are said.

    Examples
    --------
    >>> Measures().volume(12.3), Measures(system="US").volume(12.3), Measures(system="US").volume(250)
    ('12 ml', '2.5 tsp', '8.5 fl oz')
    """

    first: str = FIRST[0]
    system: str = SYSTEMS[0]

    def volume(self, ml: float) -> str:
        """Write a volume as a 1 ml syringe, a 10 ml syringe or a spoon gives it."""
        if self.system == "US" and ml / _TSP_ML >= _LEAST_TSP:
            fl_oz = ml / _FL_OZ_ML
            return f"{fl_oz:.1f} fl oz" if fl_oz >= _FROM_FL_OZ else f"{ml / _TSP_ML:.1f} tsp"
        return f"{ml:.2f} ml" if ml < 1 else f"{ml:.1f} ml" if ml < 10 else f"{ml:.0f} ml"

    def said(self, figures: Sequence[tuple[str, str]]) -> str:
        """Join the figures of one amount, each with its kind: the preferred one first, the others in brackets.

        Examples
        --------
        >>> Measures("g").said([("drops", "8 drops"), ("g", "0.20 g")]), Measures().said([("g", "1.1 g")])
        ('0.20 g (8 drops)', '1.1 g')
        """
        first, *others = [text for _, text in sorted(figures, key=lambda figure: figure[0] != self.first)]
        return f"{first} ({', '.join(others)})" if others else first


USUAL = Measures()
"""How amounts are said unless told otherwise."""
