"""A recipe card: one page that says what goes in, how, what it comes to, what to mind and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pairing.model.caution import NONE_KNOWN, PROFESSIONAL, Caution
from pairing.model.recipe import Recipe, recipe_text
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.serving import Serving, serving
from pairing.quantities.directions import label_dose
from pairing.report.evidence import Evidence, evidence
from pairing.report.facts import Fact, facts
from pairing.report.full_glass import FullGlass, full_glass
from pairing.report.keeps import Keeps, keeps
from pairing.report.lots import lots_that_matter
from pairing.report.scaling import Batch, scale
from pairing.safety.cautions import cautions as cautions_of
from pairing.stock.shopping import Need, needs_of

if TYPE_CHECKING:
    import pandas as pd

    from pairing.api import RuleLike
    from pairing.blind.check import BlindCheck
    from pairing.learned import Learned

__all__ = ["Card", "Dose", "recipe_card"]


@dataclass(frozen=True, kw_only=True)
class Dose:
    """Where one dose stands, all in g/kg; None where it is not known.

    Attributes
    ----------
    flavouring_id, name : str
    dose : float
    needed, low, high : float or None
        Dose that reads 'just right' in this company, with its 80 % interval.
    reachable : bool
        Whether that dose lies within what may be poured.
    readings : float
        Readings of strength that it rests on.
    label_low, label_high : float or None
        The supplier's direction.
    label : str or None
        How its words were understood, per what they count, and which ounce they may mean instead.
    """

    flavouring_id: str
    name: str
    dose: float
    needed: float | None = None
    low: float | None = None
    high: float | None = None
    reachable: bool = True
    readings: float = 0
    label_low: float | None = None
    label_high: float | None = None
    label: str | None = None


@dataclass(frozen=True, kw_only=True)
class Card:
    """All that a recipe card says.

    Attributes
    ----------
    title : str
    recipe : Recipe
    batch : Batch
        Amounts, rounded to scale and dropper.
    per_serving : Serving
    facts : tuple of Fact
    doses : tuple of Dose
    liking, liking_low, liking_high : float or None
        Expected true liking with its 80 % interval.
    cautions : tuple of Caution
    evidence : Evidence or None
    short : tuple of Need
        Of what there is known to be too little for the batch.
    keeps : Keeps or None
        How long it was found to hold its strength; None without a model.
    lots : tuple of mapping
        Of the lots in use what matters for the dose, see `pairing.report.lots.lots_that_matter`.
    glass : FullGlass or None
        At which doses to pour it to be finished; None where the recipe has them already, and without a model.
    poured : Batch or None
        That, at the size of the batch.
    currency, made_on : str
    """

    title: str
    recipe: Recipe
    batch: Batch
    per_serving: Serving
    facts: tuple[Fact, ...]
    doses: tuple[Dose, ...]
    liking: float | None
    liking_low: float | None
    liking_high: float | None
    cautions: tuple[Caution, ...]
    evidence: Evidence | None
    currency: str
    made_on: str
    short: tuple[Need, ...] = ()
    keeps: Keeps | None = None
    lots: tuple[Mapping[str, Any], ...] = ()
    glass: FullGlass | None = None
    poured: Batch | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain values for JSON; what is unknown is None."""
        return {
            "title": self.title,
            "recipe": recipe_text(self.recipe),
            "base_id": self.recipe.base_id,
            "doses_g_per_kg": dict(self.recipe.doses),
            "batch": _plain({k: v for k, v in vars(self.batch).items() if k != "recipe"}),
            "nutrition": _plain(self.facts),
            "jurisdiction": self.per_serving.jurisdiction,
            "cost_per_serving": {"added": self.per_serving.added_cost, "total": self.per_serving.total_cost},
            "currency": self.currency,
            "unknown": [{**vars(lack), "sentence": str(lack)} for lack in self.per_serving.unknown],
            "assumptions": list(self.per_serving.assumptions),
            "allergens": sorted(self.per_serving.allergens),
            "allergens_unknown": list(self.per_serving.allergens_unknown),
            "dose_ranges": _plain(self.doses),
            "liking": _plain({"expected": self.liking, "low": self.liking_low, "high": self.liking_high}),
            "cautions": [caution.to_dict() for caution in self.cautions] or [NONE_KNOWN],
            "evidence": _plain(self.evidence),
            "short": [{**vars(need), "buy_g": need.buy_g, "share": need.share} for need in self.short],
            "keeps": _plain(self.keeps),
            "lots": [_plain(dict(row)) for row in self.lots],
            "full_glass": None if self.glass is None else _plain(self.glass.to_dict()),
            "made_on": self.made_on,
            "note": f"{PROFESSIONAL}",
        }


