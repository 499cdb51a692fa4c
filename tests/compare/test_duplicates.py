"""Field duplicates in findings: one row on the parent's, by the stated rule."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made import compared, set_of

LEAD = set_of([("Lead", {"L": 10, "U": 100})])
PAIR = {"S": {}, "D": {"parent": "S"}}


def pair(first: str, second: str, how: str = "higher") -> dict[str, Any]:
    found = compared([("S", "Lead", first), ("D", "Lead", second)], LEAD, samples=PAIR, duplicates=how)
    assert found["sample"].tolist() == ["S"]
    return found.astype(object).to_dict("records")[0]


@pytest.mark.parametrize(
    ("first", "second", "value"), [("5", "20", 20), ("20", "5", 20), ("<50", "5", 5), ("5", "<50", 5)]
)
def test_the_higher_value_and_a_detect_before_a_nondetect(first: str, second: str, value: float) -> None:
    row = pair(first, second)
    assert row["value"] == value
    assert "S and D" in row["note"]


def test_of_two_nondetects_the_lower_limit() -> None:
    row = pair("<50", "<5")
    assert (row["high"], row["finding"]) == (5, "below")


@pytest.mark.parametrize(
    ("first", "second", "low", "value", "high"), [("4", "8", 6, 6, 6), ("4", "<8", 2, 4, 6), ("<8", "4", 2, 4, 6)]
)
def test_the_mean_takes_a_nondetect_at_half_its_limit(
    first: str, second: str, low: float, value: float, high: float
) -> None:
    row = pair(first, second, "mean")
    assert (row["low"], row["value"], row["high"]) == (low, value, high)
    assert row["note"] == "mean of field duplicates S and D"


def test_the_mean_of_two_nondetects_stays_one() -> None:
    row = pair("<50", "<5", "mean")
    assert np.isnan(row["value"])
    assert row["high"] == 5


def test_a_trace_without_an_upper_bound_has_no_half_and_the_value_stands() -> None:
    row = pair("4", "trace", "mean")
    assert row["value"] == 4


def test_separate_keeps_both() -> None:
    rows = [("S", "Lead", "5"), ("D", "Lead", "20")]
    assert compared(rows, LEAD, samples=PAIR, duplicates="separate")["sample"].tolist() == ["S", "D"]


def test_what_only_the_duplicate_has_stands_on_the_parents_row() -> None:
    found = compared([("S", "Zinc", "5"), ("D", "Lead", "20")], LEAD, samples=PAIR)
    assert found["sample"].tolist() == ["S"]
    assert found["note"].tolist() == ["from field duplicate D"]


def test_totals_are_made_per_sample_first() -> None:
    """The higher of two sums, not the sum of the higher members: 5 + 2 against 1 + 8, never 5 + 8."""
    chosen = set_of([("Sum DDE", {"L": 10, "U": 100})], unit="ug/kg", sums={"Sum DDE": (("dde",),)})
    rows = [("S", "4,4'-DDE", "5"), ("S", "2,4'-DDE", "2"), ("D", "4,4'-DDE", "1"), ("D", "2,4'-DDE", "8")]
    assert compared(rows, chosen, samples=PAIR)["value"].tolist() == [9]


def test_a_reason_gives_way_to_a_number() -> None:
    found = compared([("S", "Lead", "5", None), ("D", "Lead", "20")], LEAD, samples=PAIR)
    assert found["value"].tolist() == [20]


@pytest.mark.parametrize("how", ["higher", "mean"])
def test_a_pair_of_which_one_has_no_number_says_so(how: str) -> None:
    rows = [("S", "Lead", "5", "wet"), ("D", "Lead", "20")]
    row = compared(rows, LEAD, samples=PAIR, duplicates=how).iloc[0]
    assert (row["value"], row["note"]) == (20, "of field duplicates S and D only D has a number")


def test_a_pair_of_which_no_mean_can_be_made_is_not_called_one() -> None:
    assert pair("<50", "<5", "mean")["note"] == "higher of field duplicates S and D: D"
