"""A card with much on it prints on one page, and the page asks the network for nothing."""

import re

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.report.card import recipe_card
from pairing.report.card_page import card_document
from pairing.report.document import to_html

pytestmark = pytest.mark.browser


@pytest.fixture
def page(browser):
    page = browser.new_page()
    yield page
    page.close()


def test_one_page_and_no_request(page, tmp_path):
    shelf = Shelf.of(
        [
            Base(
                base_id="oat", name="Oat drink of the boathouse", energy_kcal_per_100g=45, allergens="gluten;milk", ph=4
            )
        ],
        [
            Flavouring(
                flavouring_id=f"f{i}",
                name=f"A flavouring with quite a long name, number {i}",
                form="drops",
                label_dose_g_per_kg=1 + i,
                carrier="ethanol:0.4;propylene glycol:0.5",
                sweeteners="sucralose:2",
            )
            for i in range(4)
        ],
        [Taster(taster="ana", avoid_allergens="milk", avoid="ethanol", body_mass_kg=60)],
    )
    card = recipe_card(Recipe("oat", {f"f{i}": 1.0 + i for i in range(4)}), shelf, litres=5, tasters=["ana"])
    path = tmp_path / "card.html"
    path.write_text(to_html(card_document(card)), encoding="utf-8")
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(path.as_uri())
    assert asked == [path.as_uri()]
    pages = re.findall(
        rb"/Type\s*/Pages[^>]*?/Count (\d+)|/Count (\d+)[^>]*?/Type\s*/Pages", page.pdf(prefer_css_page_size=True)
    )
    assert [int(a or b) for a, b in pages] == [1]
