"""The cup: mass balance, order, splits, readings."""

import math
import pickle

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pairing.errors import CupError, TableError, UnknownIdError
from pairing.model.base import Base
from pairing.model.cup import Cup
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.model.steps import Contents, Step

OAT = Base(base_id="oat", name="Oat")
PLUM = Flavouring(flavouring_id="plum", name="Plum", drop_mg=40, density_g_per_ml=1.1)
MINT = Flavouring(flavouring_id="mint", name="Mint", drop_mg=20)
SHELF = Shelf.of([OAT], [PLUM, MINT])

step = st.one_of(
    st.tuples(st.just("add"), st.sampled_from(["plum", "mint"]), st.floats(1e-6, 50)),
    st.tuples(st.just("pour"), st.none(), st.floats(1e-6, 300)),
    st.tuples(st.just("sip"), st.none(), st.floats(0.001, 0.6)),
    st.tuples(st.just("split"), st.none(), st.floats(0.05, 0.95)),
)


def take(cup, kind, item, amount):
    """Apply one step; sips and splits are shares of what is left."""
    if kind == "add":
        return cup.add(item, g=amount)
    if kind == "pour":
        return cup.pour(g=amount)
    if kind == "sip":
        return cup.sip(g=amount * cup.content_g)
    return cup.split(g=amount * cup.content_g)[1]


@given(st.floats(50, 1000), st.lists(step, max_size=12))
def test_mass_is_conserved(base_g, steps):
    cup, taken = Cup("oat", base_g), 0.0
    poured = base_g
    for kind, item, amount in steps:
        before = cup.content_g
        cup = take(cup, kind, item, amount)
        poured += amount if kind in ("add", "pour") else 0.0
        taken += before - cup.content_g if kind in ("sip", "split") else 0.0
    assert cup.content_g + taken == pytest.approx(poured, rel=1e-9)
    held = math.fsum(cup.contents_g.values())
    doses = math.fsum(cup.dose_g_per_kg.values())
    assert doses == pytest.approx(1000 * held / cup.content_g, rel=1e-9)


@given(st.floats(1, 1000), st.lists(step, max_size=10), st.sampled_from(["plum", "mint"]), st.floats(1e-6, 50))
def test_a_dose_never_falls_on_an_addition_of_its_flavouring(base_g, steps, item, grams):
    cup = Cup("oat", base_g)
    for kind, other, amount in steps:
        cup = take(cup, kind, other, amount)
    before = cup.dose_g_per_kg.get(item, 0.0)
    assert cup.add(item, g=grams).dose_g_per_kg[item] >= before


@given(st.floats(10, 1000), st.floats(0.01, 20), st.floats(0.01, 20))
def test_an_addition_dilutes_the_others(base_g, plum_g, mint_g):
    cup = Cup("oat", base_g).add("plum", g=plum_g)
    assert cup.add("mint", g=mint_g).dose_g_per_kg["plum"] < cup.dose_g_per_kg["plum"]


@given(st.lists(step, max_size=10), st.floats(0.05, 0.95))
def test_a_split_keeps_dose_and_history(steps, share):
    cup = Cup("oat", 400).add("plum", g=1)
    for kind, item, amount in steps:
        cup = take(cup, kind, item, amount)
    part, rest = cup.split(g=share * cup.content_g)
    assert part.dose_g_per_kg == cup.dose_g_per_kg == rest.dose_g_per_kg
    assert part.content_g + rest.content_g == pytest.approx(cup.content_g)
    assert part.steps[:-1] == cup.steps == rest.steps[:-1]
    assert part.trial_id != cup.trial_id == rest.trial_id == part.parent_trial_id
    assert rest.parent_trial_id == cup.parent_trial_id


@given(st.lists(step, max_size=10))
@settings(max_examples=50)
def test_a_cup_comes_back_from_its_steps_and_from_a_pickle(steps):
    cup = Cup("oat", 400)
    for kind, item, amount in steps:
        cup = take(cup, kind, item, amount)
    again = Cup.from_steps("oat", cup.steps, trial_id=cup.trial_id, readings=cup.readings)
    assert again == cup == pickle.loads(pickle.dumps(cup))
    assert again.dose_g_per_kg == cup.dose_g_per_kg
    assert again.content_g == cup.content_g