def recipe_card(
    recipe: Recipe,
    shelf: Shelf,
    *,
    model: Learned | None = None,
    comparisons: pd.DataFrame | None = None,
    checks: Mapping[str, BlindCheck] = MappingProxyType({}),
    servings: float = 1,
    litres: float | None = None,
    serving_g: float | None = None,
    scale_g: float = 0.1,
    jurisdiction: str | None = None,
    tasters: Sequence[str | Taster] = (),
    rules: Sequence[RuleLike] | None = None,
    already: Mapping[str, Any] | None = None,
    currency: str = "",
    made_on: str = "",
    called: str = "",
) -> Card:
    """Make the card of a recipe.

    Parameters
    ----------
    recipe : Recipe
        Numeric doses.
    shelf : Shelf
    model : Learned, optional
        For the expected liking, the needed doses and the evidence.
    comparisons : DataFrame, optional
        Blind checks.
    checks : mapping of id to BlindCheck
        How they were planned, see `pairing.blind.kept.finished`.
    servings, litres, serving_g, scale_g
        See :func:`pairing.report.scaling.scale`.
    jurisdiction : {"EU", "US"}, optional
    tasters : sequence of str or Taster
        Who drinks it.
    rules : sequence of RuleLike, optional
        Of plugins, for their cautions; the model's when not given.
    already : mapping, optional
        What the tasters swallowed today, see `pairing.cautions`.
    currency : str
    made_on : str
        Date on the card.
    called : str
        Under which name it is kept: the title begins with it.

    Raises
    ------
    QuantityError
        When a dose is open or the size is outside one cup to 20 litres.
    """
    size: dict[str, Any] = {"servings": servings, "litres": litres, "serving_g": serving_g, "scale_g": scale_g}
    batch = scale(recipe, shelf, **size)
    glass = None if model is None else full_glass(recipe, model)
    one = serving(recipe, shelf, batch.serving_g, jurisdiction)
    names = [shelf.flavouring(f).name for f in recipe.flavouring_ids]
    liking = _liking(model, recipe)
    rules = (() if model is None else model.rules) if rules is None else rules
    what = f"{shelf.base(recipe.base_id).name} with {_listed(names)}" if names else shelf.base(recipe.base_id).name
    return Card(
        title=f"{called}: {what}" if called else what,
        recipe=recipe,
        batch=batch,
        per_serving=one,
        facts=facts(one),
        doses=_doses(recipe, shelf, model),
        liking=liking[0],
        liking_low=liking[1],
        liking_high=liking[2],
        cautions=cautions_of(
            recipe, shelf, tasters, serving_g=batch.serving_g, jurisdiction=jurisdiction, rules=rules, already=already
        ),
        evidence=None if model is None else evidence(recipe, model.log, shelf, comparisons, checks),
        currency=currency,
        made_on=made_on,
        short=tuple(need for need in needs_of(batch.base_g, recipe, shelf) if need.short),
        keeps=None if model is None or not recipe.doses else keeps(recipe, model.over_time()),
        lots=() if model is None else lots_that_matter(model, recipe.doses),
        glass=glass,
        poured=None if glass is None else scale(glass.recipe, shelf, **size),
    )


def _liking(model: Learned | None, recipe: Recipe) -> tuple[float | None, float | None, float | None]:
    if model is None:
        return None, None, None
    row = model.predict([recipe]).iloc[0]
    return float(row["liking"]), float(row["liking_low"]), float(row["liking_high"])


def _doses(recipe: Recipe, shelf: Shelf, model: Learned | None) -> tuple[Dose, ...]:
    out = []
    for name, dose in recipe.doses.items():
        flavouring = shelf.flavouring(name)
        label = label_dose(flavouring, shelf.base(recipe.base_id))
        known: dict[str, Any] = {}
        if label is not None:
            words = None if flavouring.label_dose_g_per_kg else label.in_short
            known = {"label_low": label.low, "label_high": label.high, "label": words}
        if model is not None:
            others = [other for other in recipe.doses if other != name]
            row = model.needed_dose([recipe.base_id], [name], others).iloc[0]
            known |= {"needed": float(row["dose_g_per_kg"]), "low": float(row["low"]), "high": float(row["high"])}
            known |= {"reachable": bool(row["reachable"]), "readings": float(row["readings"])}
        out.append(Dose(flavouring_id=name, name=flavouring.name, dose=float(dose or 0.0), **known))
    return tuple(out)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return _plain(dict(vars(value))) if hasattr(value, "__dataclass_fields__") else value
