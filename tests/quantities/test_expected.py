import pytest

from pairing import Flavouring
from pairing.quantities.expected import expected_dose_g_per_kg


def of(**facts):
    return expected_dose_g_per_kg(Flavouring(flavouring_id="a", name="A", **facts))


def test_stronger_forms_are_expected_at_smaller_doses():
    # common practice (no source): oils under drops, drops under extracts, extracts under powders, syrups on top
    doses = [of(form=form) for form in ("essential oil", "drops", "extract", "powder", "syrup")]
    assert doses == sorted(doses)
    assert len(set(doses)) == len(doses)


@pytest.mark.parametrize(("carrier", "dose"), [("ethanol:0.6;water", 1.0), ("water", 5.0), ("fog", 2.0), (None, 2.0)])
def test_without_a_form_the_carrier_tells(carrier, dose):
    assert of(carrier=carrier) == dose
