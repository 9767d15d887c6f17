"""The bench's food law decides the energy that suggestions, limits and the round-up count."""

import pandas as pd
import pytest

from pairing import Bench, Brief, Flavouring
from pairing.errors import BriefError
from pairing.nutrition.energy import energy_per_g

LEAF = {
    "flavouring_id": "leaf", "name": "Leaf syrup", "food_use": "yes", "label_dose_g_per_kg": 10.0, "form": "syrup",
    "fat_g_per_g": 0.0, "protein_g_per_g": 0.0, "carbohydrate_g_per_g": 0.5, "sugars_g_per_g": 0.0,
    "polyols_g_per_g": 0.5, "carrier": "sorbitol:0.5", "fibre_g_per_g": 0.0, "acids_g_per_g": 0.0,
    "ethanol_g_per_g": 0.0, "allergens": "none",
}  # fmt: skip


@pytest.mark.parametrize("law", ["EU", "US"])
def test_planning_counts_energy_by_the_benchs_law(tmp_path, law):
    bench = Bench.create(tmp_path / law, jurisdiction=law)
    base = {
        "base_id": "oat",
        "name": "Oat drink",
        "energy_kcal_per_100g": 45.0,
        "allergens": "none",
        "serving_g": 250.0,
    }
    bench.load(bases=pd.DataFrame([base]), flavourings=pd.DataFrame([LEAF]))
    model = bench.learn(random_state=0)
    per_g = energy_per_g(Flavouring(**LEAF), law).value
    assert energy_per_g(Flavouring(**LEAF), "EU").value != energy_per_g(Flavouring(**LEAF), "US").value
    made = model.suggest(Brief(max_flavourings=1), n=1, random_state=0)[0]
    assert made.added_kcal == pytest.approx(made.grams["leaf"] * per_g)
    row = model.compare().iloc[0]
    assert row["added_kcal"] == pytest.approx(row["grams"] * per_g)
    inside = Brief(max_flavourings=1, max_added_kcal=made.added_kcal * 1.001)
    assert model.suggest(inside, n=1, random_state=0)[0].added_kcal <= inside.max_added_kcal
    with pytest.raises(BriefError):
        model.suggest(Brief(max_flavourings=1, max_added_kcal=made.added_kcal * 0.5), n=1)
