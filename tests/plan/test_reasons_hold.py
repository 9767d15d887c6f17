"""Every reason is true of its recipe: it speaks of what is in the cup, and of gains where scored cups say so."""

from __future__ import annotations

import re
from dataclasses import fields

import numpy as np
import pandas as pd
import pytest

import pairing_demo_data
from pairing import Bench, Brief, Recipe
from pairing.host.scoring import features
from pairing.host.tables import recipe_table
from pairing.learned import learn_shelf
from pairing.model.flavouring import Flavouring
from pairing.model.reason import Reason
from pairing.model.wording import sentence
from pairing.plan.reasons import reasons
from pairing.report.card import recipe_card
from pairing.safety.cautions import cautions

PARTS = {"base", "flavouring", "affinity", "pair", "family", "rule"}
STANDING = {"new", "confirm", "adjust"}
OF_DOSES = {"needed dose", "lead", "lowered"}
TARGET = "clubhouse-cake"


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    bench = Bench.create(tmp_path_factory.mktemp("reasons") / "demo")
    bench.load(**pairing_demo_data.files())
    return bench.learn(random_state=0), bench.tables()["readings"]


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    bench = Bench.create(tmp_path_factory.mktemp("reasons") / "empty")
    files = pairing_demo_data.files()
    bench.load(bases=files["bases"], flavourings=files["flavourings"])
    return bench.learn(random_state=0), bench.tables()["readings"]


def told(model, brief, recipe, eased=1.0):
    """Return the reasons for a recipe, at its doses."""
    mean, sd = model.dose_posterior([recipe.base_id], [recipe.flavouring_ids], brief.tasters)
    pairs = zip(mean[0].tolist(), sd[0].tolist(), strict=True)
    needed = dict(zip(recipe.flavouring_ids, pairs, strict=True))
    return tuple(reasons(model, brief, recipe, 0.1, needed, eased))


def some_recipes(model, n, rng):
    """Draw recipes of one to three flavourings at doses around those needed, and whether a limit lowered them."""
    for _ in range(n):
        base_id = str(rng.choice(list(model.shelf.bases)))
        ids = sorted(map(str, rng.choice(list(model.shelf.flavourings), rng.integers(1, 4), replace=False)))
        mean = model.dose_posterior([base_id], [tuple(ids)])[0][0]
        eased = float(rng.choice([1.0, 0.8]))
        doses = np.minimum(np.exp(mean + rng.choice([0.0, 0.4], len(ids)) * rng.standard_normal(len(ids))) * eased, 300)
        yield Recipe(base_id, dict(zip(ids, doses.tolist(), strict=True))), eased


def readings_of(table):
    """One row per reading: trial, base, flavourings, liking, likeness to the target."""
    rows = []
    for (trial, _, _), part in table.groupby(["trial_id", "taster", "reading"], sort=False):
        first, inside = part.iloc[0], [f for f in part["flavouring_id"] if isinstance(f, str)]
        likeness = first["likeness"] if first["target_id"] == TARGET else np.nan
        rows.append((trial, first["base_id"], inside, float(first["liking"]), float(likeness)))
    return rows


def counted(reason, shelf, rows):
    """Count the scored cups behind a part, from the table of readings."""
    family = {f: (item.family or "").casefold() for f, item in shelf.flavourings.items()}

    def holds(base_id, inside):
        groups = [family[f] for f in inside]
        return (
            reason.base_id in (None, base_id)
            and set(reason.flavouring_ids) <= set(inside)
            and all(groups.count(name) >= reason.families.count(name) for name in reason.families)
        )

    score = 3 if reason.target_id is None else 4
    return len({row[0] for row in rows if not np.isnan(row[score]) and holds(row[1], row[2])})


def counted_by_rule(rule, model):
    """Count the scored cups of which a rule speaks."""
    log, names = model.log, np.array([*model.shelf.flavourings, ""])
    scored = np.flatnonzero(~np.isnan(log.liking))
    base_ids = np.array(list(model.shelf.bases))[log.recipes.base[scored]].tolist()
    inside = log.recipes.present[scored]
    ids = [names[row[held]].tolist() for row, held in zip(log.recipes.flavouring[scored], inside, strict=True)]
    doses = [np.exp(row[held]).tolist() for row, held in zip(log.recipes.log_dose[scored], inside, strict=True)]
    matrix, _ = features([rule], recipe_table(model.shelf, base_ids, ids, doses))
    return len(set(log.cup[scored[matrix[:, 0] != 0]].tolist()))


def check(reason, recipe, shelf, known):
    """Check one reason: its kind, what it speaks of, its figures, its words."""
    said, named = str(reason), sentence(reason, shelf)
    assert reason.kind in known
    assert reason.base_id in (None, recipe.base_id)
    assert set(reason.flavouring_ids) <= set(recipe.doses)
    assert set(reason.families) <= {(shelf.flavouring(f).family or "").casefold() for f in recipe.doses}
    assert not re.search(r"^$|\bNone\b|\bnan\b", said)
    assert not re.search(r"^$|\bNone\b|\bnan\b", named)
    absent = ({*shelf.flavourings} - {*recipe.doses}) | ({*shelf.bases} - {recipe.base_id})
    ours = said.replace(reason.text, "") if reason.text else said  # a rule may speak of salt
    assert not [name for name in absent if re.search(rf"(?<![\w-]){name}(?![\w-])", ours)]
    assert (reason.text != "") == (reason.kind == "rule")
    assert bool(re.search(r"\b(gained|lost)\b", said)) == (reason.kind in PARTS and reason.cups > 0)
    assert bool(re.search(r"expected to (gain|lose)\b", said)) == (reason.kind in PARTS and reason.cups == 0)
    for number in (reason.points, reason.sd, reason.liking, reason.label_ratio, reason.log_sd):
        assert number is None or np.isfinite(number)
    assert {f.name for f in fields(Reason)} == set(vars(reason))
    assert hash(reason) is not None


