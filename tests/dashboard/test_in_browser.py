"""The dashboard in a real browser: on a phone beside the scale, and on a desk."""

import contextlib
import re
import sys
import time

import pandas as pd
import pytest
from browsing import Visit, button, chip, pour, serving, start, tap
from defusedxml import ElementTree
from playwright.sync_api import TimeoutError as PlaywrightTimeout
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

BENCH = ".st-key-bench"
TARGETS = f"{BENCH} :is(button, [role=radio], a, summary, input):visible"


def small_targets(page):
    """Name every target on the bench that is smaller than 48 CSS px in either direction."""
    return page.locator(TARGETS).evaluate_all(
        """all => all.map(e => {
             const field = ['stNumberInputContainer', 'stTextInputRootElement'].map(t => `[data-testid=${t}]`)
               .concat('[role=group]', 'label').join();
             const box = ((e.matches('input') && e.closest(field)) || e).getBoundingClientRect();
             const name = e.innerText || e.getAttribute('aria-label');
             return [e.tagName, name, Math.round(box.width), Math.round(box.height)];
           }).filter(t => t[2] > 0 && (t[2] < 48 || t[3] < 48))"""
    )


def test_a_cup_of_two_flavourings_takes_nine_taps_at_most_and_no_typing(visit):
    window = visit("demo", phone=True, viewport={"width": 360, "height": 844})  # the narrowest that is in use
    page = window.open()
    card = page.locator(".st-key-card-1")
    assert " and " in card.locator("h3").inner_text()
    before = set(window.bench.tables("readings")["trial_id"])
    small, taps = [], 0

    def on(what):
        nonlocal taps
        taps += 1
        tap(window, what)
        assert page.evaluate("document.querySelector('.stMain').scrollWidth <= innerWidth")
        small.extend(small_targets(page))

    on(start(card))
    expect(page.locator("h2.ask")).to_contain_text("How much is in the cup?")
    on(button(page, "I poured this"))
    for _ in range(2):
        on(button(page, "I added it"))
        assert page.locator(".gauge").count() == 0  # nothing is told before the word
        on(page.get_by_role("radio", name="just right"))
    if "sip again" in page.locator("h2.ask").inner_text():  # the log leads to expect more: it is enough
        on(page.get_by_role("button", name=re.compile("^No more")))
    expect(page.locator("h2.ask")).to_have_text("How much do you like it?")
    on(page.get_by_role("radio", name="2 dislike very much"))
    on(button(page, "Nothing else, save"))
    expect(page.get_by_text("The cup is in the log.")).to_be_visible()
    expect(page.get_by_role("heading", name="What it changed")).to_be_visible(timeout=120_000)
    assert small == []
    assert taps <= 9
    rows = window.bench.tables("readings")
    new = rows[~rows["trial_id"].isin(before)]
    assert new["liking"].dropna().iloc[-1] == 2
    assert (set(new["chosen_by"]), set(new["ended"].dropna())) == ({"suggested"}, {"right"})
    tap(window, page.get_by_role("link", name="What to try next"))
    assert window.bench.list_drafts() == []
    expect(page.locator(".st-key-card-1 h3")).to_be_visible(timeout=15_000)


def test_the_map_by_mouse_and_by_keyboard(visit):
    window = visit("demo")
    page = window.open("pairings")
    window.act(page.locator('.node[data-id="cocoa"] .hit').click)
    expect(page.get_by_role("heading", name="Dark cocoa powder")).to_be_visible()
    assert page.locator(".weight").count() > 0
    name, drawn = drawing(page)
    assert name == "pairing-map.svg"
    looks = [it.get("style", "") for it in drawn.iter() if it.get("class", "").startswith("edge")]
    assert looks  # looks that the page gives a picture stand in its file
    assert all("stroke: rgb(" in look for look in looks)
    page.locator(".node.on").focus()
    window.act(lambda: page.keyboard.press("Escape"))  # the focus must still be on the map
    expect(page.get_by_role("heading", name="Dark cocoa powder")).to_have_count(0)
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowRight")
    window.act(lambda: page.keyboard.press("Enter"))
    chosen = page.locator(".node.on").get_attribute("aria-label").split(",")[0]
    expect(page.get_by_role("heading", name=chosen, exact=True)).to_be_visible()


