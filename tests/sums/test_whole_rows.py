"""Whole rows of totals by two small rules, every column worked out by hand.

``one`` adds DDE and DDD in ug/kg, 2,4'-DDE by half with its factor printed as a limit, and doubles the sum; 4,4'-DDD is
not needed. ``two`` adds three others in mg/kg from two members on, complete with two, unless ``one`` is larger.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import read_rows, results_of

from screen.model import TOTALS
from screen.reference.rules import SumRules
from screen.stages.sums import total

RULES = SumRules(
    pd.DataFrame(
        {
            "total": ["one", "two"],
            "name": ["Sum one", "Sum two"],
            "unit": ["ug/kg", "mg/kg"],
            "group": ["pesticide", "pesticide"],
            "factor": [2.0, 1.0],
            "complete_at": [np.nan, 2.0],
            "not_less_than": ["", "one"],
            "at_least": [1, 2],
        }
    ).set_index("total"),
    pd.DataFrame(
        [
            ("one", "4,4'-DDE", 1.0, False, True),
            ("one", "2,4'-DDE", 0.5, True, True),
            ("one", "4,4'-DDD", 1.0, False, False),
            ("two", "4,4'-DDD", 1.0, False, True),
            ("two", "4,4'-DDT", 1.0, False, True),
            ("two", "2,4'-DDT", 1.0, False, True),
        ],
        columns=["total", "substance", "weight", "bound", "needed"],
    ),
)
#: Sample A comes second; its first DDE counts, of two rows of one substance.
ROWS: list[tuple[Any, ...]] = [
    ("B", "4,4'-DDE", "3", "dry", None, {"station": "North"}),
    ("B", "2,4'-DDT", "7 R"),
    ("B", "4,4'-DDT", "5"),
    ("B", "4,4'-DDD", "<6"),
    ("B", "4,4'-DDE", "9"),
    ("A", "4,4'-DDT", "1"),
    ("A", "2,4'-DDE", "<1"),
    ("A", "4,4'-DDE", "4 J"),
]
BOUND = "an upper estimate, factors printed as limits (<) counted in full: 2,4'-DDE"
LIMITS = "more than half of the upper bound comes from limits"


def plain(table: pd.DataFrame) -> list[dict[str, Any]]:
    rows = table.astype(object).where(table.notna(), None).to_dict("records")
    return [{str(key): value for key, value in row.items()} for row in rows]


def rows_of(rule: str, rows: list[tuple[Any, ...]] = ROWS) -> dict[tuple[str, str], dict[str, Any]]:
    table = total(results_of(rows), RULES, (rule,))
    return {(row["sample"], row["total"]): row for row in plain(table)}


def test_every_column_with_nondetects_as_zero() -> None:
    table = total(results_of(ROWS), RULES)
    assert list(table) == TOTALS
    assert plain(table) == [
        {
            "sample": "A", "station": "A", "total": "one", "name": "Sum one", "rule": "zero",
            "value": 8.0, "low": 8.0, "high": 9.0, "limit": None, "unit": "ug/kg", "detected": True, "qualifier": "J",
            "members": 3, "measured": 2, "peaks": 2, "detects": 1, "complete": True, "missing": "4,4'-DDD",
            "counted_once": None, "factor": 2.0, "lab_total": None, "lab_difference_pct": None, "note": BOUND,
        },
        {
            "sample": "B", "station": "B", "total": "one", "name": "Sum one", "rule": "zero",
            "value": 6.0, "low": 6.0, "high": 18.0, "limit": None, "unit": "ug/kg", "detected": True, "qualifier": None,
            "members": 3, "measured": 2, "peaks": 2, "detects": 1, "complete": False, "missing": "2,4'-DDE",
            "counted_once": None, "factor": 2.0, "lab_total": None, "lab_difference_pct": None, "note": LIMITS,
        },
        {
            "sample": "B", "station": "B", "total": "two", "name": "Sum two", "rule": "zero",
            "value": 0.005, "low": 0.005, "high": 0.011, "limit": None, "unit": "mg/kg", "detected": True,
            "qualifier": None, "members": 3, "measured": 2, "peaks": 2, "detects": 1, "complete": False,
            "missing": "2,4'-DDT", "counted_once": None, "factor": 1.0, "lab_total": None, "lab_difference_pct": None,
            "note": f"{LIMITS}; one is larger",
        },
    ]  # fmt: skip


def test_texts_are_coded_and_numbers_are_numbers() -> None:
    kinds = total(results_of(ROWS), RULES).dtypes.astype(str).to_dict()
    assert {name for name, kind in kinds.items() if kind == "category"} == {
        "sample", "station", "total", "name", "rule", "unit", "qualifier", "missing", "counted_once", "note",
    }  # fmt: skip
    assert {name for name, kind in kinds.items() if kind == "bool"} == {"detected", "complete"}
    assert {name for name, kind in kinds.items() if kind == "int64"} == {"members", "measured", "peaks", "detects"}


def test_an_empty_table_has_the_same_columns_and_kinds() -> None:
    empty, full = total(results_of([]), RULES), total(results_of(ROWS), RULES)
    assert empty.dtypes.astype(str).to_dict() == full.dtypes.astype(str).to_dict()


def test_rows_by_sample_total_and_rule_in_the_order_asked_for() -> None:
    table = total(results_of(ROWS), RULES, ("half", "zero", "half"))
    assert [(row["sample"], row["total"], row["rule"], row["value"]) for row in plain(table)] == [
        ("A", "one", "half", 8.5), ("A", "one", "zero", 8.0), ("B", "one", "half", 12.0), ("B", "one", "zero", 6.0),
        ("B", "two", "half", 0.008), ("B", "two", "zero", 0.005),
    ]  # fmt: skip


def test_the_station_is_that_of_any_row_of_the_sample_that_states_one() -> None:
    results = results_of(ROWS)
    stated = results.assign(station=["North"] * 5 + [None] * 3).astype({"station": "category"})
    table = total(stated, RULES)
    assert [(row["sample"], row["station"]) for row in plain(table)] == [("A", None), ("B", "North"), ("B", "North")]


def test_rows_without_a_sample_are_in_no_total() -> None:
    results = results_of(ROWS)
    nobody = results.assign(sample=[None, *results["sample"].astype(object)[1:]]).astype({"sample": "category"})
    row = next(one for one in plain(total(nobody, RULES)) if one["sample"] == "B")
    assert row["value"] == 18.0  # the second row of DDE, 9, doubled


def test_rows_that_are_not_used_are_not_measured() -> None:
    results = results_of(ROWS)
    results = results.assign(used=(results["substance"] != "4,4'-DDE").to_numpy())
    found = {(row["sample"], row["total"]): row for row in plain(total(results, RULES))}
    assert found["B", "one"]["value"] is None
    assert (found["B", "one"]["limit"], found["B", "one"]["measured"]) == (12.0, 1)


def test_results_without_the_column_estimated_have_no_qualifier() -> None:
    table = total(results_of(ROWS).drop(columns="estimated"), RULES)
    assert table["qualifier"].isna().all()


def test_an_estimated_member_that_was_not_detected_gives_no_qualifier() -> None:
    assert rows_of("zero", [("S", "4,4'-DDE", "<4 UJ"), ("S", "4,4'-DDD", "3")])["S", "one"]["qualifier"] is None


def test_without_a_value_the_highest_limit_times_factor_and_weight() -> None:
    row = rows_of("zero", [("S", "4,4'-DDE", "<4"), ("S", "2,4'-DDE", "<10")])["S", "one"]
    assert (row["value"], row["low"], row["high"], row["limit"]) == (None, 0.0, 18.0, 10.0)
    assert (row["detected"], row["detects"]) == (False, 0)


@pytest.mark.parametrize(("rule", "limit"), [("half", 9.0), ("full", 18.0), ("km", 10.0)])
def test_without_a_value_the_limit_by_rule(rule: str, limit: float) -> None:
    assert rows_of(rule, [("S", "4,4'-DDE", "<4"), ("S", "2,4'-DDE", "<10")])["S", "one"]["limit"] == limit


@pytest.mark.parametrize("rule", ["zero", "half", "km"])
def test_a_limit_that_is_unknown_leaves_all_open_and_is_noted(rule: str) -> None:
    row = rows_of(rule, [("S", "4,4'-DDE", "ND"), ("S", "4,4'-DDD", "<3")])["S", "one"]
    assert (row["value"], row["high"], row["limit"]) == (None, None, None)
    assert row["note"].split("; ")[0] == "limit of a member not detected is unknown"


def test_a_trace_of_unknown_upper_bound_is_noted_too() -> None:
    row = rows_of("zero", [("S", "4,4'-DDE", "trace"), ("S", "4,4'-DDD", "3")])["S", "one"]
    assert (row["value"], row["high"]) == (6.0, None)
    assert row["note"] == "limit of a member not detected is unknown"


def test_above_the_range_is_noted() -> None:
    row = rows_of("zero", [("S", "4,4'-DDE", ">5"), ("S", "4,4'-DDD", "3")])["S", "one"]
    assert (row["value"], row["low"], row["high"], row["note"]) == (
        16.0, 16.0, None, "above the measuring range: at least this",
    )  # fmt: skip


def test_exactly_half_from_limits_is_not_noted() -> None:
    row = rows_of("zero", [("S", "4,4'-DDE", "5"), ("S", "4,4'-DDD", "<5")])["S", "one"]
    assert (row["high"], row["note"]) == (20.0, None)


def test_all_from_limits_without_a_value_is_not_noted() -> None:
    assert rows_of("zero", [("S", "4,4'-DDE", "<5")])["S", "one"]["note"] is None


def test_one_member_is_not_enough_for_a_total_of_two() -> None:
    assert set(rows_of("zero", [("S", "4,4'-DDT", "5")])) == set()
    assert set(rows_of("zero", [("S", "4,4'-DDT", "5"), ("S", "2,4'-DDT", "<5")])) == {("S", "two")}


def test_complete_with_two_where_no_larger_total_stands_beside() -> None:
    row = rows_of("zero", [("S", "4,4'-DDT", "5"), ("S", "2,4'-DDT", "<5")])["S", "two"]
    assert (row["complete"], row["missing"], row["note"]) == (True, "4,4'-DDD", None)


def test_a_total_equal_to_the_other_is_no_smaller() -> None:
    rows = [("S", "4,4'-DDE", "0.0025"), ("S", "4,4'-DDT", "3"), ("S", "2,4'-DDT", "2")]
    found = rows_of("zero", rows)
    assert (found["S", "one"]["value"], found["S", "two"]["value"]) == (0.005, 0.005)
    assert (found["S", "two"]["complete"], found["S", "two"]["note"]) == (True, None)


def test_a_total_without_value_is_smaller_than_one_with() -> None:
    rows = [("S", "4,4'-DDE", "1"), ("S", "4,4'-DDT", "<3"), ("S", "2,4'-DDT", "<2")]
    row = rows_of("zero", rows)["S", "two"]
    assert (row["value"], row["complete"], row["note"]) == (None, False, "one is larger")


def test_kaplan_meier_of_three_and_one() -> None:
    """Detects 1, 2, 4 and <1.5: by hand, mean 1 * 1/2 + 2 * 1/4 + 4 * 1/4 = 2; four members."""
    rows = [("S", "PCB-8", "1"), ("S", "PCB-18", "2"), ("S", "PCB-28", "4"), ("S", "PCB-44", "<1.5")]
    table = total(results_of(rows), nondetects=("km", "zero"))
    found = {row["rule"]: row for row in plain(table) if row["total"] == "pcb-nst18x2"}
    assert found["km"]["value"] == pytest.approx(16.0)
    assert (found["zero"]["value"], found["km"]["low"], found["km"]["high"]) == (14.0, 14.0, 17.0)
    assert "conditions of km" not in str(found["km"]["note"])


@pytest.mark.parametrize(
    "more",
    [
        [("S", "PCB-44", "<1.5"), ("S", "PCB-52", "<1"), ("S", "PCB-66", "<1")],  # half not detected
        [("S", "PCB-44", ">9")],
        [("S", "PCB-44", "ND")],
        [("S", "PCB-44", "9 R")],
    ],
)
def test_kaplan_meier_is_not_used_where_its_conditions_fail(more: list[tuple[Any, ...]]) -> None:
    rows = [("S", "PCB-8", "1"), ("S", "PCB-18", "2"), ("S", "PCB-28", "4"), ("T", "PCB-8", "1"), *more]
    table = total(results_of(rows), nondetects=("km",))
    row = next(one for one in plain(table) if (one["sample"], one["total"]) == ("S", "pcb-nst18x2"))
    assert row["value"] == row["low"]
    note = "conditions of km not met (3 detected, fewer than half not detected, none rejected): zero used"
    assert note in row["note"].split("; ")[-1]


def test_a_rejected_row_of_another_sample_or_total_does_no_harm_to_kaplan_meier() -> None:
    rows = [("S", "PCB-8", "1"), ("S", "PCB-18", "2"), ("S", "PCB-28", "4"), ("S", "PCB-44", "<1.5")]
    table = total(results_of([*rows, ("S", "Lead", "4 R"), ("T", "PCB-8", "1 R")]), nondetects=("km",))
    row = next(one for one in plain(table) if one["total"] == "pcb-nst18x2")
    assert row["value"] == pytest.approx(16.0)


def test_a_stand_in_gives_way_to_the_substance_itself_in_its_sample_only() -> None:
    rows = [
        ("S", "Chrysene", "3"), ("S", "Chrysene/Triphenylene", "5"), ("S", "Pyrene", "1"),
        ("T", "Chrysene/Triphenylene", "5"), ("T", "Pyrene", "1"),
    ]  # fmt: skip
    table = total(results_of(rows))
    found = {row["sample"]: row for row in plain(table) if row["total"] == "pah-high6"}
    assert (found["S"]["value"], found["S"]["peaks"]) == (4.0, 2)
    assert (found["T"]["value"], found["T"]["peaks"]) == (6.0, 2)


def test_notes_of_peaks_name_them() -> None:
    rows = [("S", "PCB-77/110", "2"), ("S", "PCB-105/127", "3"), ("S", "PCB-118", "1")]
    row = next(one for one in plain(total(results_of(rows))) if one["total"] == "pcb-nst18x2")
    assert row["counted_once"] == "PCB-105/127"
    assert row["note"] == "includes unlisted coeluters: PCB-105/127"


def test_results_read_but_not_normalised_have_no_figures_to_sum() -> None:
    assert total(read_rows([("S", "4,4'-DDE", "3 R")]), RULES).empty
