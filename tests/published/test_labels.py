"""Label rounding at its edges."""

import pytest

from pairing.nutrition.labels import round_label, salt_g


@pytest.mark.parametrize(
    ("kcal", "shown"),
    [(47, "45"), (48, "50"), (50, "50"), (52, "50"), (54.9, "50"), (55, "60"), (114, "110"), (116, "120"), (7.5, "10")],
)
def test_us_energy(kcal, shown):
    """Published: 21 CFR 101.9(c)(1): to 50 kcal by 5, above by 10. A tie goes up (our choice)."""
    assert round_label("kcal", kcal, "US") == shown


@pytest.mark.parametrize("kcal", [0, 2.4, 3, 4.99])
def test_us_energy_below_five_may_be_zero(kcal):
    """Published: 21 CFR 101.9(c)(1): under 5 kcal *may* be shown as 0 (or as 5): shown as 0 here."""
    assert round_label("kcal", kcal, "US") == "0"


@pytest.mark.parametrize(
    ("grams", "shown"), [(0.49, "0"), (0.5, "0.5"), (2.2, "2"), (2.3, "2.5"), (4.9, "5"), (5.4, "5"), (5.5, "6")]
)
def test_us_fat(grams, shown):
    """Published: FDA Food Labeling Guide, Appendix H: under 0.5 g is 0, under 5 g by 0.5, else by 1."""
    assert round_label("fat", grams, "US") == shown


@pytest.mark.parametrize(("mg", "shown"), [(4, "0"), (5, "5"), (137, "135"), (138, "140"), (140, "140"), (146, "150")])
def test_us_sodium(mg, shown):
    """Published: FDA Food Labeling Guide, Appendix H: under 5 mg is 0, to 140 mg by 5, above by 10."""
    assert round_label("sodium", mg, "US") == shown


@pytest.mark.parametrize(
    ("grams", "shown"), [(0.4, "0"), (0.5, "less than 1"), (0.99, "less than 1"), (1.4, "1"), (6.47, "6")]
)
@pytest.mark.parametrize("nutrient", ["carbohydrate", "sugars", "protein"])
def test_us_carbohydrate_sugars_protein(nutrient, grams, shown):
    """Published: FDA Food Labeling Guide, Appendix H."""
    assert round_label(nutrient, grams, "US") == shown


@pytest.mark.parametrize(("kcal", "shown"), [(42.76, "43"), (0.4, "0"), (0.5, "1"), (118.2, "118")])
def test_eu_energy(kcal, shown):
    """Published: Commission guidance on tolerances, December 2012: to the nearest 1 kcal and 1 kJ."""
    assert round_label("kcal", kcal) == round_label("kj", kcal) == shown


@pytest.mark.parametrize(
    ("grams", "shown"),
    [(0, "0"), (0.3, "<0.5"), (0.5, "<0.5"), (0.51, "0.5"), (1.26, "1.3"), (9.96, "10.0"), (10.4, "10")],
)
@pytest.mark.parametrize("nutrient", ["fat", "carbohydrate", "sugars", "protein", "fibre", "polyols"])
def test_eu_grams(nutrient, grams, shown):
    """Published: Commission guidance on tolerances, December 2012."""
    assert round_label(nutrient, grams) == shown


@pytest.mark.parametrize(("grams", "shown"), [(0.1, "<0.1"), (0.14, "0.1"), (9.94, "9.9"), (12.5, "13")])
def test_eu_saturates(grams, shown):
    """Published: Commission guidance on tolerances, December 2012."""
    assert round_label("saturates", grams) == shown


@pytest.mark.parametrize(
    ("grams", "shown"), [(0.0125, "<0.01"), (0.013, "0.01"), (0.994, "0.99"), (1, "1.0"), (1.26, "1.3")]
)
def test_eu_salt(grams, shown):
    """Published: Commission guidance on tolerances, December 2012."""
    assert round_label("salt", grams) == shown


def test_salt_is_two_and_a_half_times_sodium():
    """Published: Regulation (EU) 1169/2011, Annex I (true stoichiometry 2.542)."""
    assert salt_g(1000) == 2.5
