"""The page of sources and the tables that the program reads say the same; every limit has its year and its source."""

import re
from importlib import resources
from pathlib import Path

import pytest

import pairing
from pairing.errors import QuantityError
from pairing.nutrition.names import KINDS, table
from pairing.safety.limits import Limit, limits, read_limits
from pairing.safety.people import person_of

PAGE = resources.files("pairing.safety").joinpath("SOURCES.md").read_text("utf-8")
ROOT = Path(pairing.__file__).parents[1]


def rows(title: str) -> list[list[str]]:
    """Return the cells of a section's table."""
    section = PAGE.split(f"\n## {title}\n")[1].split("\n## ", maxsplit=1)[0]
    lines = [line for line in section.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("| ").split(" | ")] for line in lines[2:]]


def as_row(limit: Limit) -> list[str]:
    most = f"{limit.most:g}" if limit.most < 1e5 else f"{limit.most:.0f}"
    facts = [limit.per, limit.who, limit.severity, limit.basis, str(limit.year), limit.source, limit.checked]
    return [limit.substance, limit.jurisdiction, f"{most} {limit.unit}", *facts]


def test_the_page_lists_every_limit_and_no_other():
    assert rows("Limits") == [as_row(limit) for limit in limits()]


def test_the_page_lists_every_name_and_no_other():
    found = [
        [h.about, h.kind, ", ".join(h.never_for) or "–", h.limited, str(h.year), h.source, h.checked]
        for h in table().values()
    ]
    assert rows("Names") == found


def test_every_group_that_a_name_is_never_for_is_understood():
    whom = {who for hint in table().values() for who in hint.never_for}
    person = person_of("somebody")
    assert whom >= {"all", "asking", "under 18", "infant"}
    assert [person.is_one_of(who) for who in sorted(whom)] == [who == "all" for who in sorted(whom)]
    assert {hint.kind for hint in table().values()} <= set(KINDS)


def test_every_figure_has_a_year_a_source_and_how_it_came_here():
    for cells in (*rows("Limits"), *rows("Names"), *rows("Other figures")):
        assert 1950 <= int(cells[-3]) <= 2026
        assert cells[-2]
        assert cells[-1] in ("published", "2nd-hand", "from memory", "common practice")


def test_a_source_that_names_a_year_names_the_limits():
    for limit in limits():
        years = {int(y) for y in re.findall(r"\b(?:19|20)\d\d\b(?!/)", limit.source)}
        if limit.basis == "lifetime" and len(years) == 1:
            assert limit.year in years, limit


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_the_page_is_one_step_away(page):
    assert "pairing/safety/SOURCES.md" in (ROOT / page).read_text("utf-8")


def test_a_limit_without_a_unit_is_refused_with_its_row():
    with pytest.raises(QuantityError, match=r"limit of 'caffeine' \(row 2\): unit is empty"):
        read_limits(["substance,most,unit", "caffeine,200,"])
    good = "substance,jurisdiction,most,unit,per,who,severity,from_share,unmeasured,basis,year,source,checked,note"
    with pytest.raises(QuantityError, match="0 or more, and a source"):
        read_limits([good, "caffeine,any,-1,mg,once,all,stop,1,,acute,2015,EFSA,published,"])
