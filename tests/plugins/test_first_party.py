import importlib
import importlib.metadata
import inspect
from pathlib import Path

import numpy as np
import pytest

import pairing_plugins
from pairing.api import Base, Flavouring, Recipe
from pairing.errors import PluginError
from pairing.host import load, load_module
from pairing.host.scoring import because, features
from pairing.host.tables import addition_table, recipe_table
from pairing.model.shelf import Shelf
from pairing.testing import (
    BaseContract,
    BaselineContract,
    CompositionContract,
    FormatContract,
    GoalContract,
    LimitContract,
    RuleContract,
)
from pairing_plugins import (
    alcohol_carrier,
    cup_limits,
    cup_sweetness,
    curdling,
    dose_limits,
    familiar_partners,
    fat_holds_back,
    food_tables,
    json_lines,
    like_recipes,
    liked_along,
    mixtures_mask,
    plain_bases,
    protein_holds_back,
    salt_and_bitter,
    sour_with_milk,
    sweet_on_sweet,
    thick_holds_back,
    use_up,
)

FOLDER = Path(pairing_plugins.__file__).parent
NAMES = sorted(path.stem.replace("_", "-") for path in FOLDER.glob("[!_]*.py"))


class TestPlainBases(BaseContract, CompositionContract):
    plugin = plain_bases
    known = "oat drink"


class TestFoodTables(CompositionContract):
    """Open data: IFCT 2017, entry L002, cow's milk: 305 kJ, 4.48 g fat, 3.26 ± 0.06 g protein, 25.46 mg sodium."""

    plugin = food_tables
    known = "milk cow"

    def test_an_entry_is_as_the_table_has_it(self):
        (milk,) = food_tables.pairing_compositions("milk cow")
        assert milk.source.endswith("entry L002")
        assert milk.values["energy_kcal_per_100g"] == pytest.approx(305 / 4.184)
        assert milk.values["fat_g_per_100g"] == 4.48
        assert milk.values["sodium_mg_per_100g"] == pytest.approx(25.46)
        assert milk.ranges["protein_g_per_100g"] == pytest.approx((3.20, 3.32))
        assert "fibre_g_per_100g" not in milk.values  # 0 in the table


class TestFat(RuleContract):
    plugin = fat_holds_back
    answers = (
        ("aroma", Recipe("rich-milk", {"peel-oil": 1}), 0.7, 1.0),
        ("aroma", Recipe("spring-water", {"peel-oil": 1}), 0.0, 0.0),
        ("aroma", Recipe("rich-milk", {"sea-brine": 1}), -0.05, 0.0),
    )


class TestProtein(RuleContract):
    plugin = protein_holds_back
    answers = (
        ("aldehydes", Recipe("lean-shake", {"pod-extract": 1}), 1.0, 1.0),
        ("aldehydes", Recipe("lean-shake", {"dark-roast": 1}), 0.0, 0.0),
    )


class TestThick(RuleContract):
    plugin = thick_holds_back
    answers = (
        ("volatiles", Recipe("thick-oat", {"peel-oil": 1}), 0.7, 0.9),
        ("volatiles", Recipe("thick-oat", {"pod-extract": 1}), 0.35, 0.45),
        ("volatiles", Recipe("spring-water", {"peel-oil": 1}), 0.0, 0.0),
    )


class TestMixtures(RuleContract):
    plugin = mixtures_mask
    answers = (
        ("companions", Recipe("thick-oat", {"peel-oil": 1}), 0.0, 0.0),
        ("companions", Recipe("thick-oat", {"peel-oil": 1, "dark-roast": 1}), 0.2, 0.2),
    )


class TestSaltAndBitter(RuleContract):
    plugin = salt_and_bitter
    answers = (
        ("bitter", Recipe("lean-shake", {"dark-roast": 1}), 0.95, 1.0),
        ("bitter", Recipe("spring-water", {"dark-roast": 1}), 0.0, 0.1),
        ("bitter", Recipe("spring-water", {"dark-roast": 1, "sea-brine": 8}), 0.9, 1.0),
        ("bitter", Recipe("spring-water", {"dark-roast": 1, "sea-brine": 60}), 0.0, 0.1),
        ("nutty", Recipe("lean-shake", {"dark-roast": 1}), 0.0, 0.0),
        ("nutty", Recipe("lean-shake", {"toasted-kernel": 1}), 0.95, 1.0),
        ("start", Recipe("spring-water", {"sea-brine": 3.5}), 1.0, 1.0),  # 31.5 + 1 mg sodium, 0.083 % salt
        ("start", Recipe("lean-shake"), -1.0, -1.0),  # 90 mg sodium, 0.23 % salt of its own
        ("start", Recipe("rich-milk"), -0.2, -0.1),  # 0.114 %, above the range already
        ("less-bitter", Recipe("spring-water", {"sea-brine": 60}), 1.0, 1.0),
    )


