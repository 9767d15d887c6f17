import datetime as dt

import pytest

from pairing.errors import TableError
from pairing.store.dates import day_first, read_time


@pytest.mark.parametrize(
    "text",
    [
        "2026-05-03",
        "3.5.2026",
        "03.05.26",
        "2026/05/03",
        "2026/5/3",
        "3 May 2026",
        "May 3, 2026",
        "3rd May 2026",
        "3-May-2026",
        "3 May 26",
        "May 3, 26",
    ],
)
def test_forms_of_one_day(text):
    assert read_time(text, "tasted_at") == "2026-05-03"


@pytest.mark.parametrize(
    "text",
    ["2026-05-03 14:30", "2026-05-03T14:30:00", "3.5.2026 14:30", "3/5/2026 2:30 pm", "3 May 2026, 14:30"],
)
def test_forms_of_one_moment(text):
    assert read_time(text, "tasted_at", first=True) == "2026-05-03T14:30:00"


def test_the_offset_of_a_time_is_kept():
    # published: ISO 8601-1:2019, "Z" is +00:00
    assert read_time("2026-05-03T14:30:00Z", "at") == "2026-05-03T14:30:00+00:00"


def test_day_and_month_that_can_be_exchanged_are_refused_with_the_remedy():
    with pytest.raises(TableError, match=r"two dates: 2026-04-03 or 2026-03-04 — write it as 2026-04-03 or"):
        read_time("03/04/2026", "tasted_at")
    assert read_time("03/04/2026", "tasted_at", first=True) == "2026-04-03"
    assert read_time("03/04/2026", "tasted_at", first=False) == "2026-03-04"


def test_dates_that_cannot_be_exchanged_need_no_help():
    assert read_time("25/12/2026", "at") == read_time("12/25/2026", "at") == "2026-12-25"
    assert read_time("03/03/2026", "at") == "2026-03-03"


def test_the_column_decides_when_it_is_of_one_mind():
    assert day_first(["03/04/2026", "25/12/2026"]) is True
    assert day_first(["03/04/2026", "12/25/2026"]) is False
    assert day_first(["25/12/2026", "12/25/2026"]) is None
    assert day_first(["3.4.2026", "2026-12-25"]) is None


@pytest.mark.parametrize(
    "text", ["2026-02-30", "31.4.2026", "yesterday", "14:30", "2026", "46145", "2026-05-03 25:00", "3/5/6", "3 May 6"]
)
def test_what_is_no_date_is_refused(text):
    with pytest.raises(TableError, match="2026-05-03"):
        read_time(text, "tasted_at")


def test_dates_of_python_and_spreadsheets():
    assert read_time(dt.datetime(2026, 5, 3), "at") == "2026-05-03"
    assert read_time(dt.datetime(2026, 5, 3, 14, 30), "at") == "2026-05-03T14:30:00"
    assert read_time(dt.date(2026, 5, 3), "at") == "2026-05-03"
