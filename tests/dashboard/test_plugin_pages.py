"""What plugins bring to the dashboard: pages, settings, curves; edited files are loaded anew, and texts are text."""

from pairing.api import View
from pairing.host import trust
from pairing_dashboard import parts, plugin_views

MARKUP = "<b>bold</b> **stars** [a](http://b.example) :red[x] $y$"
PLUGIN = f"""
from pairing.api import Rule, Setting, View, bins, hookimpl
PAIRING_API = (1, 1)
MARKUP = {MARKUP!r}
@hookimpl
def pairing_settings():
    return [Setting(name="most", about=MARKUP, kind="number", low=0, high=5)]
@hookimpl
def pairing_views():
    import streamlit as st
    return [View(name="mine", title=MARKUP, summary=MARKUP, show=lambda bench, model: st.text("VERSION 1"))]
@hookimpl
def pairing_rules(settings):
    return [Rule(id="steps", summary=MARKUP, source="invented", acts_on="liking", parts=("one", "more"), along=MARKUP,
                 feature=lambda t: bins(t.n_flavourings, (0, 2, 9)), because=lambda r: MARKUP, prior_sd=1.0)]
"""


def markdown(at):
    return "\n".join(str(element.value) for kind in (at.markdown, at.title, at.subheader) for element in kind)


def html(at):
    return "\n".join(element.proto.body for element in at.get("html"))


def lab(bench, text=PLUGIN):
    (bench / "plugins").mkdir(exist_ok=True)
    (bench / "plugins" / "lab.py").write_text(text)
    trust(bench)


def test_titles_summaries_and_words_of_plugins_are_text(app, bench_at):
    lab(bench_at("one"))
    shown = app("one", "plugins")
    assert "<b>bold</b>" not in markdown(shown) + html(shown)
    assert "&lt;b&gt;bold&lt;/b&gt; **stars**" in html(shown), "in a table as it was written"
    assert "**stars**" not in markdown(shown), "in running text escaped"
    assert ":red[x]" not in markdown(shown)
    cups = app("one", "next_cups")
    assert "<b>bold</b>" not in markdown(cups) + html(cups)
    assert ":red[x]" not in markdown(cups)


def test_a_page_of_a_plugin_has_its_title_as_text(monkeypatch):
    titles = []
    monkeypatch.setattr(parts.st, "title", lambda text, **more: titles.append(text))
    monkeypatch.setattr(parts.st, "html", titles.append)
    monkeypatch.setattr(plugin_views.begin, "needed", lambda: None)
    monkeypatch.setattr(plugin_views.session, "model", lambda bench: None)
    drawn = []
    plugin_views.own_page(View(name="lab:mine", title=MARKUP, summary=MARKUP, show=lambda *given: drawn.append(given)))
    assert drawn == [(None, None)]
    assert not any("<b>" in text or ("**stars**" in text and "lead" not in text) for text in titles)


def test_an_edited_file_is_loaded_anew_without_a_restart(app, bench_at):
    lab(bench_at("one"))
    shown = app("one", "plugins")
    assert "steps" in html(shown) + markdown(shown)
    lab(shown.bench_path, PLUGIN.replace('id="steps"', 'id="strides"'))
    shown.run()
    assert not shown.exception
    assert "strides" in html(shown) + markdown(shown)
    (shown.bench_path / "plugins" / "lab.py").write_text(PLUGIN + "# not trusted any more\n")
    shown.run()
    assert "not trusted" in html(shown)
    assert "strides" not in markdown(shown)


def test_a_setting_is_set_on_the_page(app, bench_at):
    lab(bench_at("one"))
    shown = app("one", "plugins")
    shown.selectbox[-1].set_value(("lab", "most"))
    shown.text_input[-1].set_value("3")
    next(button for button in shown.button if button.label == "Set it").click()
    shown.run()
    assert "most = 3.0" in (shown.bench_path / "plugins.toml").read_text()
    assert not shown.exception
