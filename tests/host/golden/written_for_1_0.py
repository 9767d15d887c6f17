"""A plugin as it was written for version 1.0 of the interface. Never edit it: it has to load and to work for ever."""

import numpy as np

from pairing.api import (
    AdditionTable,
    Base,
    Command,
    Flavouring,
    PairingError,
    PluginError,
    Recipe,
    RecipeTable,
    Rule,
    View,
    hookimpl,
)

PAIRING_API = (1, 0)


def liked(table: RecipeTable):
    assert len(table) == table.base_index.shape[0]
    sweet = table.any(table.has("tags", "sweet") | table.described("sweet", "syrup"))
    lean = table.base_fat_g_per_100g < 1
    many = table.n_flavourings > 1
    strong = table.total(table.dose_g_per_kg) > 10
    caffeine = table["caffeine_mg_per_g"]
    assert caffeine.shape == table.present.shape == table.flavouring_index.shape
    assert table.incidence.shape == (len(table), len(table.flavouring_ids))
    assert table.base_fraction.shape == (len(table),)
    return np.where(lean & ~many & ~strong, 0.5, -0.25) * sweet


def needed(table: AdditionTable):
    crowd = table.companions / 4
    assert table.companion("fat_loving").shape == table.companion_index.shape
    salty = table.companion_has("tags", "salty").any(axis=1)
    assert table.recipe.shape == table.flavouring_index.shape
    return np.clip(table.fat_loving * (crowd + salty), -1, 1)


def risky(table):
    return np.where(table.any(table.amount("carrier", "ethanol") > 0.3), 1.0, 0.0)


class OwnRule:
    id = "own-class"
    summary = "A rule that is no Rule"
    source = "common practice (no source)"
    acts_on = "liking"
    prior_mean = 0.1
    prior_sd = 0.2
    needs = ("base_ph",)

    def feature(self, table):
        return (table.known("base_ph") & (table.base_ph < 6)) * 1.0

    def because(self, recipe):
        return f"own words on {recipe.base_id}"


@hookimpl
def pairing_bases():
    return [Base(base_id="sorghum", name="Sorghum drink", fat_g_per_100g=0.8, allergens="none", source="invented")]


@hookimpl
def pairing_flavourings():
    yield Flavouring(flavouring_id="loquat", name="Loquat", label_dose="3 drops per 100 ml", carrier="ethanol:0.4")


@hookimpl
def pairing_rules(settings):
    assert settings.get("folder") is None
    rule = Rule(
        id="liked",
        summary="Sweet in a lean base",
        source="from memory",
        acts_on="liking",
        prior_mean=settings.get("mean", 0.2),
        prior_sd=0.4,
        needs=("base_fat_g_per_100g", "dose_g_per_kg"),
        feature=liked,
        because=lambda recipe: f"{len(recipe.flavouring_ids)} in {recipe.base_id}",
    )
    column = Rule(
        id="needed",
        summary="Companions mask fat-loving aromas",
        source="from memory",
        acts_on="dose",
        needs=("fat_loving",),
        feature=needed,
        because=lambda recipe: "masked",
        column="companions",
    )
    caution = Rule(
        id="risky",
        summary="A strong spirit carries it",
        source="from memory",
        acts_on="caution",
        feature=risky,
        because=lambda recipe: "strong spirit",
    )
    return (rule, column, caution, OwnRule())


@hookimpl
def pairing_read_trials(path):
    if path.suffix != ".loquat":
        return None
    import pandas as pd

    return pd.DataFrame(
        {"trial_id": ["t1"], "base_id": ["sorghum"], "flavouring_id": ["loquat"], "dose_g_per_kg": [1.0]}
    )


@hookimpl
def pairing_commands():
    return [Command(name="loquat", summary="Say loquat", add_arguments=lambda parser: None, run=lambda arguments: 0)]


@hookimpl
def pairing_views():
    return [View(name="loquat", title="Loquat", show=lambda bench, model: None, summary="About loquats")]


LOGGED = []


@hookimpl
def pairing_trial_logged(trial):
    if trial is None:
        raise PluginError("no trial", "log one") from PairingError("none", "log")
    LOGGED.append(Recipe("sorghum", {"loquat": 1.0}))
