"""Kaplan-Meier mean, deviation and error against published examples and SciPy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from screen.kaplan_meier import kaplan_meier

#: U.S. EPA 2009, Unified Guidance, EPA 530/R-09-007, Example 15-1: manganese, ppb, 25 values of five wells.
MANGANESE = (
    "<5 12.1 16.9 21.6 <2 <5 7.7 53.6 9.5 45.9 <5 5.3 12.6 106.3 34.5 6.3 11.9 10 <2 77.2 17.9 22.7 3.3 8.4 <2".split()
)


def parts(texts: list[str]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([float(text.lstrip("<")) for text in texts]), np.array(["<" not in text for text in texts])


def estimate(figures: np.ndarray, detected: np.ndarray):
    return kaplan_meier(np.zeros(len(figures), dtype=np.int64), figures, detected, 1)


def test_mean_and_deviation_of_the_epa_example_15_1() -> None:
    found = estimate(*parts(MANGANESE))
    assert found.mean[0] == pytest.approx(19.867, abs=0.001)
    assert found.deviation[0] == pytest.approx(25.3177, abs=0.001)
    assert found.rest[0] == pytest.approx(0.21)  # placed at the smallest limit, 2
    assert found.floor[0] == 2


def test_mean_and_deviation_of_the_logarithms_of_the_epa_example_15_1() -> None:
    figures, detected = parts(MANGANESE)
    found = estimate(np.log(figures), detected)
    assert found.mean[0] == pytest.approx(2.30929, abs=0.00001)
    assert found.deviation[0] == pytest.approx(1.18161, abs=0.00001)


def test_standard_error_by_the_usual_formula_with_its_correction() -> None:
    """5.0638 by the usual formula, 5.2026 after the n/(n - 1) correction on 19 detected values (recomputed)."""
    assert estimate(*parts(MANGANESE)).error[0] == pytest.approx(5.2026, abs=0.0001)


def test_a_limit_equal_to_a_detected_value_counts_as_below() -> None:
    """12, <5, 8, 5, <3, 2 (constructed): masses 1/6 at 12, 8 and 5, 1/2 at 2."""
    assert estimate(*parts("12 <5 8 5 <3 2".split())).mean[0] == pytest.approx(31 / 6, rel=1e-12)


def test_the_mean_of_seven_weighted_values() -> None:
    """5.0, 2.0, <1.0, 0.8, <0.5, 0.3, 0.1 (constructed): mean 1.25, times 7 is 8.75."""
    assert 7 * estimate(*parts("5.0 2.0 <1.0 0.8 <0.5 0.3 0.1".split())).mean[0] == pytest.approx(8.75, rel=1e-12)


FIGURES = st.lists(st.tuples(st.integers(1, 40), st.booleans()), min_size=2, max_size=30)


@settings(deadline=None)
@given(FIGURES)
def test_the_curve_is_that_of_scipy(rows: list[tuple[int, bool]]) -> None:
    """Oracle: scipy.stats.ecdf on the figures turned round, which makes left-censored ones right-censored."""
    figures = np.array([float(row[0]) for row in rows])
    detected = np.array([row[1] for row in rows])
    if not detected.any():
        return
    turned = stats.ecdf(stats.CensoredData.right_censored(100 - figures, ~detected))
    steps, survival = turned.sf.quantiles, turned.sf.probabilities
    mass = -np.diff(np.append(1.0, survival))
    mean = np.sum(mass * (100 - steps)) + survival[-1] * figures.min()
    assert estimate(figures, detected).mean[0] == pytest.approx(mean, rel=1e-9)


@settings(deadline=None)
@given(st.lists(st.integers(1, 1000), min_size=2, max_size=30))
def test_without_non_detects_it_is_the_plain_mean_and_its_standard_error(values: list[int]) -> None:
    figures = np.array(values, dtype=float)
    found = estimate(figures, np.ones(len(values), dtype=bool))
    assert found.mean[0] == pytest.approx(figures.mean(), rel=1e-12)
    assert found.error[0] == pytest.approx(stats.sem(figures), rel=1e-9, abs=1e-12)


@settings(deadline=None)
@given(FIGURES, st.randoms())
def test_the_order_of_the_rows_changes_no_digit(rows: list[tuple[int, bool]], random) -> None:
    mixed = list(rows)
    random.shuffle(mixed)
    one, other = (
        estimate(np.array([float(row[0]) for row in each]), np.array([row[1] for row in each]))
        for each in (rows, mixed)
    )
    np.testing.assert_array_equal(one.mean, other.mean)
    np.testing.assert_array_equal(one.error, other.error)


@settings(deadline=None)
@given(st.lists(FIGURES, min_size=1, max_size=5))
def test_groups_do_not_touch_each_other(groups: list[list[tuple[int, bool]]]) -> None:
    codes = np.repeat(np.arange(len(groups)), [len(group) for group in groups])
    rows = [row for group in groups for row in group]
    figures, detected = np.array([float(row[0]) for row in rows]), np.array([row[1] for row in rows])
    together = kaplan_meier(codes, figures, detected, len(groups))
    alone = [estimate(figures[codes == at], detected[codes == at]).mean[0] for at in range(len(groups))]
    np.testing.assert_allclose(together.mean, alone, rtol=1e-12)


def test_without_a_detected_value_nothing_is_estimated() -> None:
    assert np.isnan(estimate(*parts("<5 <3".split())).mean[0])


def test_no_figures_give_no_estimates() -> None:
    found = kaplan_meier(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0, dtype=bool), 0)
    assert len(found.mean) == 0