class TestSweetOnSweet(RuleContract):
    plugin = sweet_on_sweet
    answers = (
        ("both", Recipe("lean-shake", {"honeyed-syrup": 10}), 1.0, 1.0),
        ("both", Recipe("spring-water", {"honeyed-syrup": 10}), 0.0, 0.0),
        ("both", Recipe("lean-shake", {"dark-roast": 10}), 0.0, 0.0),
    )


class TestCupSweetness(RuleContract):
    plugin = cup_sweetness
    answers = (
        ("pleasant", Recipe("spring-water", {"honeyed-syrup": 57.0}), 0.49, 0.51),
        ("cloying", Recipe("spring-water", {"honeyed-syrup": 57.0}), 0.0, 0.0),
        ("cloying", Recipe("lean-shake", {"honeyed-syrup": 140.0}), 0.4, 0.6),
        ("start", Recipe("spring-water", {"honeyed-syrup": 86.0}), 1.0, 1.0),  # 6 % sugar
        ("start", Recipe("spring-water"), -1.0, -1.0),
        ("start", Recipe("spring-water", {"honeyed-syrup": 50.0}), -0.2, -0.1),  # 3.5 % sugar, not there yet
        ("less-bitter", Recipe("spring-water", {"honeyed-syrup": 57.0}), 0.49, 0.51),
    )


class TestSourWithMilk(RuleContract):
    plugin = sour_with_milk
    answers = (
        ("harsh", Recipe("lean-shake", {"sharp-gooseberry": 1}), 1.0, 1.0),
        ("harsh", Recipe("thick-oat", {"sharp-gooseberry": 1}), 0.0, 0.0),
    )


class TestAlcohol(RuleContract):
    plugin = alcohol_carrier
    answers = (
        ("off-note", Recipe("thick-oat", {"pod-extract": 10}), 0.49, 0.51),
        ("off-note", Recipe("thick-oat", {"peel-oil": 10}), 0.0, 0.0),
    )


class TestCurdling(RuleContract):
    plugin = curdling
    answers = (
        ("clear-of-ph", Recipe("rich-milk", {"sharp-gooseberry": 17}), 1.0, 1.0),
        ("clear-of-ph", Recipe("rich-milk"), 0.0, 0.0),
        ("clear-of-ph", Recipe("thick-oat", {"sharp-gooseberry": 17}), 0.0, 0.0),  # 1 g protein
        ("likely", Recipe("rich-milk", {"sharp-gooseberry": 30}), 1.0, 1.0),
        ("possible", Recipe("rich-milk", {"sharp-gooseberry": 30}), 0.0, 0.0),
        ("possible", Recipe("rich-milk", {"sharp-gooseberry": 17}), 0.5, 0.5),
        ("likely", Recipe("rich-milk", {"sharp-gooseberry": 2}), 0.0, 0.0),
        ("possible", Recipe("rich-milk", {"sharp-gooseberry": 2}), 0.0, 0.0),
        ("likely", Recipe("thick-oat", {"sharp-gooseberry": 30}), 0.0, 0.0),
        ("possible", Recipe("rich-milk", {"sharp-gooseberry": None}), 0.5, 0.5),
    )


class TestDoseLimits(RuleContract):
    plugin = dose_limits
    settings = {"legal_max_g_per_kg": {"dark-roast": 5}}  # noqa: RUF012 – a plain class attribute, as authors write it
    answers = (
        ("legal", Recipe("rich-milk", {"dark-roast": 5.1}), 1.0, 1.0),
        ("legal", Recipe("rich-milk", {"dark-roast": 5, "peel-oil": 21}), 0.0, 0.0),
    )


class TestCupLimits(LimitContract):
    plugin = cup_limits
    settings = {"max_sugars_g_per_100g": 5, "max_sodium_mg_per_100g": 300}  # noqa: RUF012 – as authors write it
    answers = (
        ("sugars", Recipe("spring-water", {"honeyed-syrup": 60.0}), True),  # 0.7 × 6 g in 100 g
        ("sugars", Recipe("spring-water", {"honeyed-syrup": 80.0}), False),
        ("sugars", Recipe("rich-milk", {"peel-oil": 1.0}), True),
        ("sugars", Recipe("lean-shake", {"peel-oil": 1.0}), False),
        ("sodium", Recipe("rich-milk", {"sea-brine": 20.0}), True),
        ("sodium", Recipe("rich-milk", {"sea-brine": 40.0}), False),
    )