def test_order_matters_and_is_right():
    first = Cup("oat", 200).add("plum", g=2).sip(g=100)
    then = Cup("oat", 200).sip(g=100).add("plum", g=2)
    assert first.dose_g_per_kg["plum"] == pytest.approx(1000 * 2 / 202)
    assert then.dose_g_per_kg["plum"] == pytest.approx(1000 * 2 / 102)


def test_the_same_drop_raises_the_dose_by_more_after_six_sips():
    """By hand: six sips of 20 g from 400 g leave 280 g, so one drop of 40 mg raises 0.04/400.04 then 0.04/280.04."""
    full = Cup("oat", 400, shelf=SHELF)
    sipped = full
    for _ in range(6):
        sipped = sipped.sip(g=20)
    assert sipped.content_g == pytest.approx(280)
    assert full.add("plum", drops=1).dose_g_per_kg["plum"] == pytest.approx(40 / 400.04)
    assert sipped.add("plum", drops=1).dose_g_per_kg["plum"] == pytest.approx(40 / 280.04)


def test_drops_and_millilitres_by_the_shelf():
    cup = Cup("oat", 400, shelf=SHELF).add("plum", drops=5).add("plum", ml=2)
    assert cup.contents_g["plum"] == pytest.approx(5 * 0.040 + 2 * 1.1)
    assert [s.as_entered for s in cup.steps[1:]] == ["5 drops", "2 ml"]
    with pytest.raises(UnknownIdError, match="cherry"):
        cup.add("cherry", g=1)
    with pytest.raises(UnknownIdError):
        Cup("oatt", 400, shelf=SHELF)


def test_a_copied_cup_still_knows_its_bottles():
    cup = pickle.loads(pickle.dumps(Cup("oat", 400, shelf=SHELF)))
    assert cup.add("plum", drops=5).contents_g["plum"] == pytest.approx(0.2)


def test_pouring_dilutes_and_counts_as_base():
    cup = Cup("oat", 100).add("plum", g=1).pour(g=99)
    assert cup.dose_g_per_kg["plum"] == pytest.approx(5)
    assert cup.base_g == 199


def test_the_documented_example():
    cup = (
        Cup("oat", base_g=400)
        .add("sour-cherry", drops=11)
        .mix("hand blender")
        .rest(minutes=5)
        .sip(g=15)
        .read(strength={"sour-cherry": 2})
    )
    assert [s.kind for s in cup.steps] == ["pour", "add", "mix", "rest", "sip"]
    reading = cup.readings[0]
    assert reading.strength == {"sour-cherry": 2}
    assert (reading.mixing, reading.minutes_since_addition, reading.stepped) == ("hand blender", 5, "no")
    assert reading.dose_g_per_kg == cup.dose_g_per_kg


def test_a_plain_cup_is_never_stepped():
    assert Cup("oat", 100).sip(10).sip(5).read(liking=6).readings[0].stepped == "no"


def test_stepped_means_tasted_before_with_less_in_it():
    cup = Cup("oat", 400).add("plum", g=0.2).sip(g=10, taster="ana").read(strength={"plum": 1})
    assert cup.readings[0].stepped == "no"
    assert cup.readings[0].taster == "ana"
    again = cup.add("plum", g=0.2).read(strength={"plum": 3}, taster="tova")
    assert again.readings[1].stepped == "yes"
    assert again.readings[1].taster == "tova"
    part, _ = cup.split(g=100)
    assert part.add("mint", g=0.1).read(strength={"mint": 2}).readings[0].stepped == "no"


def test_readings_stay_with_the_cup_that_was_read():
    cup = Cup("oat", 400).add("plum", g=0.2).sip(g=10).read(liking=6)
    part, rest = cup.split(g=100)
    assert (len(part.readings), len(rest.readings)) == (0, 1)


def test_what_was_swallowed_by_whom():
    cup = Cup("oat", 198).add("plum", g=2).sip(g=50, taster="ana").add("plum", g=1.5).sip(g=20, taster="tova")
    assert cup.swallowed("ana") == pytest.approx({None: 49.5, "plum": 0.5})
    everyone = cup.swallowed()
    assert math.fsum(everyone.values()) == pytest.approx(70) == cup.swallowed_g
    part, _ = cup.split(g=50)
    assert part.swallowed_g == 0
    assert not part.swallowed()
    assert part.sip(g=10, taster="ana").swallowed_g == 10


