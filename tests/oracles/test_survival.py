"""The Kaplan-Meier estimate against statsmodels and SciPy: left-censored figures mirrored into right-censored ones.

A test skips, with the reason, where its library is not installed.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from screen.kaplan_meier import kaplan_meier

FIGURES = st.lists(st.tuples(st.integers(1, 12), st.booleans()), min_size=2, max_size=25).filter(
    lambda rows: any(found for _, found in rows)
)


def arrays(rows: list[tuple[int, bool]]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([float(figure) for figure, _ in rows]), np.array([found for _, found in rows])


@settings(max_examples=60, deadline=None)
@given(FIGURES)
def test_mean_against_statsmodels(rows: list[tuple[int, bool]]) -> None:
    """The mean is the area under the mirrored survival curve; what lies below the smallest figure stands at it."""
    duration = pytest.importorskip("statsmodels.duration.survfunc", reason="statsmodels is not installed")
    figures, found = arrays(rows)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        curve = duration.SurvfuncRight(figures.max() + 1 - figures, found.astype(int))
    # SurvfuncRight leaves out times without an event; the curve is flat there
    times = figures.max() + 1 - np.asarray(curve.surv_times)
    steps = -np.diff(np.append(1.0, curve.surv_prob))
    expected = float((times * steps).sum() + curve.surv_prob[-1] * figures.min())
    ours = kaplan_meier(np.zeros(len(figures), dtype=np.int64), figures, found, 1)
    assert ours.mean[0] == pytest.approx(expected, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(FIGURES)
def test_what_is_left_below_the_smallest_detect_against_scipy(rows: list[tuple[int, bool]]) -> None:
    figures, found = arrays(rows)
    sample = stats.CensoredData(uncensored=figures[found], left=figures[~found])
    mirrored = stats.CensoredData(uncensored=-sample._uncensored, right=-sample._left)
    curve = stats.ecdf(mirrored).sf
    left = float(curve.probabilities[-1]) if len(curve.probabilities) else 1.0
    ours = kaplan_meier(np.zeros(len(figures), dtype=np.int64), figures, found, 1)
    assert ours.rest[0] == pytest.approx(left, abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.01, 1e4), min_size=2, max_size=30))
def test_without_nondetects_it_is_the_plain_mean_with_its_standard_error(values: list[float]) -> None:
    figures = np.array(values)
    ours = kaplan_meier(np.zeros(len(figures), dtype=np.int64), figures, np.ones(len(figures), dtype=bool), 1)
    assert ours.mean[0] == pytest.approx(np.mean(figures), rel=1e-9)
    assert ours.error[0] == pytest.approx(stats.sem(figures), rel=1e-6, abs=1e-9)