@pytest.mark.parametrize("along", liked_along.ALONG)
class TestLikedAlong(RuleContract):
    plugin = liked_along
    quiet = ("temperature", "acids")  # nobody says how warm a sample cup is, nor the acids of the bases

    @pytest.fixture(autouse=True)
    def _along(self, along):
        type(self).settings = {"along": along}


class TestUseUp(GoalContract):
    plugin = use_up
    settings = {"points": {"dark-roast": 0.1, "sea-brine": 0.2}}  # noqa: RUF012 – as authors write it
    answers = (
        ("open-bottles", Recipe("rich-milk", {"dark-roast": 1}), 0.5, 0.5),
        ("open-bottles", Recipe("rich-milk", {"dark-roast": 1, "sea-brine": 1}), 1.0, 1.0),
        ("open-bottles", Recipe("rich-milk", {"peel-oil": 1}), 0.0, 0.0),
    )


class TestLikeRecipes(BaselineContract):
    plugin = like_recipes

    def test_the_same_recipe_guesses_itself_best(self, host, scores):
        (nearest,) = host.baselines
        error = np.abs(nearest.guess(scores, scores) - scores.liking)
        assert error.mean() < 0.5 * np.abs(scores.liking - scores.liking.mean()).mean()


class TestJsonLines(FormatContract):
    plugin = json_lines