def test_drained_to_the_last_drop():
    cup = Cup("oat", 100).add("plum", g=0.1)
    empty = cup.sip(g=cup.content_g)
    assert empty.content_g == 0
    assert empty.read(liking=5).readings[0].dose_g_per_kg == cup.dose_g_per_kg
    for forbidden in (lambda: empty.add("plum", g=1), lambda: empty.pour(g=1)):
        with pytest.raises(CupError, match="empty"):
            forbidden()


@pytest.mark.parametrize(
    "wrong",
    [
        lambda c: c.sip(g=401),
        lambda c: c.sip(g=0),
        lambda c: c.split(g=400),
        lambda c: c.add("plum"),
        lambda c: c.add("plum", g=1, drops=2),
        lambda c: c.add("plum", g=-1),
        lambda c: c.add("plum", drops=math.nan),
        lambda c: c.add("plum", g="much"),
        lambda c: c.rest(minutes=-1),
        lambda c: c.read(strength={"plum": 2}),
        lambda c: c.read(nonsense=1),
        lambda c: Cup("oat", math.inf),
        lambda c: Cup("oat", 0),
        lambda c: Cup.from_steps("oat", [], trial_id="t"),
    ],
)
def test_impossible_steps_are_refused_with_a_remedy(wrong):
    with pytest.raises(CupError) as caught:
        wrong(Cup("oat", 400))
    assert caught.value.hint


@pytest.mark.parametrize(
    "judgement", [{"liking": 0}, {"liking": 10}, {"strength": {"plum": 6}}, {"strength": {"plum": 2.5}}]
)
def test_judgements_off_their_scale_are_refused(judgement):
    with pytest.raises(TableError):
        Cup("oat", 400).add("plum", g=1).read(**judgement)


def test_a_cup_is_immutable():
    cup = Cup("oat", 400)
    grown = cup.add("plum", g=1)
    assert (len(cup.steps), cup.content_g) == (1, 400)
    assert grown is not cup
    with pytest.raises(AttributeError, match="immutable"):
        cup.base_id = "pea"
    with pytest.raises(AttributeError, match="immutable"):
        del cup.base_id
    with pytest.raises(TypeError):
        cup.dose_g_per_kg["plum"] = 1
    assert hash(cup) == hash(pickle.loads(pickle.dumps(cup)))
    assert cup != grown
    assert repr(Cup("oat", 100)) == "<Cup oat: plain; 100 g left>"
    assert repr(Cup("oat", 99).add("plum", g=1)) == "<Cup oat: plum 10 g/kg; 100 g left>"


def test_ids_are_random_unless_given():
    assert Cup("oat", 1).trial_id != Cup("oat", 1).trial_id
    assert Cup("oat", 1, trial_id="t-1").trial_id == "t-1"


@pytest.mark.parametrize("strength", [3, [3], "plum"])
def test_a_strength_belongs_to_a_flavouring(strength):
    with pytest.raises(CupError, match="no mapping"):
        Cup("oat", 200).add("plum", g=0.2).read(strength=strength)


@pytest.mark.parametrize(("said", "minutes"), [("5 min", 5.0), ("1 h", 60.0), ("2.5", 2.5), (None, None)])
def test_a_rest_is_as_long_as_was_entered(said, minutes):
    assert Step(kind="rest", as_entered=said).minutes == minutes
    assert Step(kind="mix", as_entered=said).minutes is None


def test_a_rest_of_unknown_length_leaves_the_time_since_the_addition_unknown():
    rested = Step(kind="rest", as_entered=None)
    steps = [*Cup("oat", base_g=100).add("plum", g=1).steps, rested]
    assert Cup.from_steps("oat", steps, trial_id="t").read(liking=5).readings[-1].minutes_since_addition is None
    known = Cup("oat", base_g=100).add("plum", g=1).rest(5).read(liking=5)
    assert known.readings[-1].minutes_since_addition == 5
    assert Step(kind="rest", as_entered="2 h").minutes == 120


def test_what_never_went_in_has_no_dose():
    assert Contents({None: 300.0, "plum": 1.0}).dose_g_per_kg("mint") == 0.0
    assert Contents({None: 300.0, "plum": 1.0}).dose_g_per_kg("plum") == pytest.approx(1000 / 301)
