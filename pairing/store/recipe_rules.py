"""What a kept recipe must agree on with the bench: its doses can be read, and are of flavourings that are known."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from pairing.errors import PairingError, TableError, nearest
from pairing.model.called import called, names_of
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text
from pairing.store.problems import Problems
from pairing.store.raw import absent
from pairing.store.rules import Data

__all__ = ["check_recipes"]


def check_recipes(data: Data, known: Iterable[str] | None, problems: Problems) -> None:
    """Refuse recipes whose doses cannot be read, do not fit into the drink, or are of no known flavouring.

    A flavouring that is called by its name gets its id.
    """
    names = None if known is None else names_of([known])
    for i in problems.first_time(np.flatnonzero(~absent(data["doses"]))):
        said = data["doses"][i]
        try:
            doses = parse_recipe_text(f"{recipe_text(Recipe(data['base_id'][i], {}))}{said}").doses
            for name, dose in doses.items():
                if dose is None:
                    raise TableError(f"doses: {name} has no dose", f"write {name}=1.5, in g/kg")
            ids = doses if names is None else {_id(name, names): dose for name, dose in doses.items()}
            if len(ids) < len(doses):
                raise TableError(f"doses: {said!r} names one flavouring twice", "give it one dose")
        except PairingError as error:
            problems.refuse([i], "doses", said, error.message, error.hint)
            continue
        if ids.keys() != doses.keys():
            problems.note(f"{said!r} is taken for doses of {', '.join(ids)}", "doses")
            data["doses"] = data["doses"].copy()
            data["doses"][i] = recipe_text(Recipe(data["base_id"][i], ids)).partition("|")[2]
            data.known.pop("doses", None)


def _id(name: str, names: dict[str, str]) -> str:
    found = called([name], names)[name]
    if len(found) > 1:
        raise TableError(f"doses: {name!r} may be {' or '.join(found)}", "say which by its id")
    if not found:
        raise TableError(f"doses: no flavouring {name!r}", nearest(name, names))
    return found[0]