@pytest.fixture(scope="module")
def collection(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    lines = [
        "dark roast; pod",
        "Dark  Roast;pod; honeyed-syrup",
        "dark roast;pod",
        "peel oil;sea brine",
        "peel oil",
    ] * 20
    (folder / "recipes.txt").write_text("\n".join(lines) + "\n\n")
    return folder


class TestFamiliarPartners(RuleContract):
    plugin = familiar_partners
    answers = (
        ("co-use", Recipe("rich-milk", {"dark-roast": 1, "pod-extract": 1}), 0.1, 1.0),
        ("co-use", Recipe("rich-milk", {"dark-roast": 1, "peel-oil": 1}), -1.0, -0.1),
        ("co-use", Recipe("rich-milk", {"dark-roast": 1, "toasted-kernel": 1}), 0.0, 0.0),
        ("co-use", Recipe("rich-milk", {"dark-roast": 1}), 0.0, 0.0),
    )

    @pytest.fixture(autouse=True)
    def _supplied(self, collection):
        type(self).settings = {"collection": str(collection / "recipes.txt"), "names": {"pod-extract": "pod"}}


def test_every_file_is_one_plugin_with_an_entry_point_and_loads():
    points = {
        p.name: p.value
        for p in importlib.metadata.entry_points(group="pairing.plugins")
        if "pairing_plugins" in p.value
    }
    assert points == {name: f"pairing_plugins.{name.replace('-', '_')}" for name in NAMES}
    loaded = load(only=NAMES)
    assert [(p.name, p.state) for p in loaded.plugins if p.name in NAMES] == [(name, "loaded") for name in NAMES]
    assert loaded.faults == ()


@pytest.mark.parametrize("name", NAMES)
def test_every_plugin_is_small_and_imports_the_interface_alone(name):
    module = importlib.import_module(f"pairing_plugins.{name.replace('-', '_')}")
    source = inspect.getsource(module)
    assert len(source.splitlines()) < 150
    imported = [line for line in source.splitlines() if line.startswith(("from pairing", "import pairing"))]
    assert imported
    assert all(line.startswith("from pairing.api import ") for line in imported)
    assert module.__doc__


def test_every_rule_states_its_source_and_a_prior_that_leaves_the_log_room():
    for rule in load(only=NAMES).rules:
        assert len(rule.source) > 10
        if rule.acts_on != "caution":
            assert abs(rule.prior_mean) <= 2.5 * rule.prior_sd, f"{rule.id} leaves the log no room"
            assert rule.prior_sd >= 0.1


@pytest.mark.parametrize(
    ("partition", "shares"),
    [
        (1000, (0.500, 0.091, 0.028)),
        (100, (0.910, 0.503, 0.224)),
        (10, (0.991, 0.917, 0.760)),
        (0.6, (1.0, 1.004, 1.014)),
    ],
)
def test_oil_holds_back_as_the_mass_balance_says(partition, shares):
    # computed from the mass balance in Ghosh, Peterson & Coupland 2006, J. Agric. Food Chem. 54:1829 (published form)
    oil = np.array([0.001, 0.01, 0.035])
    np.testing.assert_allclose(1 / fat_holds_back.held_back(oil, partition), shares, atol=6e-4)


def test_high_potency_sweeteners_saturate():
    # potency falls with the target (computed from constants of DuBois et al. 1991, from memory)
    for name, at in {
        "aspartame": (250, 196, 143),
        "acesulfame k": (204, 140, 77),
        "rebaudioside a": (400, 250, 100),
    }.items():
        most, half = cup_sweetness.CURVES[name]
        for target, potency in zip((2, 5, 8), at, strict=True):
            mg_per_l = half * target / (most - target)
            assert cup_sweetness.sucrose_equivalent(name, mg_per_l) == pytest.approx(target)
            assert target * 1e4 / mg_per_l == pytest.approx(potency, abs=1)
    assert cup_sweetness.sucrose_equivalent("acesulfame k", 1e9) < 12


def test_the_dose_of_sweetener_for_a_sweet_coffee_is_in_the_published_range():
    # published: mg for the sweetness of 10 g sugar in 240 ml coffee, Alternative Sweeteners, table 1 (4.17 % sucrose)
    for name, low, high in (("aspartame", 35, 45), ("acesulfame k", 50, 60), ("sucralose", 12, 15)):
        in_cup = np.array([low * 0.8, high * 1.25]) / 0.240
        weakest, strongest = cup_sweetness.sucrose_equivalent(name, in_cup)
        assert weakest < 4.17 < strongest, name


def test_what_a_first_party_rule_must_say_of_unknowns():
    shelf = Shelf.of(
        [Base(base_id="mystery", name="?"), Base(base_id="milk", name="Milk", allergens="milk")],
        [
            Flavouring(flavouring_id="sharp", name="Sharp", tags="sour"),
            Flavouring(flavouring_id="oil", name="O", solubility="oil"),
        ],
    )
    table = recipe_table(shelf, ["mystery", "milk", "mystery"], [("sharp",), ("sharp",), ("oil",)], [(1,), (1,), (1,)])
    cautions = {r.id: r for p in (curdling,) for r in load_module(p, "p").rules}
    found = {name: features([rule], table)[0][:, 0].tolist() for name, rule in cautions.items()}
    assert found["p:possible"] == [0.5, 0.5, 0], "with allergens or pH unknown the caution stands"
    text, _ = because(cautions["p:possible"], Recipe("milk", {"sharp": 1}))
    assert "try 20 g first" in text
    additions = addition_table(shelf, ["mystery"], [("oil",)])
    (fat,) = load_module(fat_holds_back, "p").rules
    matrix, notes = features([fat], additions)
    assert matrix.tolist() == [[0]]
    assert {n.line.rpartition(": ")[2] for n in notes} == {"mystery", "oil"}


def test_familiar_partners_without_or_with_a_wrong_collection(tmp_path):
    assert load_module(familiar_partners, "familiar").rules == ()
    with pytest.raises(PluginError, match=r"there is no .*none\.txt"):
        load_module(familiar_partners, "familiar", {"collection": str(tmp_path / "none.txt")}, strict=True)


def test_familiar_partners_names_the_pair(collection):
    settings = {"collection": str(collection / "recipes.txt"), "names": {"pod-extract": "pod"}}
    (rule,) = load_module(familiar_partners, "familiar", settings).rules
    text, _ = because(rule, Recipe("rich-milk", {"dark-roast": 1, "pod-extract": 1, "peel-oil": 1}))
    assert text.startswith("dark-roast and pod-extract are used together more than chance")
    assert "not used together" in because(rule, Recipe("rich-milk", {"dark-roast": 1, "peel-oil": 1}))[0]


@pytest.mark.parametrize("value", ["much", -1, float("nan")])
def test_a_legal_limit_that_is_no_amount_is_refused(value):
    loaded = load_module(dose_limits, "limits", {"legal_max_g_per_kg": {"plum": value}})
    assert loaded.rules == ()
    assert "legal_max_g_per_kg of plum is" in loaded.faults[0].line


def test_a_legal_limit_names_flavouring_dose_and_limit():
    rules = load_module(dose_limits, "limits", {"legal_max_g_per_kg": {"bark": 0.4}}).rules
    assert "bark 0.5 g/kg (at most 0.4)" in because(rules[0], Recipe("water", {"bark": 0.5, "plum": 9}))[0]
