"""A stop on one door is a stop on all: a shelf that could hurt, walked through every door.

Published: at most 200 mg, and 3 mg/kg body mass, of caffeine at once (EFSA Journal 2015;13(5):4102). From memory: no
honey before 12 months (WHO, CDC). The suppliers' maxima and what people avoid are invented.
"""

import json

import pandas as pd
import pytest

import pairing
from pairing import Bench, Brief, Cup
from pairing.blind.kept import begin
from pairing.blind.plan import plan
from pairing.blind.safe import for_helper, for_taster, to_mind
from pairing.cli import main
from pairing.errors import LogError, PairingError
from pairing.model.caution import Caution
from pairing.model.recipe import Recipe, recipe_text
from pairing.report.card import recipe_card
from pairing.report.card_page import card_document
from pairing.report.document import to_html, to_markdown
from pairing.safety.session import session_cautions

KNOWN = {"sodium_mg_per_g": 0, "ethanol_g_per_g": 0, "sweeteners": "none", "allergens": "none", "food_use": "yes"}
CLEAR = {"caffeine_mg_per_100g": 0, "ethanol_g_per_100g": 0, "sweeteners": "none", "serving_g": 250}
BASES = [
    {"base_id": "oat", "name": "Oat drink", "allergens": "gluten", **CLEAR},
    {"base_id": "infant", "name": "Follow-on milk", "allergens": "milk", **CLEAR},
]
FLAVOURINGS = [
    {"flavouring_id": "pure", "name": "Caffeine powder", "label_dose": "20 g/kg", "caffeine_mg_per_g": 1000},
    {"flavouring_id": "strong", "name": "Strong drops", "label_dose": "9 g/kg", "max_dose_g_per_kg": 4},
    {"flavouring_id": "nut", "name": "Nut drops", "label_dose": "2 g/kg", "allergens": "hazelnut"},
    {"flavouring_id": "soap", "name": "Soap drops", "label_dose": "2 g/kg", "food_use": "no"},
    {"flavouring_id": "yew", "name": "Yew tips", "label_dose": "2 g/kg", "tags": "label-read"},
    {"flavouring_id": "meg", "name": "Blue drops", "label_dose": "2 g/kg", "carrier": "MEG:0.9"},
    {"flavouring_id": "rum", "name": "Rum", "label_dose": "2 g/kg", "ethanol_g_per_g": None},
    {"flavouring_id": "seasalt", "name": "Sea salt", "label_dose": "100 g/kg", "sodium_mg_per_g": None},
    {"flavouring_id": "honey", "name": "Honey", "label_dose": "20 g/kg"},
    {"flavouring_id": "legal", "name": "Legal drops", "label_dose": "20 g/kg"},
    {"flavouring_id": "spirit", "name": "Spirit", "label_dose": "20 g/kg", "ethanol_g_per_g": 0.8},
    {"flavouring_id": "plum", "name": "Plum drops", "label_dose": "2 g/kg"},
]
TASTERS = [
    {"taster": "ana", "avoid_allergens": "nuts", "avoid": "ethanol", "body_mass_kg": 60},
    {"taster": "kid", "body_mass_kg": 22, "age_years": 7},
    {"taster": "bo", "body_mass_kg": 60, "age_years": 40},
    {"taster": "teen", "body_mass_kg": 55, "age_years": 15},
]
DANGERS = [
    (Recipe("oat", {"pure": 20.0}), "ana", "intake"),
    (Recipe("oat", {"pure": 0.4}), "kid", "intake"),  # 100 mg: right for an adult, not for 22 kg
    (Recipe("oat", {"strong": 9.0}), "ana", "dose"),
    (Recipe("oat", {"nut": 2.0}), "ana", "person"),
    (Recipe("oat", {"spirit": 2.0}), "ana", "person"),
    (Recipe("oat", {"soap": 2.0}), "ana", "food use"),
    (Recipe("oat", {"yew": 1.0}), "bo", "no food"),
    (Recipe("oat", {"meg": 0.5}), "bo", "no food"),
    (Recipe("oat", {"rum": 1.0}), "teen", "person"),
    (Recipe("oat", {"seasalt": 80.0}), "bo", "intake"),  # 7.9 g sodium if it is salt, at most 6 for 60 kg
    (Recipe("infant", {"honey": 20.0}), "ana", "person"),
    (Recipe("oat", {"legal": 20.0}), "ana", "rule"),
]
IDS = [f"{recipe_text(recipe)} for {who}" for recipe, who, _ in DANGERS]
LAW = "[dose-limits.legal_max_g_per_kg]\nlegal = 5\n"
"""A maximum that a person enters for the rule of the plugin dose-limits."""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    from pairing.host import trust

    folder = tmp_path_factory.mktemp("doors") / "bench"
    bench = Bench.create(folder)
    (folder / "plugins.toml").write_text(LAW)
    trust(folder)
    tables = {
        "bases": pd.DataFrame(BASES),
        "flavourings": pd.DataFrame([{**KNOWN, "caffeine_mg_per_g": 0, **row} for row in FLAVOURINGS]),
        "tasters": pd.DataFrame(TASTERS),
    }
    assert not len(bench.load(**tables).refused)
    bench.log(Cup("oat", 250).add("plum", g=0.5).read(strength={"plum": 3}, liking=7, taster="bo"))
    return folder


