"""What is said of recipes and items, as values: programs read the fields, people the words that `wording` makes."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.model import wording

__all__ = ["Lack", "Reason"]


@dataclass(frozen=True, kw_only=True)
class Reason:
    """One thing that speaks for or against a recipe, or one part of what is expected of it; None is not told.

    Attributes
    ----------
    kind : str
        What kind of trial it is: ``new, confirm, adjust``. A part of what is expected: ``base, flavouring, affinity``
        (a flavouring or family in this base)``, pair, family, rule``, and in an explanation also ``average, taster,
        dose, bounds``. Else ``needed dose, lead, lowered`` (to keep a limit)``, worth, stock, unknown, avoided``,
        ``no food`` (or a poison)``, limit, goal`` (of a plugin)``.
    base_id, flavouring_ids, families
        What it is about.
    points, sd : float or None
        Points that it brings, or that one cup is worth, with their standard deviation.
    cups : int or None
        Cups that the log holds of it; of a part, those that were scored; of ``stock``, those that are left.
    text : str
        The words of a rule, limit or goal; empty for all else, whose words follow from the fields.
    rule_id : str or None
    target_id : str or None
        The target, when the points are of likeness.
    liking : float or None
        How it was liked, 1–9.
    poured : int or None
        Cups that were poured straight to their dose.
    dose_g_per_kg, tried_g_per_kg : float or None
        The dose now, and in the latest cup.
    strength : int or None
        How strong that cup read, or how strong a dose will probably read, 0–5.
    label_ratio, log_sd : float or None
        Needed dose ÷ label direction, and its standard deviation in natural log.
    what : str
        What is not known, or what somebody avoids; of a part that has no id, which one it is.
    item_ids : tuple of str
        Of what it is not known, or what is left out for it.
    taster : str or None
        Who avoids it.
    share, share_plain : float or None
        In which share of cups an off-note is expected, with it and in the plain base.

    Examples
    --------
    >>> print(Reason(kind="affinity", base_id="oat", flavouring_ids=("plum",), points=0.42, sd=0.3, cups=2))
    plum in oat: gained 0.4 ± 0.4 points in 2 cups
    """

    kind: str
    base_id: str | None = None
    flavouring_ids: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    points: float | None = None
    sd: float | None = None
    cups: int | None = None
    text: str = ""
    rule_id: str | None = None
    target_id: str | None = None
    liking: float | None = None
    poured: int | None = None
    dose_g_per_kg: float | None = None
    tried_g_per_kg: float | None = None
    strength: int | None = None
    label_ratio: float | None = None
    log_sd: float | None = None
    what: str = ""
    item_ids: tuple[str, ...] = ()
    taster: str | None = None
    share: float | None = None
    share_plain: float | None = None

    def __str__(self) -> str:
        return wording.sentence(self)

    @property
    def leaves_out(self) -> bool:
        """Whether it says which items no suggestion holds, the same for all of them."""
        return self.kind in ("unknown", "avoided", "limit", "no food")

    @property
    def about(self) -> tuple[object, ...]:
        """What it is about, without the figures."""
        return self.kind, self.base_id, self.flavouring_ids, self.families, self.rule_id


@dataclass(frozen=True)
class Lack:
    """A fact that nobody stated.

    Attributes
    ----------
    item_id : str
        The base or flavouring.
    what : str
        ``energy``, ``sugars``, ``sodium``, ``ethanol``, ``caffeine``, ``cost`` or ``allergens``.

    Examples
    --------
    >>> str(Lack("plum", "energy"))
    'plum lacks energy'
    """

    item_id: str
    what: str

    def __str__(self) -> str:
        return wording.lacks([self])[0]
