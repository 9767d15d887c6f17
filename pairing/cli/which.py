"""Which recipe is meant: written out, kept by name, or that of a trial; doses left open are filled by the model."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pairing.cli.trials import LAST, named_trials, trial_named
from pairing.errors import UnknownIdError, nearest
from pairing.model.called import called
from pairing.model.kept_recipe import recipe_kept
from pairing.model.recipe import Recipe, parse_recipe_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from pairing.bench import Bench
    from pairing.learned import Learned

__all__ = ["filled", "read_recipe"]


def read_recipe(text: str, bench: Bench, learned: Callable[[], Learned]) -> Recipe:
    """Read ``base|flavouring=dose;…``, a kept recipe's name or ``name@version``, a base, or how a trial's id begins.

    Parameters
    ----------
    text : str
    bench : Bench
    learned : callable
        Gives the model; asked only where a dose is left open.

    Raises
    ------
    UnknownIdError
        When it is neither a recipe nor a trial nor a base, or names what the shelf does not know.
    """
    shelf = bench.shelf()
    if "|" in text:
        return filled(shelf.recipe(parse_recipe_text(text)), learned)
    if text in shelf.bases:
        return Recipe(text)
    if (kept := recipe_kept(bench.tables("recipes"), text)) is not None:
        return shelf.recipe(kept)  # what is in it may be gone since
    if any(called([text], {name: base.name for name, base in shelf.bases.items()})[text]):
        return Recipe(shelf.base(text).base_id)
    return _of_trial(text, bench)


def _of_trial(text: str, bench: Bench) -> Recipe:
    from pairing.report.period import cups_tried

    if text != LAST and not bench.trials(text):
        known = [*named_trials(bench), *bench.shelf().bases]
        hint = f"write base|flavouring=dose;…, a base or a trial; {nearest(text, known)}"
        raise UnknownIdError(f"{text!r} is neither a recipe nor a trial", hint)
    return cups_tried(bench.shelf(), bench.trial(trial_named(bench, text))["readings"])[0].recipe


def filled(recipe: Recipe, learned: Callable[[], Learned]) -> Recipe:
    """Return a recipe with its open doses as they are needed beside the others."""
    doses = dict(recipe.doses)
    open_doses = [name for name, dose in doses.items() if dose is None]
    if not open_doses:
        return recipe
    model = learned()
    for name in open_doses:
        others = [other for other in doses if other != name]
        needed = model.needed_dose([recipe.base_id], [name], others).iloc[0]
        doses[name] = float(f"{needed['dose_g_per_kg']:.4g}")
    return Recipe(recipe.base_id, doses)
