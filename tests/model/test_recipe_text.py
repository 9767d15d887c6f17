import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import TableError
from pairing.model.fields import clean_id
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text

ids = (
    st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=30)
    .filter(str.strip)
    .map(lambda text: clean_id(text, "id"))
)


@given(ids, st.dictionaries(ids, st.none() | st.floats(0, 99), max_size=6))
def test_a_recipe_comes_back_from_its_text(base_id, doses):
    recipe = Recipe(base_id, doses)
    assert parse_recipe_text(recipe_text(recipe)) == recipe


def test_a_plain_base_keeps_its_bar():
    assert recipe_text(Recipe("oat", {})) == "oat|"
    assert parse_recipe_text("oat|") == Recipe("oat", {})


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("t-17", "is no recipe"),
        ("oat|plum=lots", "dose of plum: 'lots' is not a number"),
        ("oat|plum=1,234", "dose of plum: '1,234' may be 1234 or 1.234"),
        ("oat|plum=5 ml", "the unit 'ml' does not fit"),
        ("oat|plum=1;plum=2", "names plum twice"),
        ("oat|plum=-1", "allowed is 0 to 999"),
        ("|plum=1", "base_id is empty"),
        ("oat|=1", "flavouring_id is empty"),
        ("oat|plum=nan", "dose of plum"),
    ],
)
def test_what_is_no_recipe_is_refused(text, message):
    with pytest.raises(TableError, match=message):
        parse_recipe_text(text)