def test_an_import_shows_what_it_would_refuse(visit, tmp_path):
    window = visit("demo")
    page = window.open("log")
    pd.DataFrame(
        {
            "trial_id": ["n1", "n2", "n3"],
            "base_id": ["oat", "oat", "nowhere"],
            "flavouring_id": ["cocoa", "cocoa", "cocoa"],
            "dose_g_per_kg": [10, 11, 12],
            "liking": [6, 90, 6],
            "weather": ["fair", "fair", "foul"],
        }
    ).to_csv(tmp_path / "more.csv", index=False)
    window.act(page.get_by_role("tab", name="Import").click)
    panel = page.get_by_role("tabpanel", name="Import")
    window.act(lambda: panel.locator("input[type=file]").set_input_files(tmp_path / "more.csv"))
    expect(panel.get_by_text("1 row can be taken, 2 refused")).to_be_visible()
    expect(panel.get_by_role("cell", name="90", exact=True)).to_be_visible()
    expect(panel.get_by_role("listitem").filter(has_text="weather")).to_be_visible()
    window.act(button(panel, "Take 1 row").click)
    expect(page.get_by_text("Taken: 1 row; refused: 2.")).to_be_visible()
    expect(page.locator("[data-testid=stAlert] li", has_text="weather")).to_be_visible()
    window.act(button(panel, "Take 1 row").click)
    expect(page.get_by_text("Taken: 0 rows; already known: 1; refused: 2.")).to_be_visible()
    ids = set(window.bench.tables("readings")["trial_id"])
    assert "n1" in ids
    assert not ids & {"n2", "n3"}


def test_a_reload_in_the_middle_of_a_cup_loses_nothing(visit):
    window = visit("one", phone=True)
    page = window.open("bench")
    pour(window, page)
    tap(window, button(page, "I added it"))
    asked = page.locator("h2.ask").inner_text()
    window.act(page.reload)
    assert page.locator("h2.ask").inner_text() == asked
    again = visit("one")  # another machine, without the address: the cup is offered
    other = again.open("bench")
    again.act(other.get_by_role("link", name="Go on with Oat drink with Plum drops").click)
    assert other.locator("h2.ask").inner_text() == asked


def test_two_windows_on_one_bench_see_each_other(visit):
    here, there = visit("one"), visit("one")
    page, other = here.open("log"), there.open("bench")
    expect(page.get_by_text("1 cup, 1 row in the log.")).to_be_visible()
    pour(there, other)
    tap(there, button(other, "I added it"))
    twin = visit("one")
    twin.context.add_init_script("window.setInterval = () => 0")  # one that is behind, and has not looked yet
    twin_page = twin.open("bench?" + other.url.partition("?")[2])
    tap(there, other.get_by_role("radio", name="just right"))
    twin_page.get_by_role("radio", name="much too weak").click()
    expect(twin_page.get_by_text("This cup has moved on in another window")).to_be_visible()
    tap(there, other.get_by_role("radio", name="8 like very much"))
    tap(there, button(other, "Nothing else, save"))
    expect(page.get_by_text("2 cups, 2 rows in the log.")).to_be_visible(timeout=12_000)  # without touching it


def test_a_cup_by_keyboard_alone(visit):
    window = visit("one", dark=True)
    page = window.open("bench")

    def reach(name):
        """Tab to a control that has this name, as somebody without a mouse does."""
        expect(page.locator(":is(button, a):visible", has_text=name).first).to_be_visible()
        for _ in range(80):
            page.keyboard.press("Tab")
            here = "() => { const e = document.activeElement; return e.matches('button, a') ? e.innerText : '' }"
            if any(re.match(rf"{name}\b(?! cups)", line.strip()) for line in page.evaluate(here).splitlines()):
                return
        raise AssertionError(f"the tab key never comes to {name}")

    reach("A new cup")
    window.act(lambda: page.keyboard.press("Enter"))
    reach("Oat drink")
    window.act(lambda: page.keyboard.press("Space"))
    reach("Plum drops")
    window.act(lambda: page.keyboard.press("Space"))
    reach("Next")
    window.act(lambda: page.keyboard.press("Enter"))
    reach("I poured")
    window.act(lambda: page.keyboard.press("Enter"))
    expect(page.locator("h2.ask")).to_contain_text("of Plum drops")


