"""A cup at the bench without a browser: find what is asked, and answer it."""

from urllib.parse import parse_qs

from pairing.bench import Bench


def button(at, label):
    return next(b for b in at.button if b.label.startswith(label))


def press(at, label):
    """Tap a button, or a link where no button has that label."""
    if any(b.label.startswith(label) for b in at.button):
        button(at, label).click().run()
    else:
        follow(at, label)
    assert not at.exception, at.exception


def follow(at, label):
    """Go where a link leads to, with what it puts into the address."""
    link = next(it.proto for it in at.get("page_link") if it.proto.label.startswith(label))
    at.query_params.clear()
    at.query_params.update({name: values[0] for name, values in parse_qs(link.query_string).items()})
    at.switch_page(f"views/{link.page or 'next_cups'}.py").run()


def choose(at, value):
    """Answer the one question that is asked by pills."""
    at.pills[0].set_value(value).run()
    assert not at.exception, at.exception


def correct(at):
    """Open the form by which the open cup of the log is corrected."""
    next(t for t in at.toggle if t.label == "Correct it").set_value(True).run()
    assert not at.exception, at.exception


def write(at, label, text):
    next(t for t in at.text_input if t.label == label).set_value(text).run()


def events(at):
    bench = Bench.open(at.bench_path)
    return bench.load_draft(bench.list_drafts()[0]["draft_id"])["events"]


def asked(at):
    return next(h.proto.body for h in at.get("html") if 'class="ask"' in h.proto.body)


def said_of(at, label):
    """Find the pills of a name."""
    return next(p for p in at.pills if p.label == label)


def pour(at, tasters=("me",)):
    """Begin a cup, up to the question how much was poured."""
    press(at, "A new cup")
    choose(at, "oat")
    at.pills[0].set_value(["plum"]).run()
    press(at, "Next")
    said_of(at, "Tasters").set_value(list(tasters)).run()


def finish(at):
    go_to_the_rest(at)
    press(at, "Nothing else, save")


def go_to_the_rest(at):
    press(at, "I poured")
    press(at, "I added it")
    said_of(at, "Strength").set_value(3).run()
    if not any(p.label == "Liking" for p in at.pills):
        press(at, "Done with" if any(b.label.startswith("Done with") for b in at.button) else "No more")
    said_of(at, "Liking").set_value(8).run()
    assert not at.exception, at.exception