@pytest.fixture
def bench(place):
    return Bench.open(place)


@pytest.fixture
def cli(place, capsys):
    def run(*words):
        capsys.readouterr()
        code = main([*words, "--bench", str(place)])
        said = capsys.readouterr()
        return code, said.out + said.err

    return run


def stops(found):
    return {caution.kind for caution in found if caution.severity == "stop"}


@pytest.mark.parametrize(("recipe", "who", "kind"), DANGERS, ids=IDS)
def test_python_stops_it(bench, recipe, who, kind):
    found = pairing.cautions(recipe, bench.shelf(), [who], rules=bench.host.rules)
    assert kind in stops(found)
    assert found[0].severity == "stop"
    assert all(c.source and c.cannot_know for c in found)
    assert kind in stops(bench.learn().cautions(recipe, [who]))


@pytest.mark.parametrize(("recipe", "who", "kind"), DANGERS, ids=IDS)
def test_it_is_never_suggested(bench, recipe, who, kind):
    model = bench.learn()
    asked = Brief(bases=[recipe.base_id], must_have=recipe.flavouring_ids, tasters=[who], max_flavourings=1)
    try:
        found = model.suggest(asked, n=50)
    except PairingError:
        return
    for one in found:
        assert not stops(one.cautions)
        assert not stops(pairing.cautions(one.recipe, bench.shelf(), [who], rules=bench.host.rules))


@pytest.mark.parametrize(("recipe", "who", "kind"), DANGERS, ids=IDS)
def test_the_ladder_never_reaches_it(bench, recipe, who, kind):
    (name,) = recipe.flavouring_ids
    model, cup = bench.learn(), Cup(recipe.base_id, 250, shelf=bench.shelf())
    for _ in range(30):
        advice = model.next_addition(cup, name, tasters=[who])
        if advice.stop or not advice.add_g:
            break
        cup = cup.add(name, g=advice.add_g).read(strength={name: 1}, taster=who)
    dose = cup.dose_g_per_kg.get(name, 0.0)
    poured = Recipe(recipe.base_id, {name: dose} if dose else {})
    reached = pairing.cautions(poured, bench.shelf(), [who], serving_g=250, rules=bench.host.rules)
    assert not stops(reached)


@pytest.mark.parametrize(("recipe", "who", "kind"), DANGERS, ids=IDS)
def test_a_card_puts_it_first(bench, cli, recipe, who, kind, tmp_path):
    card = recipe_card(recipe, bench.shelf(), tasters=[who], rules=bench.host.rules)
    assert card.cautions[0].severity == "stop"
    for written in (to_markdown(card_document(card)), to_html(card_document(card))):
        assert written.index("STOP: ") < written.index("How")
        assert card.cautions[0].source in written.replace("&#x27;", "'")
    code, said = cli("card", recipe_text(recipe), "--tasters", who)
    assert code == 0
    assert "STOP: " in said
    code, said = cli("card", recipe_text(recipe), "--tasters", who, "--json")
    told = [Caution.from_dict(one) for one in json.loads(said)["card"]["cautions"]]
    assert kind in stops(told)


@pytest.mark.parametrize(("recipe", "who", "kind"), DANGERS, ids=IDS)
def test_no_blind_check_is_planned_of_it(bench, cli, recipe, who, kind):
    check = plan(recipe, f"{recipe.base_id}|plum=1", taster=who, random_state=0)
    assert kind in stops(to_mind(check, bench.shelf(), bench.host.rules))
    with pytest.raises(LogError, match="must not taste this"):
        begin(bench, check)
    code, said = cli("blind", "plan", recipe_text(recipe), f"{recipe.base_id}|plum=1", "--taster", who)
    assert code == 1
    assert "must not taste this" in said
    assert "STOP: " in " ".join(for_helper(to_mind(check, bench.shelf(), bench.host.rules), {}))


@pytest.mark.parametrize(("recipe", "who", "kind"), DANGERS, ids=IDS)
def test_side_by_side_says_it(cli, recipe, who, kind):
    code, said = cli("compare", recipe_text(recipe), f"{recipe.base_id}|plum=1", "--taster", who)
    assert code == 0
    assert "STOP" in said


