"""What the model answers: suggestions and advice at the bench."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pairing.model.caution import Caution
from pairing.model.flavouring import Flavouring
from pairing.model.reason import Reason
from pairing.model.recipe import Recipe

if TYPE_CHECKING:
    from pairing.model.portions import Portion

__all__ = ["Advice", "Suggestion"]


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    """A recipe worth trying next, per serving.

    Attributes
    ----------
    recipe : Recipe
        Numeric doses, g/kg of finished drink.
    grams, drops : mapping of flavouring_id to float or None
        What to add to one serving; drops are None where the flavouring does not come in drops.
    dose_low, dose_high : mapping of flavouring_id to float
        80 % interval of the dose that reads 'just right', g/kg.
    liking, liking_low, liking_high : float
        Expected true liking (1–9) at these doses, with 80 % interval.
    likeness : float or None
        Expected likeness (0–10) to the brief's target.
    added_kcal, total_kcal, added_cost : float or None
        Per serving; None is unknown.
    purpose : {"new", "confirm", "adjust", "mask"}
    reasons : tuple of Reason
        Why, as values; ``str(reason)`` is the sentence.
    cautions : tuple of Caution
        Gravest first; none of them is a stop. Empty means none known to this tool.
    """

    recipe: Recipe
    grams: Mapping[str, float]
    drops: Mapping[str, float | None]
    dose_low: Mapping[str, float]
    dose_high: Mapping[str, float]
    liking: float
    liking_low: float
    liking_high: float
    likeness: float | None
    added_kcal: float | None
    total_kcal: float | None
    added_cost: float | None
    purpose: str
    reasons: tuple[Reason, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, kw_only=True)
class Advice:
    """The next addition to a cup.

    Attributes
    ----------
    flavouring_id : str
    stop : bool
        True when nothing more of it should go in.
    add_g : float
        g to add; 0.0 exactly when ``stop`` or ``again``.
    add_drops : float or None
        The same in whole drops; None unless it is dropped, and beyond 20, which nobody counts.
    add_base_g : float
        g of base to dilute with when too strong, else 0.0.
    target_g_per_kg : float
        Dose aimed at, g/kg.
    p_in_range, p_over : float
        Chance that the dose after this addition is in range (within e^±0.2 of the needed dose), and over it.
    reason : str
    dilute_first : Flavouring or None
        The pre-dilution to add instead, when a drop or the scale is too coarse; ``add_g`` stays g of the undiluted
        flavouring.
    add_diluted_g : float or None
        g of that pre-dilution to add.
    paused : bool
        True when it stops at a permitted or unusually high dose, not because the cup is right.
    over : bool
        True when it stops because the cup was called too strong and base would not bring it nearer.
    again : bool
        Rinse, wait a minute, take a sip of plain base, and sip again before deciding.
    more_steps : int
        About how many additions are still to come after this one; 0 when it is expected to be in range.
    portion : Portion or None
        What to add as it is measured out: whole drops, or steps of the scale; of the pre-dilution where there is one.
    needed_g_per_kg : tuple of float or None
        What is believed of the needed dose after what was said of this cup: its middle, and the ends of its 80 %
        interval.
    cautions : tuple of Caution
        Of the cup after the addition, gravest first; where one stops it, that one and those of the cup as it is.
    """

    flavouring_id: str
    stop: bool
    add_g: float
    add_drops: float | None
    add_base_g: float
    target_g_per_kg: float
    p_in_range: float
    p_over: float
    reason: str
    dilute_first: Flavouring | None = None
    add_diluted_g: float | None = None
    paused: bool = False
    over: bool = False
    again: bool = False
    more_steps: int = 0
    portion: Portion | None = None
    needed_g_per_kg: tuple[float, float, float] | None = None
    cautions: tuple[Caution, ...] = ()

    @property
    def stopped(self) -> bool:
        """Whether a caution stops the cup as it is meant to be: nobody is to drink it like this."""
        return any(caution.severity == "stop" for caution in self.cautions)
