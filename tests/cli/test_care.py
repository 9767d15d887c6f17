"""Cautions at the command line: each once, gravest first, with source and limits of knowledge one step away."""

from pairing.cli.care import show_cautions, show_one
from pairing.cli.output import Output
from pairing.model.caution import Caution

MILK = {"kind": "allergen", "severity": "warn", "words": "contains milk ({items})"}
GLYCOL = {
    "kind": "intake",
    "severity": "note",
    "words": "propylene glycol: {amount} mg a day is {percent} % of the {most} mg a day for {people}",
    "people": ("ana (57 kg)",),
}
TIME = Caution(kind="time", severity="note", words="out of the fridge at most 2 h", general=True)


def glycol(amount, percent, **more):
    return Caution(**{**GLYCOL, **more}, figures={"amount": amount, "percent": percent, "most": 1425})


def care(capsys, *cups, **options):
    """Return the lines of the block for the cautions of each cup, without the pointer to the sources."""
    show_cautions(Output(), cups, **options)
    lines = [line.strip() for line in capsys.readouterr().out.splitlines()]
    return [line for line in lines if not line.endswith("--cautions.")]


def test_cautions_that_differ_in_items_or_figures_are_one(capsys):
    assert care(
        capsys,
        [Caution(**MILK, items=("milk",)), glycol(893.6, 63), TIME],
        [Caution(**MILK, items=("fig", "2 g")), glycol(57, 4)],
        [Caution(kind="allergen", severity="warn", words="contains gluten ({items})", items=("oat",))],
    ) == [
        "Care:",
        "Warning 1–2: contains milk (milk, fig, 2 g)",
        "Warning 3: contains gluten (oat)",
        "Note 1–2: propylene glycol: 57–894 mg a day is 4–63 % of the 1425 mg a day for ana (57 kg)",
        "Note 1: out of the fridge at most 2 h",
    ]


def test_cautions_that_say_something_else_stay_apart(capsys):
    over = Caution(kind="intake", severity="warn", words="more than a day's worth")
    assert care(capsys, [over], [glycol(500, 35)]) == [
        "Care:",
        "Warning 1: more than a day's worth",
        "Note 2: propylene glycol: 500 mg a day is 35 % of the 1425 mg a day for ana (57 kg)",
    ]
    assert care(capsys, [glycol(500, 35)], [glycol(500, 35, severity="warn")])[1].startswith("Warning 2")
    assert care(capsys) == []


def test_a_stop_comes_first_and_sources_are_one_step_away(capsys):
    stop = Caution(
        kind="intake",
        severity="stop",
        words="too much at once",
        source="an opinion, 2015",
        cannot_know="the rest of the day",
    )
    explained = care(capsys, [TIME, glycol(1, 1), stop], explain=True)
    assert explained[1:3] == [
        "STOP 1: too much at once",
        "Source: an opinion, 2015. Not known here: the rest of the day.",
    ]
    assert explained[-1] == "Local codes and licensed practice come first."
    show_cautions(Output(), [[stop]])
    assert "--cautions" in capsys.readouterr().out
    show_one(Output(), [stop], explain=True)
    assert "Not known here: the rest of the day" in capsys.readouterr().out


def test_names_with_braces_stay_as_they_are(capsys):
    odd = Caution(**MILK, items=("{percent}", "{0}"))
    assert care(capsys, [odd]) == ["Care:", "Warning 1: contains milk ({percent}, {0})"]
