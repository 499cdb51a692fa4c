"""What was measured where: figures of results, totals and pairs, and the order of measures, by hand."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import batch_of, dry_rows

from screen.stages.compare.places.change import _rule, _way
from screen.stages.compare.places.comparisons import _Group
from screen.stages.compare.places.observations import Observations, observe
from screen.stages.compare.places.places import independent_units, surface
from screen.stages.sums import total

UNKNOWN = np.nan
NO_TOTALS = total(dry_rows([]))


def seen(
    rows: list[tuple[Any, ...]], samples: dict[str, dict[str, Any]] | None = None, totals: pd.DataFrame | None = None
) -> Observations:
    batch = dataclasses.replace(batch_of(rows, samples=samples), results=dry_rows(rows))
    return observe(batch, NO_TOTALS if totals is None else totals)


def plain(found: Observations) -> set[tuple[Any, ...]]:
    """Each row as (sample, substance, value, low, high, detected, partial), what is not known as None."""
    names, measures = found.samples["sample"].tolist(), found.measures["substance"].tolist()
    figures = zip(found.value, found.low, found.high, strict=True)
    numbers = [tuple(None if np.isnan(one) else float(one) for one in row) for row in figures]
    flags = zip(found.detected.tolist(), found.partial.tolist(), strict=True)
    whose = zip(found.sample, found.measure, strict=True)
    return {
        (names[sample], measures[measure], *row, *flag)
        for (sample, measure), row, flag in zip(whose, numbers, flags, strict=True)
    }


@pytest.mark.parametrize(
    ("text", "figures"),
    [
        ("5", (5.0, 5.0, 5.0, True)), ("<4", (None, 0.0, 4.0, False)), ("ND", (None, 0.0, None, False)),
        (">9", (None, 9.0, None, True)), ("trace 1-3", (None, 1.0, 3.0, True)), ("max 7", (7.0, 0.0, 7.0, True)),
        ("trace", (None, 0.0, None, True)),
    ],
)  # fmt: skip
def test_the_figure_and_bounds_of_a_result(text: str, figures: tuple[Any, ...]) -> None:
    assert plain(seen([("S", "Lead", text)])) == {("S", "Lead", *figures, False)}


def test_results_that_are_not_used_or_hold_no_number_are_left_out() -> None:
    rows = [("S", "Lead", "5 R"), ("S", "Zinc", "5", "dry", None, {"kind": None}), ("S", "Copper", "5")]
    found = seen(rows)
    assert plain(found) == {("S", "Copper", 5.0, 5.0, 5.0, True, False)}
    assert found.measures["substance"].tolist() == ["Copper"]


PAIR = {"S": {}, "D": {"parent": "S"}}


@pytest.mark.parametrize(
    ("first", "second", "figures"),
    [
        ("4", "8", (6.0, 6.0, 6.0, True)),
        ("4", "<8", (4.0, 2.0, 6.0, True)),
        ("<8", "4", (4.0, 2.0, 6.0, True)),
        ("<8", "<2", (None, 0.0, 2.0, False)),
        ("<8", "ND", (None, 0.0, 8.0, False)),
        ("ND", "ND", (None, 0.0, None, False)),
        ("4", "trace 2-3", (3.0, 3.0, 3.5, True)),
        ("4", "ND", (None, 2.0, None, True)),
        ("4", ">8", (None, 6.0, None, True)),
    ],
)
def test_a_pair_is_one(first: str, second: str, figures: tuple[Any, ...]) -> None:
    rows = [("S", "Lead", first), ("D", "Lead", second), ("D", "Zinc", "9")]
    assert plain(seen(rows, PAIR)) == {("S", "Lead", *figures, False), ("S", "Zinc", 9.0, 9.0, 9.0, True, False)}


def test_totals_stand_beside_results_with_their_rule() -> None:
    rows = [("S", "4,4'-DDE", "4"), ("S", "2,4'-DDE", "<2"), ("S", "Lead", "5"), ("T", "4,4'-DDE", "<3")]
    totals = total(dry_rows(rows), nondetects=("half", "zero"))
    found = seen(rows, totals=totals[totals["total"] == "dde"])
    measures = found.measures[["substance", "rule", "group", "unit"]].to_numpy().tolist()
    assert measures == [
        ["Lead", "", "metal", "mg/kg"], ["4,4'-DDE", "", "pesticide", "ug/kg"], ["2,4'-DDE", "", "pesticide", "ug/kg"],
        ["dde", "half", "pesticide", "ug/kg"], ["dde", "zero", "pesticide", "ug/kg"],
    ]  # fmt: skip
    sums = {(row[0], *row[2:]) for row in plain(found) if row[1] == "dde"}
    assert sums == {
        ("S", 5.0, 4.0, 6.0, True, False), ("S", 4.0, 4.0, 6.0, True, False), ("T", None, 0.0, 3.0, False, True),
    }  # fmt: skip


def test_rows_come_by_the_greatest_that_they_can_be() -> None:
    rows = [("S", "Lead", ">1"), ("S", "Zinc", "3"), ("S", "Copper", "<2"), ("S", "Nickel", "1")]
    found = seen(rows)
    names = found.measures["substance"].to_numpy()
    assert names[found.measure].tolist() == ["Nickel", "Copper", "Zinc", "Lead"]


def test_only_some_rows() -> None:
    found = seen([("S", "Lead", "1"), ("T", "Lead", "<2")])
    assert plain(found.take(found.detected)) == {("S", "Lead", 1.0, 1.0, 1.0, True, False)}


def test_the_surface_begins_at_nought_or_has_no_depth() -> None:
    assert surface(pd.DataFrame({"depth_top_cm": [0.0, UNKNOWN, 0.1, 10.0]})).tolist() == [True, True, False, False]


def test_intervals_of_one_core_share_a_number() -> None:
    numbers = independent_units(pd.DataFrame({"core": ["A", None, "B", "A", ""]}))
    assert numbers[0] == numbers[3]
    assert len(set(numbers)) == 4


@pytest.mark.parametrize(
    ("figures", "detected", "median"),
    [
        ([1.0, 2.0, 9.0], [1, 1, 1], "2.0"), ([1.0, 2.0, 3.0, 9.0], [1, 1, 1, 1], "2.5"),
        ([5.0, 1.0, 9.0], [1, 0, 1], "5.0"),
        ([5.0, 6.0, 9.0], [0, 1, 0], ""), ([1.0, 2.0], [1, 0], ""), ([4.0], [1], "4.0"),
    ],
)  # fmt: skip
def test_the_median_of_a_group(figures: list[float], detected: list[int], median: str) -> None:
    group = _Group("x", np.array(figures), np.array(detected, dtype=bool), False, len(figures))
    assert group.median == median


@pytest.mark.parametrize(
    ("method", "way", "rule"),
    [
        ("arithmetic mean", "arithmetic mean", ""),
        ("one result", "arithmetic mean", ""),
        ("Kaplan-Meier mean; upper limit by Student t", "Kaplan-Meier mean", ""),
        ("Kaplan-Meier mean; sums by the rule half", "Kaplan-Meier mean", "half"),
        ("", "", ""),
        ("sums by the rule zero", "", "zero"),
    ],
)
def test_how_a_mean_of_an_earlier_run_was_made(method: str, way: str, rule: str) -> None:
    assert (_way(method), _rule(method)) == (way, rule)