@pytest.mark.parametrize("goal", ["liking", "likeness"])
def test_every_reason_on_the_demo_bench_is_true_of_its_recipe(demo, goal):
    model, table = demo
    brief = Brief(goal=goal, target_id=TARGET if goal == "likeness" else None)
    rows, seen = readings_of(table), set()
    for recipe, eased in some_recipes(model, 120, np.random.default_rng(len(goal))):
        for reason in told(model, brief, recipe, eased):
            check(reason, recipe, model.shelf, PARTS | STANDING | OF_DOSES | {"worth"})
            seen.add(reason.kind)
            if reason.kind == "rule":
                rule = next(r for r in model.rules if r.id == reason.rule_id)
                assert reason.cups == counted_by_rule(rule, model)
            elif reason.kind in PARTS:
                assert reason.cups == counted(reason, model.shelf, rows)
    assert seen >= {"flavouring", "affinity", "pair", "new", "worth"} | OF_DOSES
    assert seen >= ({"rule", "base"} if goal == "liking" else {"affinity"})


def test_on_an_empty_bench_nothing_is_gained_and_every_dose_is_a_guess(empty):
    model, _ = empty
    seen = set()
    for recipe, eased in some_recipes(model, 60, np.random.default_rng(1)):
        for reason in told(model, Brief(), recipe, eased):
            check(reason, recipe, model.shelf, {"new", "rule", "worth"} | OF_DOSES)
            assert not reason.cups
            seen.add(reason.kind)
    assert {"rule", "needed dose", "lowered"} <= seen


def test_tried_recipes_are_told_as_such(demo):
    model, table = demo
    rows = [row for row in readings_of(table) if row[2]]
    kinds = set()
    for trial, base_id, inside, _, _ in rows[::19]:
        mean = model.dose_posterior([base_id], [tuple(sorted(inside))])[0][0]
        for factor in (1.0, 2.0):
            recipe = Recipe(base_id, dict(zip(sorted(inside), (factor * np.exp(mean)).tolist(), strict=True)))
            first = told(model, Brief(), recipe)[0]
            check(first, recipe, model.shelf, STANDING)
            same = {t for t, b, f, _, _ in rows if b == base_id and set(f) == set(inside)}
            assert trial in same
            assert first.cups == len(same)
            kinds.add(first.kind)
    assert kinds == {"confirm", "adjust"}


def test_an_id_within_another_is_not_mistaken_for_it():
    """With peppermint logged and mint only on the shelf, peppermint keeps its cups beside mint."""
    from plan_kitchen import shelf as kitchen

    from pairing.model.shelf import Shelf

    both = [
        Flavouring(flavouring_id=f, name=f.title(), label_dose_g_per_kg=2, family=f, food_use="yes")
        for f in ("mint", "peppermint")
    ]
    shelf = Shelf.of(kitchen().bases.values(), both)
    row = {"base_id": "oat", "flavouring_id": "peppermint", "dose_g_per_kg": 2.0, "strength": 3, "reading": 1.0}
    log = [{**row, "trial_id": f"t{i}", "liking": 8.0, "taster": "me"} for i in range(26)]
    log += [
        {**log[0], "trial_id": f"p{i}", "base_id": "rice", "flavouring_id": None, "dose_g_per_kg": 0.0, "liking": 3}
        for i in range(6)
    ]
    found = told(learn_shelf(shelf, pd.DataFrame(log)), Brief(), Recipe("oat", {"mint": 2.0, "peppermint": 2.0}))
    about = [r for r in found if r.flavouring_ids == ("peppermint",) and r.kind in PARTS]
    assert about
    assert {r.cups for r in about} == {26}
    assert "peppermint: gained" in " ".join(map(str, about))
    doses = [r.flavouring_ids for r in found if r.kind == "needed dose"]
    assert doses == [("mint",)], "mint alone was never tasted"


def test_no_answer_rests_on_words(demo, monkeypatch):
    """What is suggested, warned of and put on a card is found without a single sentence being made."""
    model, _ = demo

    def refuse(*_):
        raise AssertionError("a sentence was made")

    expected = model.suggest(Brief(max_added_kcal=60, avoid_allergens=("nuts",)), 3, random_state=0)
    for name in ("sentence", "part", "lacks"):
        monkeypatch.setattr(f"pairing.model.wording.{name}", refuse)
    with pytest.raises(AssertionError):
        str(expected[0].reasons[0])
    assert model.suggest(Brief(max_added_kcal=60, avoid_allergens=("nuts",)), 3, random_state=0) == expected
    assert cautions(expected[0].recipe, model.shelf)
    assert recipe_card(expected[0].recipe, model.shelf, model=model).cautions
