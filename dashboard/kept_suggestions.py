"""Suggestions for a brief; the last ones are kept in the bench.

A new process shows those before it has brought back what was learned.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from concurrent.futures import Future
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.model.answers import Suggestion
from pairing.model.caution import Caution
from pairing.model.reason import Reason
from pairing.model.recipe import Recipe
from pairing.safety.cautions import cautions
from pairing_dashboard import session
from pairing_dashboard.background import begun, waited_for

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.brief import Brief

__all__ = ["choosing", "current", "keep", "kept", "still_fit", "suggested"]

BLOB = "dashboard/suggestions"
BRIEF = "brief-last"


def suggested(bench: Bench, brief: Brief) -> list[Suggestion]:
    """Return what is worth trying for a brief and what was drunk today, once for each state of the bench."""
    return waited_for(choosing(bench, brief), "Choosing what to try …")


def choosing(bench: Bench, brief: Brief) -> Future[list[Suggestion]]:
    """Begin to choose what is worth trying, while the page goes on."""
    st.session_state[BRIEF] = brief
    brief, key = replace(brief, already=session.swallowed(bench)), session.state_key(bench)

    def choose() -> list[Suggestion]:
        if (found := kept(bench, key, brief)) is None:
            found = session.learning(bench, key).result().suggest(brief, n=5, random_state=0)
            keep(bench, key, brief, found)
        session.ready_to_learn()
        return found

    return begun(("suggested", session.bench_path(), key, brief), choose)


def current(bench: Bench) -> Future[list[Suggestion]] | None:
    """Begin to choose what is worth trying for the brief that was looked at last; None where there is none."""
    brief = st.session_state.get(BRIEF)
    return None if brief is None else choosing(bench, brief)


def still_fit(bench: Bench, brief: Brief, found: Iterable[Suggestion]) -> list[Suggestion]:
    """Return earlier suggestions with the cautions that they carry now, without those that are stopped by now."""
    shelf, rules, already = session.shelf(bench), session.host(bench).rules, session.swallowed(bench)
    who = tuple(shelf.tasters) if brief.tasters is None else brief.tasters

    def now(recipe: Recipe) -> tuple[Caution, ...]:
        return cautions(recipe, shelf, who, serving_g=brief.serving_g, rules=rules, already=already)

    fresh = [replace(it, cautions=now(it.recipe)) for it in found]
    return [it for it in fresh if all(caution.severity != "stop" for caution in it.cautions)]


def keep(bench: Bench, key: str, brief: Brief, found: list[Suggestion]) -> None:
    """Keep what was suggested for a brief in this state of the bench."""
    rows = [{**vars(s), "recipe": [s.recipe.base_id, dict(s.recipe.doses)]} for s in found]
    text = json.dumps({"key": key, "brief": _text(brief), "suggestions": rows}, default=_fields)
    bench.store_blob(BLOB, text.encode())


def kept(bench: Bench, key: str, brief: Brief) -> list[Suggestion] | None:
    """Return what was suggested last, None when the bench or the brief is another."""
    if (blob := bench.load_blob(BLOB)) is None:
        return None
    found: dict[str, Any] = json.loads(blob)
    rows, names = found["suggestions"], [{f.name for f in fields(kind)} for kind in (Suggestion, Reason, Caution)]
    if (found["key"], found["brief"]) != (key, _text(brief)) or any(set(s) != names[0] for s in rows):
        return None
    if any(set(reason) != names[1] for s in rows for reason in s["reasons"]):
        return None
    if any(set(caution) != names[2] for s in rows for caution in s["cautions"]):
        return None
    return [
        Suggestion(
            **s
            | {"recipe": Recipe(*s["recipe"]), "cautions": tuple(map(Caution.from_dict, s["cautions"]))}
            | {"reasons": tuple(Reason(**_with_tuples(reason)) for reason in s["reasons"])}
        )
        for s in rows
    ]


def _fields(value: Any) -> dict[str, Any]:
    if isinstance(value, Caution):
        return value.to_dict()
    return vars(value) if isinstance(value, Reason) else dict(value)


def _with_tuples(row: dict[str, Any]) -> dict[str, Any]:
    return {name: tuple(value) if isinstance(value, list) else value for name, value in row.items()}


def _text(brief: Brief) -> str:
    return json.dumps(vars(brief), sort_keys=True, default=sorted)
