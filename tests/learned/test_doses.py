"""The table of needed doses and base factors as people read it."""

import numpy as np
import pytest
from small_logs import BASES, FLAVOURINGS, cup, learn

from pairing.errors import UnknownIdError
from pairing.model.recipe import Recipe
from pairing.report.card import recipe_card

COLUMNS = ["base_id", "flavouring_id", "dose_g_per_kg", "low", "high", "log_sd", "label_ratio", "readings", "reachable"]


@pytest.fixture(scope="module")
def model():
    return learn(*[cup("oat", {"quince": 2.0}, 3), cup("milk", {"quince": 2.0}, 2), cup("oat", {"rose": 4.0}, 4)] * 3)


def test_every_base_and_flavouring_by_default(model):
    table = model.needed_dose()
    assert list(table.columns) == COLUMNS
    assert len(table) == 3 * 4
    assert not table.duplicated(["base_id", "flavouring_id"]).any()
    assert table["reachable"].dtype == bool
    assert table["readings"].sum() == 9


def test_some_in_the_order_asked(model):
    table = model.needed_dose(["rice", "oat"], ["rose"])
    assert table["base_id"].tolist() == ["rice", "oat"]
    assert table["flavouring_id"].tolist() == ["rose", "rose"]
    whole = model.needed_dose().set_index(["base_id", "flavouring_id"])
    assert table["dose_g_per_kg"].iloc[1] == pytest.approx(whole.loc[("oat", "rose"), "dose_g_per_kg"])


def test_one_id_is_not_a_list_of_letters(model):
    listed = model.needed_dose(["oat"], ["rose"], ["quince"])
    assert model.needed_dose("oat", "rose", "quince").equals(listed)
    assert model.needed_dose(np.array(["oat"]), np.array(["rose"]), np.array(["quince"])).equals(listed)
    assert model.compare("rose", "oat")["base_id"].tolist() == ["oat"]


def test_a_companion_named_twice_is_one(model):
    assert model.needed_dose("oat", "rose", ["quince", "quince"]).equals(model.needed_dose("oat", "rose", "quince"))


def test_a_flavouring_that_is_not_permitted_at_any_dose_is_out_of_reach():
    table = learn(flavourings=FLAVOURINGS.assign(max_dose_g_per_kg=[0.0, 9.0, 9.0, 9.0])).needed_dose("oat")
    assert table.set_index("flavouring_id")["reachable"].to_dict() == {
        "quince": False, "clove": True, "smoke": True, "rose": True,
    }  # fmt: skip


def test_nothing_asked_nothing_said(model):
    assert list(model.needed_dose([], []).columns) == COLUMNS
    assert model.needed_dose([], []).empty


@pytest.mark.parametrize("asked", [{"base_ids": ["oats"]}, {"flavouring_ids": ["quinze"]}, {"alongside": ["quinze"]}])
def test_unknown_names_are_refused_with_the_nearest(model, asked):
    with pytest.raises(UnknownIdError, match="did you mean"):
        model.needed_dose(**asked)


def test_the_ratio_is_to_the_label_direction(model):
    table = model.needed_dose(["oat"]).set_index("flavouring_id")
    labels = FLAVOURINGS.set_index("flavouring_id")["label_dose_g_per_kg"]
    np.testing.assert_allclose(table["dose_g_per_kg"] / labels[table.index], table["label_ratio"])


def test_a_label_in_words_is_read():
    words = FLAVOURINGS.drop(columns="label_dose_g_per_kg").assign(label_dose="5 g/kg")
    ratio = learn(flavourings=words).needed_dose(["oat"])
    np.testing.assert_allclose(ratio["dose_g_per_kg"] / ratio["label_ratio"], 5 / 1.005, rtol=1e-6)


PER_VOLUME = FLAVOURINGS.drop(columns="label_dose_g_per_kg").assign(label_dose="5 g per litre")
DENSE = BASES.assign(density_g_per_ml=[1.0 + 0.05 * i for i in range(len(BASES))])


def test_a_label_per_volume_counts_by_the_density_of_each_base():
    model = learn(bases=DENSE, flavourings=PER_VOLUME)
    table = model.needed_dose().set_index("base_id")
    for base_id, density in DENSE.set_index("base_id")["density_g_per_ml"].items():
        label = 5 / density / (1 + 5 / density / 1000)
        row = table.loc[[base_id]]
        np.testing.assert_allclose(row["dose_g_per_kg"] / row["label_ratio"], label, rtol=1e-9)
        card = recipe_card(Recipe(base_id, {"quince": 5.0}), model.shelf, model=model)
        assert card.doses[0].label_low == pytest.approx(label, rel=1e-12)


def test_base_factors_hold_the_density_where_labels_are_per_volume():
    model = learn(bases=DENSE, flavourings=PER_VOLUME)
    doses = model.needed_dose().groupby("base_id")["dose_g_per_kg"].apply(lambda d: np.exp(np.log(d).mean()))
    factor = model.base_factor().set_index("base_id")["factor"]
    np.testing.assert_allclose(doses / np.exp(np.log(doses).mean()), factor[doses.index], rtol=1e-9)


@pytest.mark.filterwarnings("ignore::pairing.errors.LogWarning")
def test_doses_stay_below_a_whole_drink():
    strong = FLAVOURINGS.assign(label_dose_g_per_kg=[700.0, 1.0, 0.5, 4.0])
    row = learn(*[cup("oat", {"quince": 900.0}, 0)] * 6, flavourings=strong).needed_dose(["oat"], ["quince"])
    assert row[["dose_g_per_kg", "low", "high"]].to_numpy().max() <= 999.0


def test_tried_doses_of_one_base_do_not_count_as_readings_of_another(model):
    table = model.needed_dose().set_index(["base_id", "flavouring_id"])["readings"]
    assert table["oat", "quince"] == 3
    assert table["milk", "quince"] == 3
    assert table["rice", "quince"] == 0


def test_alongside_itself_is_no_companion(model):
    one, two = model.needed_dose(["oat"], ["rose"]), model.needed_dose(["oat"], ["rose"], alongside=["rose"])
    assert one["dose_g_per_kg"][0] == two["dose_g_per_kg"][0]
