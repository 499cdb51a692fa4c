"""Rows of a sample and its field duplicates made one, on rows made by hand: figures, which row, and what is told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from screen.stages.compare.findings.candidates import Candidates
from screen.stages.compare.findings.duplicates import merged, roots

UNKNOWN = np.nan
NAMES = np.array(["A", "B", "C", "D"], dtype=object)
#: B and C are duplicates of A; D stands by itself.
ROOT = np.array([0, 0, 0, 3])


def rows_of(*rows: dict[str, Any]) -> Candidates:
    given = []
    for row in rows:
        value, limit = row.get("value", UNKNOWN), row.get("limit", UNKNOWN)
        detected = row.get("detected", not np.isnan(value))
        given.append(
            {
                "sample": 0, "place": 0, "total": -1, "value": value, "low": 0.0 if np.isnan(value) else value,
                "high": limit if np.isnan(value) else value, "limit": limit, "detected": detected, "partial": False,
                "more_than": False, "qualifier": -1, "note": -1, "why": -1,
            } | row
        )  # fmt: skip
    return Candidates(**{name: np.array([row[name] for row in given]) for name in given[0]})


def made(how: str, *rows: dict[str, Any]) -> tuple[Candidates, list[int], list[str]]:
    out, kept, note, texts = merged(rows_of(*rows), ROOT, NAMES, how)
    return out, kept.tolist(), ["" if code < 0 else texts[code] for code in note]


def test_roots_go_all_the_way_up() -> None:
    assert roots(NAMES, np.array(["", "A", "B", ""], dtype=object)).tolist() == [0, 0, 0, 3]
    assert roots(NAMES, np.array(["D", "A", "B", ""], dtype=object)).tolist() == [3, 3, 3, 3]


def test_a_parent_that_is_not_there_leaves_the_sample_by_itself() -> None:
    assert roots(NAMES, np.array(["X", "", "", "C"], dtype=object)).tolist() == [0, 1, 2, 2]


def test_samples_that_name_each_other_come_to_an_end() -> None:
    assert len(roots(NAMES, np.array(["B", "A", "", ""], dtype=object))) == 4


@pytest.mark.parametrize(
    ("first", "second", "chosen"),
    [
        ({"value": 5.0}, {"value": 7.0}, 1),
        ({"value": 7.0}, {"value": 5.0}, 0),
        ({"value": 5.0}, {"value": 5.0}, 0),  # of equal ones the parent's
        ({"limit": 1.0}, {"value": 0.5}, 1),
        ({"limit": 9.0}, {"limit": 3.0}, 1),
        ({"limit": 3.0}, {"limit": 9.0}, 0),
        ({"limit": 1.0}, {"detected": True, "low": 1.0, "high": 3.0}, 1),
        ({"value": 0.1}, {"detected": True, "low": 1.0, "high": 3.0}, 0),
        ({"detected": True, "high": 3.0}, {"detected": True, "high": 4.0}, 1),
        ({"detected": True, "high": 3.0}, {"detected": True, "high": UNKNOWN}, 1),
        ({"limit": UNKNOWN}, {"limit": 3.0}, 1),
        ({"value": 9.0, "why": 0}, {"limit": 3.0}, 1),
        ({"why": 0}, {"why": 0}, 0),
    ],
)
def test_which_of_two_stands(first: dict[str, Any], second: dict[str, Any], chosen: int) -> None:
    for pair, wanted in (((first, second | {"sample": 1}), chosen), ((second | {"sample": 1}, first), 1 - chosen)):
        out, kept, _ = made("higher", *pair)
        assert (out.sample.tolist(), kept) == ([0], [wanted])


def test_each_substance_total_and_parent_by_itself() -> None:
    out, kept, notes = made(
        "higher",
        {"sample": 1, "place": 1, "value": 4.0},
        {"sample": 0, "place": 1, "value": 3.0},
        {"sample": 3, "place": 1, "value": 9.0},
        {"sample": 0, "place": 2, "total": 0, "value": 1.0},
        {"sample": 2, "place": 2, "total": 1, "value": 2.0},
        {"sample": 2, "place": 0, "value": 8.0},
    )
    columns = (out.sample.tolist(), out.place.tolist(), out.total.tolist(), out.value.tolist(), notes)
    assert sorted(zip(*columns, strict=True)) == [
        (0, 0, -1, 8.0, "from field duplicate C"),
        (0, 1, -1, 4.0, "higher of field duplicates A and B: B"),
        (0, 2, 0, 1.0, ""),
        (0, 2, 1, 2.0, "from field duplicate C"),
        (3, 1, -1, 9.0, ""),
    ]  # fmt: skip
    assert sorted(kept) == [0, 2, 3, 4, 5]


def test_three_are_named_in_the_order_of_samples() -> None:
    rows = ({"sample": 2, "value": 4.0}, {"sample": 0, "value": 3.0}, {"sample": 1, "value": 5.0})
    assert made("higher", *rows)[2] == ["higher of field duplicates A and B and C: B"]


def test_only_one_with_a_number_is_told() -> None:
    rows = ({"sample": 0, "why": 0}, {"sample": 1, "value": 5.0})
    for how in ("higher", "mean"):
        out, _, notes = made(how, *rows)
        assert (out.value.tolist(), notes) == ([5.0], ["of field duplicates A and B only B has a number"])


def test_a_sum_without_a_figure_gives_way_to_the_same_sum_of_the_other() -> None:
    rows = ({"sample": 0, "place": 2, "why": 0}, {"sample": 1, "place": 2, "total": 4, "value": 5.0},
            {"sample": 0, "place": 1, "why": 0}, {"sample": 3, "place": 2, "why": 0})  # fmt: skip
    out, kept, _ = made("higher", *rows)
    assert sorted(zip(out.sample.tolist(), out.place.tolist(), out.total.tolist(), strict=True)) == [
        (0, 1, -1), (0, 2, 4), (3, 2, -1),
    ]  # fmt: skip
    assert sorted(kept) == [1, 2, 3]


@pytest.mark.parametrize(
    ("rows", "low", "value", "high"),
    [
        (({"value": 4.0}, {"value": 8.0}), 6.0, 6.0, 6.0),
        (({"value": 4.0}, {"limit": 8.0}), 2.0, 4.0, 6.0),
        (({"value": 4.0}, {"detected": True, "low": 1.0, "high": 3.0}), 2.5, 2.75, 3.5),
        (({"value": 4.0}, {"detected": True, "low": 2.0, "high": 3.0}), 3.0, 3.0, 3.5),
        (({"value": 3.0}, {"value": 4.0}, {"value": 8.0}), 5.0, 5.0, 5.0),
    ],
)
def test_the_mean_and_its_bounds(rows: tuple[dict[str, Any], ...], low: float, value: float, high: float) -> None:
    out, _, notes = made("mean", *(row | {"sample": at} for at, row in enumerate(rows)), {"sample": 3, "value": 9.0})
    assert (out.low[0], out.value[0], out.high[0]) == (low, value, high)
    assert notes[0] == f"mean of field duplicates {' and '.join('ABC'[: len(rows)])}"
    assert (out.value[1], notes[1]) == (9.0, "")


@pytest.mark.parametrize("flag", ["partial", "more_than"])
def test_a_mean_of_which_one_is_open_is_open(flag: str) -> None:
    for first in (True, False):
        rows = ({"sample": 0, "value": 4.0, flag: first}, {"sample": 1, "value": 8.0, flag: not first})
        assert getattr(made("mean", *rows)[0], flag).tolist() == [True]
        out, _, _ = made("mean", {"sample": 0, "value": 4.0}, {"sample": 1, "value": 8.0}, {"sample": 3, flag: True})
        assert getattr(out, flag).tolist() == [False, True]


def test_a_row_with_a_reason_is_not_averaged_in() -> None:
    rows = ({"sample": 0, "value": 4.0}, {"sample": 1, "value": 8.0}, {"sample": 2, "value": 90.0, "why": 0})
    out, _, notes = made("mean", *rows)
    assert (out.value.tolist(), notes) == ([6.0], ["mean of field duplicates A and B and C"])


def test_no_mean_where_a_trace_has_no_upper_bound_or_none_is_quantified() -> None:
    out, _, notes = made("mean", {"value": 4.0}, {"sample": 1, "detected": True, "low": 1.0, "high": UNKNOWN})
    assert (out.value.tolist(), notes) == ([4.0], ["higher of field duplicates A and B: A"])
    out, _, notes = made("mean", {"limit": 4.0}, {"sample": 1, "limit": 2.0})
    assert (out.limit.tolist(), notes) == ([2.0], ["higher of field duplicates A and B: B"])


def test_separate_and_no_duplicates_change_nothing() -> None:
    rows = rows_of({"sample": 1, "value": 4.0}, {"sample": 0, "value": 8.0})
    for root, how in ((ROOT, "separate"), (np.arange(4), "higher")):
        out, kept, note, texts = merged(rows, root, NAMES, how)
        assert out is rows
        assert (kept.tolist(), note.tolist(), texts) == ([0, 1], [-1, -1], [])
