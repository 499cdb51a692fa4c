"""The ranking of stations, on small batches made by hand."""

import math

import pandas as pd
import pytest
from made import compared, set_of

from screen.model import RANKING
from screen.stages.compare.places.ranking import rank_stations

SET = set_of([("Lead", {"L": 10, "U": 100}), ("Zinc", {"L": 10, "U": 100}), ("Copper", {"L": 10, "U": 100})])
NO_TOTALS = pd.DataFrame({"sample": [], "total": [], "complete": []})


def ranked(rows, samples=None) -> pd.DataFrame:
    found = compared(rows, SET, samples=samples)
    about = pd.DataFrame({"station": found["station"].astype(str).unique(), "role": "", "river_km": math.nan})
    return rank_stations(found, NO_TOTALS, about, [SET.id])


def test_the_columns_are_declared() -> None:
    assert ranked([("A", "Lead", "5")]).columns.tolist() == RANKING


def test_more_substances_above_come_first_then_the_higher_quotient() -> None:
    rows = [("A", "Lead", "900"), ("B", "Lead", "110"), ("B", "Zinc", "120"), ("C", "Lead", "950"), ("D", "Lead", "5")]
    found = ranked(rows)
    assert found["station"].tolist() == ["B", "C", "A", "D"]
    assert found["rank"].tolist() == [1, 2, 3, 4]


def test_equal_stations_share_a_rank() -> None:
    found = ranked([("A", "Lead", "50"), ("B", "Lead", "50"), ("C", "Lead", "20")])
    assert found["rank"].tolist() == [1, 1, 3]


@pytest.mark.parametrize(
    ("texts", "column"),
    [
        (("5", "200"), "above"),
        (("5", "20"), "between"),
        (("5", "<50"), "undetermined"),
        (("5", "ND"), "not_assessed"),
        (("5", "<8"), "below"),
    ],
)
def test_a_substance_counts_once_by_its_gravest_finding(texts: tuple[str, str], column: str) -> None:
    rows = [(f"A-{at}", "Lead", text) for at, text in enumerate(texts)]
    row = ranked(rows, samples={name: {"station": "A"} for name, _, _ in rows}).iloc[0]
    assert row[["samples", "compared"]].tolist() == [2, 1]
    assert [name for name in ("above", "between", "undetermined", "not_assessed", "below") if row[name]] == [column]


@pytest.mark.parametrize(
    ("text", "span"),
    [("200", (1, 1, 1)), ("<50", (0, 0, 0)), ("<500", (0, 0, 1)), ("ND", (0, 0, 1)), (">50", (0, 0, 1))],
)
def test_how_many_may_be_above_stands_in_the_same_row(text: str, span: tuple[int, int, int]) -> None:
    row = ranked([("A", "Lead", text)]).iloc[0]
    assert tuple(row[["above", "above_low", "above_high"]]) == span


def test_a_sum_that_lacks_members_may_be_above() -> None:
    found = compared([("A", "Lead", "5")], SET).assign(total="pcb-congeners", settled=False, finding="undetermined")
    totals = pd.DataFrame({"sample": ["A"], "total": ["pcb-congeners"], "complete": [False]})
    about = pd.DataFrame({"station": ["A"], "role": "", "river_km": [1.0]})
    assert rank_stations(found, totals, about, [SET.id])["above_high"].tolist() == [1]


def test_the_highest_quotient_is_named_with_its_sample() -> None:
    row = ranked([("A", "Lead", "50"), ("A", "Zinc", "80")]).iloc[0]
    assert row[["highest_quotient", "highest_level", "highest_substance", "highest_sample"]].tolist() == [
        0.8, "U", "Zinc", "A",
    ]  # fmt: skip


def test_a_station_without_any_value_is_last_and_says_so() -> None:
    found = ranked([("A", "Lead", "ND"), ("B", "Lead", "1")])
    assert found["station"].tolist() == ["B", "A"]
    assert found["note"].iloc[1] == "no value to compare with a level"
    assert math.isnan(found["highest_quotient"].iloc[1])


def test_without_findings_there_is_no_row() -> None:
    found = compared([("A", "Lead", "5")], SET).iloc[:0]
    assert rank_stations(found, NO_TOTALS, pd.DataFrame(), []).empty
