"""What a caution is."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["NONE_KNOWN", "PROFESSIONAL", "SEVERITIES", "Caution", "worded"]

NONE_KNOWN = "none known to this tool"
"""How the absence of a caution is worded: never a green light."""
PROFESSIONAL = "local codes and licensed practice come first"
SEVERITIES = ("stop", "warn", "note")


@dataclass(frozen=True, kw_only=True)
class Caution:
    """A safety note that travels with every recipe it applies to.

    Attributes
    ----------
    text : str
    kind : str
        ``allergen``, ``ethanol``, ``intake``, ``label``, ``concentrate``, ``time``, ``sharing``, ``person``,
        ``dose``, ``food use`` or ``unknown``.
    severity : {"stop", "warn", "note"}
        ``stop``: not to be served like this.
    source : str
        Regulation, opinion or *common practice (no source)*.
    jurisdiction : str
        ``EU``, ``US`` or ``any``.
    cannot_know : str
        What the tool has no way of knowing.
    """

    text: str
    kind: str
    severity: str
    source: str
    jurisdiction: str
    cannot_know: str

    def __str__(self) -> str:
        return self.text


def worded(found: tuple[Caution, ...]) -> tuple[str, ...]:
    """Return the texts, gravest first; none is worded as such.

    Examples
    --------
    >>> worded(())
    ('none known to this tool',)
    """
    ranked = sorted(found, key=lambda c: SEVERITIES.index(c.severity))
    return tuple(c.text for c in ranked) or (NONE_KNOWN,)
