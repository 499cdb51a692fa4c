import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screen.stages.read.words.dates import read_dates


@pytest.mark.parametrize(
    ("text", "date"),
    [
        ("2026-05-12", "2026-05-12"),
        ("2026-05-12T14:30:00", "2026-05-12"),
        ("2026-05-12 23:55", "2026-05-12"),
        ("12-May-26", "2026-05-12"),
        ("12 May 2026", "2026-05-12"),
        ("May 12, 2026", "2026-05-12"),
        ("03.04.2026", "2026-04-03"),
        ("13/04/2026", "2026-04-13"),
        ("04/13/2026", "2026-04-13"),
        ("04/04/2026", "2026-04-04"),
        ("12-May-98", "1998-05-12"),
        ("20260512", "2026-05-12"),
        ("", ""),
    ],
)
def test_a_date_is_read(text: str, date: str) -> None:
    assert read_dates([text])["date"].tolist() == [date]


def test_day_and_month_stay_open_without_proof() -> None:
    frame = read_dates(["03/04/2026"])
    assert frame.to_numpy().tolist() == [["", "date-ambiguous"]]


def test_another_date_of_the_file_settles_the_order() -> None:
    assert read_dates(["03/04/2026", "25/04/2026"])["date"].tolist() == ["2026-04-03", "2026-04-25"]


def test_the_setting_settles_the_order() -> None:
    assert read_dates(["03/04/2026"], "month-first")["date"].tolist() == ["2026-03-04"]


@pytest.mark.parametrize("text", ["31 Feb 2026", "spring", "2026", "45000"])
def test_no_date_is_made_up(text: str) -> None:
    assert read_dates([text]).to_numpy().tolist() == [["", "date-unreadable"]]


@settings(deadline=None)
@given(st.dates(min_value=datetime.date(1970, 1, 1), max_value=datetime.date(2068, 12, 31)))
def test_every_plain_way_of_writing_gives_the_day_back(day: datetime.date) -> None:
    ways = [
        day.isoformat(),
        day.strftime("%d-%b-%y"),
        day.strftime("%d %B %Y"),
        day.strftime("%d.%m.%Y"),
        day.strftime("%B %d, %Y"),
    ]
    assert read_dates(ways)["date"].tolist() == [day.isoformat()] * len(ways)