@pytest.mark.parametrize("phone", [True, False], ids=["phone", "desk"])
def test_sixty_flavourings_are_legible_on_the_map(visit, phone):
    window = visit("demo", phone=phone)
    rows = [{"flavouring_id": f"f{i}", "name": f"Number {i} of the garden", "family": f"bed {i % 9}",
             "label_dose_g_per_kg": 1.0, "food_use": "yes"} for i in range(39)]  # fmt: skip
    window.bench.load(flavourings=pd.DataFrame(rows))
    page = window.open("pairings", timeout=60)
    found = page.locator("svg[aria-label='Pairing map']").evaluate(
        """svg => {
             const frame = svg.getBoundingClientRect();
             const labels = [...svg.querySelectorAll('.node text')];
             const boxes = labels.map(t => t.getBoundingClientRect());
             const out = b => b.left < frame.left || b.right > frame.right || b.bottom > frame.bottom;
             const over = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
             return {
               n: labels.length,
               overlaps: boxes.flatMap((a, i) => boxes.slice(i + 1).filter(b => over(a, b))).length,
               outside: boxes.filter(out).length,
               smallest: Math.min(...labels.map(t => parseFloat(getComputedStyle(t).fontSize))),
             };
           }"""
    )
    assert found["n"] == 60
    assert (found["overlaps"], found["outside"]) == (0, 0)
    assert found["smallest"] >= 12


def test_a_name_with_markup_fetches_nothing(visit):
    window = visit("one")
    name = "![x](http://elsewhere.test/x.png) <img src=http://elsewhere.test/y.png>"
    window.bench.correct("flavourings", "plum", {"name": name})
    for view in ("", "bench", "pairings", "doses", "shelf", "log"):
        window.open(view)
    expect(window.page.locator("img[src*=elsewhere]")).to_have_count(0)  # and the fixture fails on any request


def test_light_and_dark_follow_the_system(visit):
    colours = [
        visit("one", dark=dark)
        .open("bench")
        .evaluate("() => getComputedStyle(document.querySelector('.stApp')).backgroundColor")
        for dark in (False, True)
    ]
    light, dark = (sum(map(int, re.findall(r"\d+", c)[:3])) for c in colours)
    assert light > 700
    assert dark < 100


def test_a_fault_in_a_plugins_page_stays_on_that_page(visit):
    window = visit("faulty")
    page = window.open("broken-falls-over", timeout=60)
    expect(page.get_by_text("the drawing fell over")).to_be_visible()
    window.act(page.get_by_role("link", name="Next cups").click)
    expect(page.get_by_role("heading", name="Next cups")).to_be_visible()
    expect(start(page).first).to_be_visible(timeout=30_000)
    expect(page.get_by_role("link", name="Falls over")).to_be_visible()


def test_a_blind_check_on_a_phone_tells_nothing_before_its_end(visit):
    from pairing.blind.kept import begin, resume
    from pairing.blind.plan import plan

    window = visit("demo", phone=True)
    check = plan("oat|cocoa=20", "oat|cocoa=10", servings=5, taster="mikko")
    begin(window.bench, check)
    page = window.open("blind")
    seen = page.locator(".stApp").inner_text()
    assert "cocoa" not in seen.replace("The helper's sheet", "")
    for one in check.servings:
        stronger = one.codes[one.contents.index("a")]
        tap(window, button(page, stronger, exact=True))
    expect(page.get_by_text("tastes stronger than")).to_be_visible()
    assert window.bench.tables("comparisons")["check_id"].nunique() == 1
    with pytest.raises(ValueError, match="no open check"):
        resume(window.bench, check.check_id)


def test_a_recipe_card_from_a_suggestion_can_be_printed(visit):
    window = visit("demo")
    page = window.open()
    button(page, "Why").first.click()
    window.act(page.get_by_role("link", name="Recipe card", exact=True).first.click, timeout=30)
    expect(page.get_by_role("heading", name="Recipe cards")).to_be_visible()
    pictures = page.locator("img.paper")
    expect(pictures.first).to_be_visible()
    assert pictures.evaluate_all("all => all.every(p => p.complete && p.naturalWidth > 0)")
    with page.expect_download() as waiting:
        button(page, "Page to print").click()
    text = waiting.value.path().read_text(encoding="utf-8")
    assert text.startswith("<!doctype html>")
    assert "<script" not in text


def test_the_command_serves_the_bench_and_ends_with_it(browser, bench_at, tmp_path):
    import socket

    start = "from pairing.cli import main; raise SystemExit(main())"
    path = bench_at("one")
    command = [sys.executable, "-c", start, "dashboard", "--headless", "--bench", str(path), "--port"]
    with serving(tmp_path / "elsewhere", tmp_path / "log", command=command) as url:
        window = Visit(browser, url)
        expect(window.open("log").get_by_text("1 cup, 1 row in the log.")).to_be_visible()
        window.close()
        port = int(url.rpartition(":")[2])
    with socket.socket() as s:
        s.settimeout(1)
        for _ in range(50):
            if s.connect_ex(("127.0.0.1", port)):
                break
            time.sleep(0.1)
        else:
            pytest.fail("the server goes on after its command was ended")


