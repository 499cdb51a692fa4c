"""Whole rows of the comparison of places, on results made by hand; p against SciPy."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from made import batch_of, dry_rows
from scipy import stats

from screen.model import COMPARISONS
from screen.settings import Settings
from screen.stages.compare.places.comparisons import _adjusted, _Group, _judged, compare_places
from screen.stages.sums import total

NO_TOTALS = total(dry_rows([]))
LIKE = "assumes independent results and tests for a shift between distributions of like shape"


def compared(
    groups: dict[str, str], substance: str = "Lead", where: str = "zone", at: float | None = None, **more: Any
) -> list[dict[str, Any]]:
    """``groups``: the texts of each zone (or role); ``more``: further columns of all samples."""
    rows, samples = [], {}
    for name, texts in groups.items():
        for number, text in enumerate(texts.split()):
            sample = f"{name}-{number}"
            rows.append((sample, substance, text))
            samples[sample] = {where: name if where != "river_km" else float(name)} | more
    batch = dataclasses.replace(batch_of(rows, samples=samples), results=dry_rows(rows))
    table = compare_places(batch, NO_TOTALS, Settings(at=at))
    assert list(table) == COMPARISONS
    plain = table.astype(object).where(table.notna(), None).to_dict("records")
    return [{str(key): one for key, one in row.items() if one is not None} for row in plain]


def test_every_column_of_two_zones() -> None:
    first, second = np.array([1.0, 2, 3, 5]), np.array([4.0, 6, 7, 9, 10])
    (row,) = compared({"east": "1 2 3 5", "west": "4 6 7 9 10"})
    wanted = stats.mannwhitneyu(first, second, alternative="two-sided", method="asymptotic")
    assert row.pop("p") == row["p_holm"] == pytest.approx(wanted.pvalue)
    assert row.pop("p_holm") > 0.0
    assert row.pop("statistic") == pytest.approx(wanted.statistic)
    assert row == {
        "layer": "surface", "substance": "Lead", "groups": "east;west", "n": "4;5", "detects": "4;5",
        "medians": "2.5;7.0", "test": "Mann-Whitney", "sided": "two", "outcome": "differ", "unit": "mg/kg",
        "note": LIKE,
    }  # fmt: skip


def test_three_zones_that_do_not_differ() -> None:
    texts = {"a": "1 5 9 13", "b": "2 6 10 14", "c": "3 7 11 15"}
    (row,) = compared(texts)
    wanted = stats.kruskal(*(np.array(one.split(), dtype=float) for one in texts.values()))
    assert (row["test"], row["outcome"], row["groups"]) == ("Kruskal-Wallis", "no difference shown", "a;b;c")
    assert (row["p"], row["statistic"]) == (pytest.approx(wanted.pvalue), pytest.approx(wanted.statistic))


def test_results_below_one_limit_are_tied() -> None:
    (row,) = compared({"a": "<2 1 5 6", "b": "7 8 9 10"})
    wanted = stats.mannwhitneyu([2.0, 2, 5, 6], [7.0, 8, 9, 10], alternative="two-sided")
    assert row["p"] == pytest.approx(wanted.pvalue)
    assert (row["detects"], row["medians"]) == ("3;4", ";8.5")
    assert row["note"] == f"results below the one limit are tied; {LIKE}"


def test_results_of_several_limits() -> None:
    (row,) = compared({"a": "<2 <3 5 6", "b": "7 8 9 10"})
    assert (row["test"], row["detects"]) == ("Peto-Peto", "2;4")
    assert row["note"] == "assumes independent results and limits that do not depend on the group"


@pytest.mark.parametrize(
    ("groups", "note"),
    [
        ({"a": "1 2 3", "b": "4 5 6 7"}, "no test: fewer than 4 independent results in a group"),
        ({"a": "1 2 3 ND", "b": "4 5 6 7"}, "no test: a result has no known upper bound"),
        ({"a": "5 5 5 5", "b": "5 5 5 5"}, "no test: no two results can be told apart"),
        ({"a": "<5 <5 <5 <5", "b": "<5 <5 <5 <5"}, "no test: no two results can be told apart"),
        ({"a": "<5 <4 <5 <5", "b": "<5 <5 <5 <5"}, "no test: no two results can be told apart"),
    ],
)
def test_too_few_or_too_much_alike(groups: dict[str, str], note: str) -> None:
    (row,) = compared(groups)
    assert (row["outcome"], row["note"], row["sided"]) == ("too few", note, "two")
    assert not {"p", "p_holm", "statistic", "test"} & set(row)


def test_a_group_that_is_too_small_is_left_out_of_three() -> None:
    (row,) = compared({"a": "1 2 3 4", "b": "9", "c": "5 6 7 8"})
    assert (row["groups"], row["n"]) == ("a;c", "4;4")
    assert row["note"] == f"left out for too few results: b; {LIKE}"


def test_groups_that_are_all_too_small_are_all_told() -> None:
    (row,) = compared({"a": "1 2 3 ND", "b": "9", "c": "5 6"})
    assert (row["groups"], row["n"], row["medians"]) == ("a;b;c", "4;1;2", ";9.0;5.5")
    assert row["note"] == "no test: a result has no known upper bound"


def test_site_and_reference_and_both_sides_of_a_point() -> None:
    (row,) = compared({"reference": "1 2 3 4", "site": "5 6 7 8"}, where="role")
    assert (row["groups"], row["medians"]) == ("site;reference", "6.5;2.5")
    (row,) = compared({"1": "1 2 3 4", "3": "5 6 7 8"}, where="river_km", at=2.0)
    assert (row["groups"], row["medians"]) == ("upstream;downstream", "6.5;2.5")


def test_one_group_alone_and_what_lies_deeper_are_not_compared() -> None:
    assert compared({"a": "1 2 3 4"}) == []
    assert compared({"a": "1 2 3 4", "b": "5 6 7 8"}, depth_top_cm=10.0) == []


def test_intervals_of_one_core_are_one() -> None:
    (row,) = compared({"a": "1 2 3 4", "b": "5 6 7 8"}, core="C")
    assert row["note"] == "no test: fewer than 4 independent results in a group"


def group(name: str, figures: list[float], independent: int | None = None) -> _Group:
    detected = np.ones(len(figures), dtype=bool)
    return _Group(name, np.array(figures), detected, False, independent or len(figures))


def test_more_results_than_independent_ones_are_told_and_the_rule_of_a_sum() -> None:
    row = _judged([group("a", [1.0, 2, 3, 4, 5], 4), group("b", [6.0, 7, 8, 9])], "half")
    assert row["note"] == f"sums by the rule half; intervals of one core are not independent; {LIKE}"


def test_p_is_adjusted_for_all_substances_of_the_groups() -> None:
    """Holm: 0.03 of three by 3, 0.04 by 2 and 0.2 by 1, none less than the one before."""
    rows: list[dict[str, Any]] = [{"p": 0.04, "note": "x"}, {"outcome": "too few"}, {"p": 0.03, "note": "x"},
                                  {"p": 0.2, "note": "x"}]  # fmt: skip
    found = _adjusted(rows)
    told = "x; p is below 0.05 before it is adjusted for 3 substances"
    assert [(row.get("p_holm"), row["outcome"], row.get("note")) for row in found] == [
        (pytest.approx(0.09), "no difference shown", told), (None, "too few", None),
        (pytest.approx(0.09), "no difference shown", told), (pytest.approx(0.2), "no difference shown", "x"),
    ]  # fmt: skip
    assert [row["outcome"] for row in _adjusted([{"p": 0.01, "note": ""}, {"p": 0.049, "note": ""}])] == ["differ"] * 2
