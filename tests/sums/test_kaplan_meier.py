"""Kaplan-Meier sums: their conditions, and their means against SciPy's estimate for censored data."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made import results_of
from scipy import stats

from screen.kaplan_meier import kaplan_meier
from screen.stages.sums import total

ROWS = [("S", "Pyrene", "5"), ("S", "Chrysene", "2"), ("S", "Fluorene", "0.8"), ("S", "Anthracene", "<1")]


def made(rows: list[tuple[Any, ...]]) -> dict[str, Any]:
    table = total(results_of(rows), nondetects=("km",))
    return table[table["total"] == "pah-16"].iloc[0].to_dict()


def test_conditions_met() -> None:
    """By hand: masses 1/4 at 5 and at 2, 1/2 at 0.8; mean 2.15, times 4."""
    row = made(ROWS)
    assert row["value"] == pytest.approx(8.6)
    assert "km" not in str(row["note"])


@pytest.mark.parametrize(
    "rows",
    [
        ROWS[1:],
        [*ROWS, ("S", "Naphthalene", "<1"), ("S", "Acenaphthene", "<1")],
        [*ROWS, ("S", "Naphthalene", "3 R")],
        [*ROWS, ("S", "Naphthalene", ">3")],
        [*ROWS, ("S", "Naphthalene", "ND")],
    ],
)
def test_conditions_not_met_fall_back_to_zero(rows: list[tuple[Any, ...]]) -> None:
    row = made(rows)
    assert row["value"] == row["low"]
    assert "conditions of km not met" in row["note"]


CENSORED = st.lists(st.tuples(st.integers(1, 40), st.booleans()), min_size=1, max_size=20)


@given(CENSORED)
def test_mean_against_scipy(rows: list[tuple[int, bool]]) -> None:
    """scipy.stats.ecdf on left-censored data, mirrored; what lies below the smallest figure is placed at it."""
    figure = np.array([float(one) for one, _ in rows])
    censored = np.array([flag for _, flag in rows])
    if censored.all():
        return
    # a limit equal to a value counts as below it: shift limits down by a hair for SciPy
    shifted = np.where(censored, figure - 1e-7, figure)
    mirrored = stats.CensoredData(uncensored=-shifted[~censored], right=-shifted[censored])
    survival = stats.ecdf(mirrored).sf
    at, left = survival.quantiles, survival.probabilities
    mass = -np.diff(np.append(1.0, left))
    expected = float((-at * mass).sum())
    if left[-1] > 1e-12:
        expected += float(left[-1] * shifted[censored].min())
    got = kaplan_meier(np.zeros(len(figure), dtype=np.int64), figure, ~censored, 1).mean
    assert got[0] == pytest.approx(expected, rel=1e-6)