def test_a_chart_has_its_words_and_its_table(visit):
    window = visit("demo")
    page = window.open("doses")
    said = "Strength of Sour plum drops in Oat drink of the boathouse against dose, with 50 % and 80 % bands"
    expect(page.locator(f"[role=graphics-document][aria-label='{said}']")).to_be_visible()
    page.get_by_text("The same as a table").first.click()
    expect(page.get_by_role("table", name=said)).to_be_visible()


def test_fingers_find_every_target_on_a_phone(visit):
    window = visit("demo", phone=True)
    page = window.open()
    chip(page, "limits").tap()
    expect(page.get_by_label("Added energy at most")).to_be_visible()
    small = page.locator(":is([data-testid=stMain], header) :is(button, [role=radio], summary):visible").evaluate_all(
        """all => all.map(e => [e.innerText || e.getAttribute('aria-label'), e.getBoundingClientRect()])
                  .filter(([_, box]) => box.width < 40 || box.height < 40).map(([name]) => name)"""
    )
    assert small == []


def test_the_ways_about_fit_the_window(visit):
    phone, desk = visit("one", phone=True, dark=True), visit("one")
    page = phone.open()
    expect(page.locator("[data-testid=stSidebar]")).to_be_hidden()
    for name, title in (("Bench", "At the bench"), ("Log", "Log"), ("More", "More"), ("Next", "Next cups")):
        tap(phone, page.get_by_role("link", name=name, exact=True))
        expect(page.get_by_role("heading", name=title, exact=True)).to_be_visible()
    tap(phone, page.get_by_role("link", name="More", exact=True))
    tap(phone, page.get_by_role("link", name=re.compile("^Doses")))
    expect(page.get_by_role("heading", name="Doses", exact=True)).to_be_visible()
    for title in ("More", "Next cups"):  # Back takes one step
        phone.act(page.go_back)
        expect(page.get_by_role("heading", name=title, exact=True)).to_be_visible()
    wide = desk.open()
    expect(wide.locator(".st-key-bar")).to_be_hidden()
    tap(desk, wide.get_by_role("link", name="Plugins", exact=True))
    expect(wide.get_by_role("heading", name="Plugins", exact=True)).to_be_visible()


@pytest.mark.parametrize(("phone", "most"), [(False, 5), (True, 2)], ids=["desk", "phone"])
def test_what_to_try_fits_the_window_with_its_starts(visit, phone, most):
    window = visit("demo", phone=phone)
    page = window.open()
    room = page.viewport_size["height"] - (page.locator(".st-key-bar").bounding_box()["height"] if phone else 0)
    ends = [box["y"] + box["height"] for it in start(page).all() if (box := it.bounding_box())]
    assert sum(end <= room for end in ends) >= most
    assert page.evaluate("document.querySelector('.stMain').scrollWidth <= innerWidth")
    there, steps = page.url, page.evaluate("history.length")
    tap(window, start(page).first)
    cup = page.url
    assert "cup=" in cup
    assert page.evaluate("history.length") == steps + 1
    window.act(page.reload)
    assert page.url == cup
    window.act(page.go_back)  # one step
    expect(page).to_have_url(there)
    window.act(page.go_forward)
    assert len(window.bench.list_drafts()) == 1


def test_printing_the_cards_prints_the_card_on_one_page(visit):
    window = visit("demo")
    page = window.open("cards", timeout=60)
    sheet = page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 1
    page.emulate_media(media="print")
    expect(page.locator(".st-key-printed")).to_be_visible()
    for around in ("[data-testid=stSidebar]", ".st-key-bar", "[data-testid=stExpander]"):
        expect(page.locator(around).first).to_be_hidden()


def test_a_chart_can_be_saved_as_a_picture(visit):
    page = visit("demo").open("doses")
    with page.expect_download() as waiting:
        for _ in range(5):  # a chart that is drawn anew, or moved, while the pointer rests has to be pointed at again
            page.locator("[data-testid=stVegaLiteChart]").first.hover()
            with contextlib.suppress(PlaywrightTimeout):
                page.get_by_role("button", name="Download as PNG").first.click(timeout=3000)
                break
    assert waiting.value.path().read_bytes().startswith(b"\x89PNG")
    name, drawn = drawing(page)
    assert name.startswith("strength-of-")
    assert "dose, g/kg of drink" in "".join(drawn.itertext())


def drawing(page):
    """Save the first picture on a page as SVG; its file's name, and what is in it."""
    with page.expect_download() as waiting:
        button(page, "Save as SVG").first.click()
    return waiting.value.suggested_filename, ElementTree.parse(waiting.value.path()).getroot()
