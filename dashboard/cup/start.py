"""Links that start a cup: the recipe stands in the address of the bench, so Back, a reload and a bookmark mean it."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text
from pairing_dashboard import pages, parts, session
from pairing_dashboard.cup import logged
from pairing_dashboard.cup.draft import Draft

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.brief import Brief

__all__ = ["ADDRESS", "asked_for", "drop_address", "go_on_link", "link"]

ADDRESS = ("cup", "on", "recipe", "purpose", "by", "for", "serving", "target")
"""What may stand in the address of a cup."""
_IDS = "cups-to-start"


def link(
    label: str,
    recipe: Recipe | None = None,
    *,
    purpose: str = "",
    by: str = "own",
    brief: Brief | None = None,
    primary: bool = False,
    stretch: bool = False,
) -> None:
    """Draw a link that starts a cup, of a recipe or an empty one.

    Parameters
    ----------
    label : str
    recipe : Recipe, optional
        A dose of None is stepped without an aim.
    purpose, by : str
        As in `Draft`: why, and who chose it.
    brief : Brief, optional
        Whom it is for, in what serving, and held against what.
    primary : bool
        Whether it is what the page is for.
    stretch : bool
        Whether it is as wide as its place.
    """
    facts: dict[str, str | None] = {
        "recipe": recipe_text(recipe) if recipe else None,
        "purpose": purpose,
        "by": by if recipe else None,
        "for": "\n".join(brief.tasters or ()) if brief else None,
        "serving": f"{brief.serving_g:g}" if brief and brief.serving_g else None,
        "target": brief.target_id if brief else None,
    }
    address = {name: value for name, value in facts.items() if value}
    cup = _new_id("|".join(address.values()))
    key = f"{'go' if primary else 'way'}-{cup}"
    with st.container(key=key, width="stretch" if stretch else "content"):
        pages.link("bench", label, icon=":material/add:", stretch=stretch, cup=cup, **address)


def _new_id(what: str) -> str:
    """Return the id that the next cup of something will have: the same until it is begun, so two taps begin one."""
    ids: dict[str, str] = st.session_state.setdefault(_IDS, {})
    return ids.setdefault(what, uuid.uuid4().hex)


def asked_for(bench: Bench, cup: str) -> Draft | None:
    """Begin the cup that the address asks for; None when it was begun before, or nothing can be begun."""
    said = st.query_params
    if "on" in said and not bench.read_only:
        return _go_on(bench, cup, said["on"])
    if bench.read_only or not _is_id(cup) or _is_logged(bench, cup):
        return None
    if "recipe" not in said:
        return _begin(bench, cup)
    try:
        recipe = parse_recipe_text(said["recipe"])
        serving_g = float(said["serving"]) if "serving" in said else None
        shelf = session.shelf(bench)
        for item in recipe.doses:
            shelf.flavouring(item)
        if recipe.base_id not in {*shelf.bases, *(b.base_id for b in session.host(bench).bases)}:
            shelf.base(recipe.base_id)
    except PairingError as error:
        parts.problem(error)
        return None
    except ValueError:
        return None
    facts: dict[str, Any] = {
        "chosen_by": "suggested" if said.get("by") == "suggested" else "own",
        "purpose": said.get("purpose", ""),
        "for_tasters": [t for t in said.get("for", "").split("\n") if t],
        "serving_g": serving_g,
        "target_id": said.get("target"),
    }
    return _begin(bench, cup, recipe, **facts)


def go_on_link(bench: Bench, trial_id: str) -> None:
    """Draw a link that goes on with a logged cup; none where only its readings are kept.

    How many steps it had stands in the address: once the cup went on, the same address does not begin it again.
    """
    if len(steps := bench.trial(trial_id)["steps"]):
        pages.link("bench", "Go on with it", icon=":material/science:", cup=trial_id, on=str(len(steps)))


def _go_on(bench: Bench, trial_id: str, steps: str) -> Draft | None:
    """Begin where a logged cup ended; None where it is not as it was when that was asked for."""
    if steps != str(len(bench.trial(trial_id)["steps"])):
        return None
    facts = parts.attempt(logged.facts_of, bench, trial_id)
    return None if facts is None else session.save(bench, Draft(trial_id).add("logged", **facts))


def _begin(bench: Bench, cup: str, recipe: Recipe | None = None, **facts: Any) -> Draft:
    """Start a cup and keep it: empty, or of a recipe."""
    ids: dict[str, str] = st.session_state.get(_IDS, {})
    for what in [what for what, other in ids.items() if other == cup]:
        del ids[what]  # the link to it starts another one from now on
    draft = Draft(cup)
    if recipe is not None:
        if recipe.base_id not in session.shelf(bench).bases:
            session.take_on(bench, recipe.base_id)
        aims = {i: dose for i, dose in recipe.doses.items() if dose is not None}
        draft = draft.add("base", base_id=recipe.base_id, aims_g_per_kg=aims, **facts)
        draft = draft.add("plan", flavouring_ids=list(recipe.doses), closed=True)
    return session.save(bench, draft)


def _is_logged(bench: Bench, cup: str) -> bool:
    """Whether the log holds that cup already."""
    return any(map(len, bench.trial(cup).values()))


def _is_id(cup: str) -> bool:
    """Whether a text is an id as this dashboard makes them; nothing else begins a cup."""
    try:
        return uuid.UUID(hex=cup).hex == cup
    except ValueError:
        return False


def drop_address() -> None:
    """Take a cup out of the address; what else stands there begins nothing without it, and each is a step for Back."""
    st.query_params.pop("cup", None)
