"""Whatever an address asks for is shown as text or passed over: no fault, and no markup."""

import json
import re

import pytest

from pairing_dashboard import pages

MARKUP = "<img src=x onerror=alert(1)>[a](javascript:alert(1)) :red[b] $c$"
RUBBISH = {
    "markup": MARKUP,
    "long": "x" * 10_240,
    "control": "a\x00b\x07\x1b[31m\r\n\u202e\ufffe",
    "repeated": ["oat", "whey", MARKUP],
}
NAMES = ("cup", "on", "recipe", "serving", "for", "by", "purpose", "target", "trial", "name", "brief", "nobody-knows")
ASKED = ("bench", "cards", "log", "recipes", "next_cups")
"""Pages that ask the address for something; of the others one look is enough."""
VIEWS = [it.name for views in pages.VIEWS.values() for it in views]
CUP = "0123456789abcdef0123456789abcdef"


def written(at):
    """Return all text that a browser would take for HTML or Markdown."""
    alerts = [*at.error, *at.info, *at.warning, *at.success]
    return [h.proto.body for h in at.get("html")] + [m.value for m in [*at.markdown, *alerts]]


@pytest.mark.parametrize("view", VIEWS)
def test_rubbish_in_an_address_is_text_and_never_long(app, view):
    for value in RUBBISH.values() if view in ASKED else [MARKUP]:
        at = app("demo" if view == "recipes" else "one", view, dict.fromkeys(NAMES, value))
        for text in written(at):
            assert not re.search(r"(?<!\\)<img|(?<!\\)\]\(javascript", text)
            assert "x" * 1000 not in text


FIELDS = ("target_id", "bases", "tasters", "must_have", "never", "on_hand", "max_flavourings", "avoid_allergens")
HALF = "\ud800"
ODD = ("x", float("nan"), 10**400, [None, 1, ["a"], HALF], {"a": 1}, HALF)


@pytest.mark.parametrize("odd", ODD, ids=lambda odd: repr(odd)[:20])
def test_a_brief_of_other_kinds_of_values_is_passed_over(app, odd):
    fields = (*FIELDS, "max_added_kcal", "serving_g", HALF)
    app("one", "next_cups", {"brief": json.dumps(dict.fromkeys(fields, odd))})


@pytest.mark.parametrize("brief", ["[" * 100_000, "[1]", "1" * 5000])
def test_a_brief_that_is_none_is_passed_over(app, brief):
    app("one", "next_cups", {"brief": brief})


RECIPES = (
    *("|", "oat|=1", "oat|plum=1e400", "oat|plum=1;plum=2", "nothing|plum=1", "oat|plum=999", "oat|%ED%A0%80=1"),
    f"oat|{';'.join(f'p{i}=1' for i in range(3000))}",
)


@pytest.mark.parametrize("recipe", RECIPES, ids=lambda recipe: recipe[:20])
def test_a_recipe_that_is_none_is_refused_or_passed_over(app, recipe):
    app("one", "bench", {"cup": CUP, "recipe": recipe})


@pytest.mark.parametrize("serving", ["nan", "-5", "1e308", "much"])
def test_a_serving_that_is_none_is_passed_over(app, serving):
    app("one", "bench", {"cup": CUP, "recipe": "oat|plum=1", "serving": serving})


@pytest.mark.parametrize(("cup", "on"), [("t1", "x"), (CUP, "0"), ("\x00", "1")])
def test_a_cup_that_cannot_go_on_is_passed_over(app, cup, on):
    app("one", "bench", {"cup": cup, "on": on})
