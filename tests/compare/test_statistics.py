"""Summaries of groups: properties, with NumPy and SciPy as oracles."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from screen.stages.compare.places.statistics import Observed, _symmetric, summarise

VALUES = st.lists(st.integers(1, 1000).map(lambda one: one / 8), min_size=1, max_size=20)
MIXED = st.lists(st.tuples(st.integers(1, 1000).map(lambda one: one / 8), st.booleans()), min_size=1, max_size=20)


def observed(rows: list[tuple[float, bool]], groups: list[int] | None = None) -> Observed:
    figures, found = np.array([row[0] for row in rows]), np.array([row[1] for row in rows], dtype=bool)
    group = np.zeros(len(rows), dtype=np.int64) if groups is None else np.array(groups, dtype=np.int64)
    value, low = np.where(found, figures, np.nan), np.where(found, figures, 0.0)
    return Observed(group, value, low, figures, found, np.arange(len(rows)), int(group.max()) + 1)


@settings(deadline=None)
@given(VALUES)
def test_detected_values_give_numpys_mean_median_and_maximum(values: list[float]) -> None:
    row = summarise(observed([(value, True) for value in values])).iloc[0]
    assert row["mean"] == pytest.approx(np.mean(values), rel=1e-12)
    assert row["median"] == np.median(values)
    assert row["max"] == max(values)


@settings(deadline=None)
@given(MIXED)
def test_the_mean_lies_between_its_bounds(rows: list[tuple[float, bool]]) -> None:
    row = summarise(observed(rows)).iloc[0]
    if not np.isnan(row["mean"]):
        slack = 1e-9 * row["mean_high"]
        assert row["mean_low"] - slack <= row["mean"] <= row["mean_high"] + slack


@settings(deadline=None)
@given(MIXED)
def test_a_median_that_is_given_holds_wherever_the_non_detects_lie(rows: list[tuple[float, bool]]) -> None:
    row = summarise(observed(rows)).iloc[0]
    if not np.isnan(row["median"]):
        for share in (0.0, 0.5, 1.0):
            assert np.median([value if found else share * value for value, found in rows]) == row["median"]


@settings(deadline=None)
@given(MIXED)
def test_a_figure_that_is_missing_has_its_reason(rows: list[tuple[float, bool]]) -> None:
    row = summarise(observed(rows)).iloc[0]
    if row[["mean", "median", "upper95"]].isna().any():
        assert row["note"]


@settings(deadline=None)
@given(VALUES.filter(lambda values: len(values) >= 8))
def test_the_limit_is_above_the_mean_and_at_least_students(values: list[float]) -> None:
    row = summarise(observed([(value, True) for value in values])).iloc[0]
    student = np.mean(values) + stats.t.ppf(0.95, len(values) - 1) * stats.sem(values)
    assert row["upper95"] >= student * (1 - 1e-12)


@settings(deadline=None)
@given(st.lists(MIXED, min_size=1, max_size=5))
def test_groups_do_not_touch_each_other(groups: list[list[tuple[float, bool]]]) -> None:
    rows = [row for group in groups for row in group]
    codes = [at for at, group in enumerate(groups) for _ in group]
    together = summarise(observed(rows, codes))
    for at, group in enumerate(groups):
        alone = summarise(observed(group)).iloc[0]
        for name in ("n", "detects", "mean", "mean_low", "mean_high", "median", "max", "upper95"):
            np.testing.assert_allclose(together.loc[at, name], alone[name], rtol=1e-12)


def test_an_empty_table_is_summed_up_to_an_empty_table() -> None:
    none = np.empty(0)
    empty = Observed(none.astype(np.int64), none, none, none, none.astype(bool), none.astype(np.int64), 0)
    assert summarise(empty).empty


@given(st.lists(st.floats(0.01, 1e4), min_size=8, max_size=40))
def test_what_counts_as_skewed(values: list[float]) -> None:
    """Oracle: scipy.stats.skewtest, the test of D'Agostino (1970)."""
    figures = np.array([values])
    chance = float(stats.skewtest(figures[0]).pvalue)
    assume(np.ptp(figures) > 1e-6 * figures.max() and abs(chance - 0.05) > 1e-9)
    assert bool(_symmetric(figures)[0]) == (chance >= 0.05)


def test_many_results_of_which_few_are_detected_have_a_mean_by_the_line() -> None:
    detects = [float(one) for one in range(3, 15)]
    values = np.array([*detects, *[np.nan] * 20])
    highs = np.array([*detects, *[2.0] * 20])
    found = summarise(
        Observed(
            np.zeros(32, dtype=np.int64),
            values,
            np.where(np.isnan(values), 0.0, values),
            highs,
            ~np.isnan(values),
            np.arange(32),
            1,
        )
    ).iloc[0]
    assert "order statistics" in found["method"]
    assert found["mean_low"] < found["mean"] < found["mean_high"]
    assert np.isnan(found["upper95"])
