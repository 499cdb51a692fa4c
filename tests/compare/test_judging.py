"""The finding of figures that are on the basis of their levels already, row by row of the contract's table."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from screen.stages.compare.findings.candidates import Candidates
from screen.stages.compare.findings.findings import NAMES, _three_figures, judge
from screen.stages.compare.findings.half_limits import at_half_limit
from screen.stages.compare.findings.levels import Levels

UNKNOWN = np.nan


def levels_with(names: tuple[str, ...], lower: int, upper: int) -> Levels:
    shape = (1, len(names))
    whole = np.zeros(shape, dtype=np.int64)
    text = np.array(["Lead"], dtype=object)
    return Levels(text, names, np.full(shape, 1.0), whole, ("dry",), whole, lower, upper, text, text, {})


def row(**more: Any) -> Candidates:
    """One row: exact unless told otherwise; ``limit`` alone makes a non-detect."""
    value = more.pop("value", UNKNOWN)
    limit = more.pop("limit", UNKNOWN)
    given = {
        "sample": 0, "place": 0, "total": -1, "value": value, "low": 0.0 if np.isnan(value) else value,
        "high": limit if np.isnan(value) else value, "limit": limit, "detected": not np.isnan(value),
        "partial": False, "more_than": False, "qualifier": -1, "note": -1, "why": -1,
    } | more  # fmt: skip
    return Candidates(**{name: np.array([one]) for name, one in given.items()})


def judged(
    rows: Candidates, figures: list[float], lower: int = 0, upper: int = 1, ties: bool = False
) -> dict[str, Any]:
    names = ("A", "B", "C", "D")[: len(figures)]
    found = judge(rows, levels_with(names, lower, upper), np.array([figures], dtype=np.float64), ties)
    settled = found.settled[0]
    return {
        "finding": NAMES[found.finding[0]],
        "settled": None if pd.isna(settled) else bool(settled),
        "exceeded": int(found.exceeded[0]),
        "lower": int(found.lower[0]),
        "at_level": bool(found.at_level[0]),
        "as_printed": bool(found.as_printed[0]),
        "no_upper": bool(found.no_upper[0]),
    }


@pytest.mark.parametrize(
    ("value", "finding", "exceeded", "at_level"),
    [
        (9.0, "below", -1, False),
        (10.0, "below", -1, True),
        (10.0 * (1 + 0.9e-9), "below", -1, True),
        (10.0 * (1 + 1.1e-9), "between", 0, False),
        (10.0 * (1 - 0.9e-9), "below", -1, True),
        (50.0, "between", 0, False),
        (100.0, "between", 0, True),
        (100.0 * (1 + 1.1e-9), "above", 1, False),
        (200.0, "above", 1, False),
    ],
)
def test_an_exact_value_against_two_levels(value: float, finding: str, exceeded: int, at_level: bool) -> None:
    found = judged(row(value=value), [10.0, 100.0])
    assert (found["finding"], found["exceeded"], found["at_level"]) == (finding, exceeded, at_level)
    assert (found["settled"], found["lower"], found["no_upper"]) == (True, 0, False)


@pytest.mark.parametrize(("value", "finding"), [(10.0, "between"), (100.0, "above"), (9.99, "below")])
def test_where_a_tie_exceeds(value: float, finding: str) -> None:
    found = judged(row(value=value), [10.0, 100.0], ties=True)
    assert (found["finding"], found["settled"]) == (finding, True)


@pytest.mark.parametrize(
    ("limit", "finding", "settled"),
    [(9.0, "below", True), (10.0, "below", True), (10.01, "undetermined", False), (500.0, "undetermined", False)],
)
def test_a_limit_against_the_lower_level(limit: float, finding: str, settled: bool) -> None:
    found = judged(row(limit=limit), [10.0, 100.0])
    assert (found["finding"], found["settled"], found["exceeded"]) == (finding, settled, -1)


def test_a_limit_at_the_level_hides_nothing_even_where_ties_exceed() -> None:
    assert judged(row(limit=10.0), [10.0, 100.0], ties=True)["finding"] == "below"


@pytest.mark.parametrize(
    ("high", "finding", "settled"),
    [(9.0, "below", True), (50.0, "undetermined", False), (UNKNOWN, "undetermined", False)],
)
def test_a_trace_against_the_lower_level(high: float, finding: str, settled: bool) -> None:
    found = judged(row(detected=True, low=1.0, high=high), [10.0, 100.0])
    assert (found["finding"], found["settled"]) == (finding, settled)


def test_a_nondetect_of_unknown_limit_is_not_assessed() -> None:
    found = judged(row(), [10.0, 100.0])
    assert (found["finding"], found["settled"]) == ("not-assessed", None)


@pytest.mark.parametrize("flag", ["partial", "more_than"])
@pytest.mark.parametrize(
    ("value", "finding"), [(5.0, "undetermined"), (10.0, "undetermined"), (50.0, "between"), (500.0, "above")]
)
def test_a_value_that_may_be_more(flag: str, value: float, finding: str) -> None:
    high = UNKNOWN if flag == "more_than" else value
    found = judged(row(value=value, high=high, **{flag: True}), [10.0, 100.0])
    assert found["finding"] == finding
    assert found["settled"] == (finding == "above")


def test_a_partial_total_without_a_value_is_undetermined() -> None:
    assert judged(row(limit=5.0, partial=True), [10.0, 100.0])["finding"] == "undetermined"


@pytest.mark.parametrize(
    ("low", "high", "settled"), [(20.0, 90.0, True), (5.0, 50.0, False), (50.0, 101.0, False), (50.0, 100.0, True)]
)
def test_settled_is_when_both_bounds_agree(low: float, high: float, settled: bool) -> None:
    assert judged(row(value=50.0, low=low, high=high), [10.0, 100.0])["settled"] == settled


def test_a_lower_bound_that_is_missing_counts_as_nought() -> None:
    assert judged(row(value=50.0, low=UNKNOWN, high=50.0), [10.0, 100.0])["settled"] is False
    assert judged(row(value=5.0, low=UNKNOWN, high=5.0), [10.0, 100.0])["settled"] is True


def test_a_row_with_a_reason_is_not_assessed_and_exceeds_nothing() -> None:
    found = judged(row(value=100.0, why=0), [10.0, 100.0])
    assert (found["finding"], found["settled"], found["exceeded"], found["at_level"]) == (
        "not-assessed",
        None,
        -1,
        False,
    )
    assert judged(row(value=100.2, why=0), [10.0, 100.0])["as_printed"] is False


def test_without_an_upper_level_here_it_is_between_and_said_so() -> None:
    found = judged(row(value=50.0), [10.0, UNKNOWN])
    assert (found["finding"], found["no_upper"], found["exceeded"]) == ("between", True, 0)
    assert judged(row(value=5.0), [10.0, UNKNOWN])["no_upper"] is False
    assert judged(row(value=50.0), [10.0], upper=-1)["no_upper"] is True


@pytest.mark.parametrize(("value", "finding"), [(50.0, "below"), (101.0, "above")])
def test_with_an_upper_level_alone(value: float, finding: str) -> None:
    found = judged(row(value=value), [UNKNOWN, 100.0])
    assert (found["finding"], found["lower"]) == (finding, -1)
    assert judged(row(value=value), [100.0], lower=-1, upper=0)["finding"] == finding


def test_a_limit_against_an_upper_level_alone() -> None:
    assert judged(row(limit=101.0), [UNKNOWN, 100.0])["finding"] == "undetermined"
    assert judged(row(limit=99.0), [UNKNOWN, 100.0])["finding"] == "below"


def test_without_any_level_it_is_not_assessed() -> None:
    assert judged(row(value=5.0), [UNKNOWN, UNKNOWN])["finding"] == "not-assessed"


def test_the_highest_of_all_levels_and_the_mildest_in_place_of_a_missing_lower_one() -> None:
    levels = [1.0, 10.0, 100.0, 1000.0]
    assert judged(row(value=500.0), levels, lower=1, upper=2)["exceeded"] == 2
    assert judged(row(value=5000.0), levels, lower=1, upper=2) | {"finding": ""} == {
        "finding": "", "settled": True, "exceeded": 3, "lower": 1, "at_level": False, "as_printed": False,
        "no_upper": False,
    }  # fmt: skip
    assert judged(row(value=5.0), [1.0, UNKNOWN, 100.0, 1000.0], lower=1, upper=2)["lower"] == 0
    assert judged(row(value=5.0), [UNKNOWN, UNKNOWN, 100.0, 1000.0], lower=1, upper=2)["lower"] == 3
    assert judged(row(value=5.0), [1.0, 10.0, 100.0, 1000.0], lower=1, upper=0)["lower"] == 1
    assert judged(row(value=5.0), [1.0, UNKNOWN, 100.0, 1000.0], lower=1, upper=0)["lower"] == 2


@pytest.mark.parametrize(
    ("value", "level", "same"),
    [
        (59.81, 59.8, True),
        (59.86, 59.8, False),
        (59.8, 59.8, False),  # equal, not only as printed
        (0.012345, 0.0123, True),
        (0.01236, 0.0123, False),
        (123456.0, 123000.0, True),
        (123600.0, 123000.0, False),
    ],
)
def test_three_figures_that_hide_a_difference(value: float, level: float, same: bool) -> None:
    found = judged(row(value=value), [level, 1e9])
    assert found["as_printed"] is same


@pytest.mark.parametrize(
    ("number", "printed"),
    [(1234.0, 1230.0), (123.4, 123.0), (99.95, 100.0), (0.0012345, 0.00123), (-1234.0, -1230.0), (1.0, 1.0)],
)
def test_three_figures(number: float, printed: float) -> None:
    assert _three_figures(np.array([number]))[0] == pytest.approx(printed, rel=1e-14)


def test_no_number_has_no_three_figures_and_nought_warns_of_nothing() -> None:
    assert np.isnan(_three_figures(np.array([UNKNOWN, 0.0]))).all()


@pytest.mark.parametrize(
    ("value", "low", "high", "figure"),
    [(7.0, 0.0, 9.0, 7.0), (UNKNOWN, 0.0, 8.0, 4.0), (UNKNOWN, 5.0, 8.0, 5.0), (UNKNOWN, 3.0, UNKNOWN, UNKNOWN),
     (UNKNOWN, UNKNOWN, 8.0, 4.0)],
)  # fmt: skip
def test_the_figure_of_a_mean(value: float, low: float, high: float, figure: float) -> None:
    found = at_half_limit(*(np.array([one]) for one in (value, low, high)))
    assert found[0] == pytest.approx(figure, nan_ok=True)
