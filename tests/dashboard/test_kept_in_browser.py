"""What was given to the dashboard stays, in a real browser: typed, chosen, or changed in another window."""

import json

import pytest
from browsing import button, chip, start, tap
from playwright.sync_api import expect

from pairing_dashboard.wording import joined

pytestmark = pytest.mark.browser


def test_what_is_typed_counts_when_the_button_is_tapped_at_once(visit):
    window = visit("one", phone=True)
    page = window.open("bench")
    kept = window.bench.list_drafts

    def events():
        return window.bench.load_draft(kept()[0]["draft_id"])["events"]

    tap(window, page.get_by_role("link", name="A new cup"))
    tap(window, page.get_by_role("radio", name="Oat drink"))
    tap(window, page.get_by_role("radio", name="Plum drops").or_(button(page, "Plum drops")).first)
    tap(window, button(page, "Next"))
    page.get_by_text("Tasted by").tap()
    page.get_by_label("Someone else").fill("pia")
    page.get_by_label("Grams of base").fill("250")
    page.get_by_label("Grams of base").fill("321")
    tap(window, button(page, "I poured"))
    expect(page.get_by_text("I added a different amount")).to_be_visible()  # a field that was left answered before
    assert (events()[-1]["tasters"][-1], events()[-1]["g"]) == ("pia", 321)
    page.get_by_text("I added a different amount").tap()
    tap(window, page.get_by_role("radio", name="g", exact=True))
    page.get_by_label("Amount in g").fill("0,7")
    # whatever moves the page while the finger is down: what was touched is meant
    page.evaluate("addEventListener('pointerup', () => document.body.style.paddingTop = '300px', {once: true})")
    tap(window, button(page, "I added this much"))
    expect(page.get_by_role("radio", name="just right")).to_be_visible()
    page.evaluate("document.body.style.paddingTop = ''")
    assert (events()[-1]["kind"], events()[-1]["amount"]) == ("add", 0.7)
    tap(window, page.get_by_role("radio", name="just right"))
    for _ in range(2):  # everybody who tastes
        tap(window, page.get_by_role("radio", name="8 like very much"))
        page.get_by_text("In your own words").tap()
        page.get_by_label("Another off-note").fill("papery")
        page.get_by_label("Note", exact=True).fill("a little thin")
        tap(window, button(page, "save").or_(button(page, "Save", exact=True)).first)
    expect(page.get_by_text("The cup is in the log.")).to_be_visible()
    rows = window.bench.tables("readings")
    said = rows[rows["trial_id"] != "t1"].dropna(subset="liking")
    assert said[["taster", "off_notes", "note"]].values.tolist() == [
        ["me", "papery:2", "a little thin"],
        ["pia", "papery:2", "a little thin"],
    ]


def test_a_brief_stays_over_pages_and_reloads(visit):
    window = visit("demo")
    page = window.open('?brief={"never":["ginger"]}')
    chip(page, "limits").click()
    page.get_by_label("Added energy at most").fill("40")
    window.act(lambda: page.keyboard.press("Tab"))
    said = page.locator(".in-force")
    in_force = "In force: never Ginger syrup; at most 2 flavourings; at most 40 kcal added."
    expect(said).to_have_text(in_force)
    assert said.bounding_box()["y"] < page.locator(".st-key-card-0").bounding_box()["y"]
    button(page, "Why").first.click()
    window.act(page.get_by_role("link", name="Recipe card", exact=True).first.click, timeout=30)
    window.act(page.go_back)
    expect(said).to_have_text(in_force)
    window.act(start(page).first.click)
    expect(page.locator("h2.ask", has_text="How much is in the cup")).to_be_visible()
    window.act(page.reload)
    expect(page.locator("h2.ask", has_text="How much is in the cup")).to_be_visible()
    window.act(page.get_by_role("link", name="Next cups").click)
    expect(said).to_have_text(in_force)
    window.act(page.reload)
    expect(said).to_have_text(in_force)
    chip(page, "limits").click()
    expect(page.get_by_label("Added energy at most")).to_have_value("40")
    page.get_by_label("Added energy at most").fill("")
    window.act(lambda: page.keyboard.press("Tab"))
    expect(said).to_have_text("In force: never Ginger syrup; at most 2 flavourings.")