@pytest.mark.parametrize(("recipe", "who", "kind"), DANGERS, ids=IDS)
def test_a_table_of_doses_says_it(bench, cli, recipe, who, kind):
    needed = bench.learn().needed_dose([recipe.base_id], recipe.flavouring_ids).iloc[0]["dose_g_per_kg"]
    at_needed = Recipe(recipe.base_id, {recipe.flavouring_ids[0]: needed})
    code, said = cli("dose", recipe.base_id, *recipe.flavouring_ids, "--taster", who)
    wrong = stops(pairing.cautions(at_needed, bench.shelf(), [who], rules=bench.host.rules))
    assert code == 0
    assert bool(wrong) == ("STOP" in said)


@pytest.mark.parametrize(("recipe", "who", "kind"), DANGERS, ids=IDS)
def test_it_is_logged_and_flagged(place, recipe, who, kind, tmp_path):
    import shutil

    from pairing.host import trust

    bench = Bench.open(shutil.copytree(place, tmp_path / "copy"))
    trust(tmp_path / "copy")
    (name, dose), *_ = recipe.doses.items()
    cup = Cup(recipe.base_id, 250).add(name, g=250 * dose / (1000 - dose))
    trial = bench.log(cup.read(liking=2, taster=who), trial_id="t9")
    (flag,) = bench.flags(trial)
    assert kind in stops(flag.cautions(bench.shelf(), bench.host.rules))
    row = {"trial_id": "t10", "base_id": recipe.base_id, "flavouring_id": name, "dose_g_per_kg": dose, "taster": who}
    report = bench.load(readings=pd.DataFrame([{**row, "liking": 2, "base_g": 250}]))
    assert report.accepted == {"readings": 1}
    assert any("flagged" in note and "t10" in note for note in report.notes)


def test_a_session_is_summed_before_it_is_poured(bench):
    """One cup of 30 g has 40 mg; six pairs of them have 480."""
    mild = Recipe("oat", {"pure": 1.3})  # 325 mg in 250 g is a stop by itself: the sum is asked of smaller cups
    small = Recipe("oat", {"pure": 0.7})  # 175 mg in 250 g, 21 mg in a cup of 30 g
    assert "intake" in stops(pairing.cautions(mild, bench.shelf(), ["ana"]))
    assert not stops(pairing.cautions(small, bench.shelf(), ["ana"]))
    check = plan(small, "oat|plum=1", taster="ana", random_state=0, per_session=20, servings=20)
    assert "intake" in stops(to_mind(check, bench.shelf()))
    with pytest.raises(LogError, match="caffeine"):
        begin(bench, check)
    begin(bench, plan(small, "oat|plum=1", taster="ana", random_state=0, per_session=6, check_id="short"))
    assert "intake" in stops(session_cautions([(small, 250.0)] * 2, bench.shelf(), ["ana"]))


def test_the_taster_learns_nothing_of_which_is_which(bench):
    check = plan("oat|pure=0.2", "oat|pure=0.3", taster="kid", random_state=0)
    told = for_taster(to_mind(check, bench.shelf(), bench.host.rules))
    assert told
    for line in told:
        assert not any(word in line for word in ("pure", "Caffeine powder", "oat", "–"))
    assert told == for_taster(to_mind(plan(check.b, check.a, taster="kid", random_state=0), bench.shelf()))


def test_the_command_line_tells_a_flag_and_the_day(place, tmp_path, capsys):
    import shutil

    from pairing.host import trust

    trust(shutil.copytree(place, tmp_path / "copy"))
    words = ["log", "oat", "--base-g", "250", "--add", "pure=1g", "--liking", "3", "--taster", "ana", "--yes"]
    for more in ((), ("--json",)):
        assert main([*words, "--bench", str(tmp_path / "copy"), *more]) == 0
        said = capsys.readouterr()
        assert "flagged" in said.err
        assert "1000 mg at once, at most 180 mg for ana (60 kg)" in said.err
        if more:
            (flag,) = json.loads(said.out)["flags"]
            assert stops(map(Caution.from_dict, flag["cautions"])) == {"intake"}
    for _ in range(3):
        assert main([*words, "--bench", str(tmp_path / "copy")]) == 0
    assert "ana, with all that is logged of today:" in capsys.readouterr().out


@pytest.mark.parametrize(("recipe", "who", "kind"), [d for d in DANGERS if d[2] != "person" and d[1] != "kid"])
def test_a_recipe_that_is_kept_says_it(place, recipe, who, kind, tmp_path, capsys):
    import shutil

    from pairing.host import trust

    trust(shutil.copytree(place, tmp_path / "copy"))
    for words in (["keep", recipe_text(recipe), "--name", "dusk"], ["show", "dusk"]):
        assert main(["recipe", *words, "--bench", str(tmp_path / "copy")]) == 0
        assert "STOP" in capsys.readouterr().out


@pytest.mark.parametrize(("recipe", "who", "kind"), DANGERS, ids=IDS)
def test_a_lesson_does_not_pour_it(cli, recipe, who, kind):
    code, said = cli("lesson", recipe_text(recipe), "--taster", who)
    assert code == 1
    assert "not to be served" in said