def test_a_tap_on_a_card_acts_on_the_recipe_that_was_read(visit):
    """A limit that is left by that very tap changes neither the cup nor the page, and is kept."""
    window = visit("demo")
    page = window.open()
    chip(page, "limits").click()
    # the open limits lie above the first cards
    read = page.locator(".st-key-card-3 h3").inner_text()
    page.get_by_label("Added energy at most").fill("5")
    window.act(start(page).nth(3).click, timeout=40)
    expect(page.locator("h2.ask")).to_contain_text("How much is in the cup")
    shelf, (kept,) = window.bench.shelf(), window.bench.list_drafts()
    base, plan = window.bench.load_draft(kept["draft_id"])["events"]
    names = joined(shelf.flavourings[i].name for i in plan["flavouring_ids"])
    assert f"{names} in {shelf.bases[base['base_id']].name}" == read
    tap(window, page.get_by_role("link", name="Next cups"))
    expect(page.locator(".in-force")).to_contain_text("at most 5 kcal added")


def test_a_file_of_a_card_has_what_was_typed_last(visit):
    page = (window := visit("demo")).open("cards")
    page.get_by_text("Recipe, size, and for whom").click()
    expect(page.get_by_label("Servings")).to_be_visible()
    for servings in (3, 7, 20):
        page.get_by_label("Servings").fill(str(servings))
        with page.expect_download() as waiting:
            button(page, "JSON").click()
        assert json.loads(waiting.value.path().read_text(encoding="utf-8"))["batch"]["servings"] == servings
        window.settle()


def test_an_address_that_says_nonsense_of_the_brief_is_no_fault(visit):
    window = visit("one")
    for nonsense in ("{", "[1]", '{"never": 5, "max_added_kcal": "much", "max_flavourings": [], "bases": ["gone"]}'):
        page = window.open(f"?brief={nonsense}")
        expect(start(page).first).to_be_visible()
        expect(page.locator(".in-force")).to_have_count(0)


def test_a_notice_leaves_the_open_cup_open_and_a_reload_the_tab(visit):
    window = visit("one")
    page = window.open("log?trial=t1")
    notice, opened = page.locator("[data-testid=stAlert]"), page.locator(".st-key-open")
    window.act(page.get_by_text("Correct it").click)
    page.get_by_role("radio", name="4 dislike slightly").click()
    expect(page.get_by_role("radio", name="4 dislike slightly")).to_have_css("border-top-width", "3px")  # told apart
    window.act(button(page, "Save the correction").click)
    expect(notice).to_be_in_viewport()  # however far down it was asked for
    expect(opened).to_be_visible()
    window.bench.correct("readings", {"trial_id": "t1"}, {"liking": 2})  # from elsewhere: the page is drawn again
    expect(notice).to_have_count(0, timeout=12_000)
    expect(opened).to_contain_text("2 dislike very much")
    window.act(page.get_by_role("tab", name="Export").click)
    window.act(page.reload)
    expect(page.get_by_role("tab", name="Export")).to_have_attribute("aria-selected", "true")


def test_an_open_card_and_a_cup_in_hand_follow_what_happens_elsewhere(visit):
    here, there = visit("one"), visit("one")
    page, other = here.open("bench"), there.open("cards")
    here.act(page.get_by_role("link", name="A new cup").click)
    twin = visit("one").open("bench?" + page.url.partition("?")[2])
    here.act(page.get_by_role("radio", name="Oat drink").click)
    expect(twin.locator("h2.ask")).to_have_text("What will go in?", timeout=12_000)  # without touching it
    here.bench.correct("flavourings", "plum", {"name": "Damson drops"})
    other.get_by_text("Recipe, size, and for whom").click()
    expect(other.get_by_role("group", name="Selected values")).to_contain_text("Damson drops", timeout=12_000)
    other.get_by_label("Servings").fill("2")  # what the window says next still names it
    there.act(lambda: other.keyboard.press("Tab"))
    expect(other.get_by_role("heading", name="Oat drink with Damson drops")).to_be_visible()
