"""Tests of groups, and regression on order statistics, against published worked examples and SciPy.

U.S. EPA 2009, Statistical Analysis of Groundwater Monitoring Data at RCRA Facilities, Unified Guidance, EPA
530/R-09-007: Example 15-2 (pp. 15-16 to 15-20), Example 16-4 (pp. 16-18 to 16-20), Example 16-5 (pp. 16-22 to 16-23);
figures as printed with more digits in the manual and script of a general statistics package.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from screen.stages.compare.places.order_statistics import plotting_positions, values_by_line
from screen.stages.compare.places.rank_tests import censored_test, linear_rank, rank_test


def read(text: str) -> tuple[np.ndarray, np.ndarray]:
    parts = text.split()
    return np.array([float(one.strip("<")) for one in parts]), np.array([not one.startswith("<") for one in parts])


BACKGROUND = "<4 1.5 <2 8.7 5.1 <5"
COMPLIANCE = "6.4 10.9 7 14.3 1.9 10 6.8 <5"


@pytest.mark.parametrize(
    ("weight", "score", "variance", "p"),
    [
        ("logrank", 2.830406, 2.176723, 0.027528),
        ("Gehan", 27, 227, 0.036562),
        ("Tarone-Ware", 8.458912, 20.912407, 0.032175),
        ("Peto-Peto", 1.888889, 1.028642, 0.031273),
    ],
)
def test_example_16_5(weight: str, score: float, variance: float, p: float) -> None:
    first, second = read(BACKGROUND), read(COMPLIANCE)
    group = np.repeat([0, 1], [6, 8])
    found, spread = linear_rank(np.append(first[0], second[0]), np.append(first[1], second[1]), group, weight)
    assert found[0] == pytest.approx(score, abs=1e-5)
    assert spread[0, 0] == pytest.approx(variance, abs=1e-5)
    assert stats.norm.sf(found[0] / np.sqrt(spread[0, 0])) == pytest.approx(p, abs=1e-5)


def test_the_two_sided_p_is_twice_the_one_sided() -> None:
    first, second = read(BACKGROUND), read(COMPLIANCE)
    found = censored_test(np.append(first[0], second[0]), np.append(first[1], second[1]), np.repeat([0, 1], [6, 8]))
    assert found.p == pytest.approx(2 * 0.031273, abs=1e-5)


def test_example_16_4() -> None:
    background = np.array([4.2, 5.8, 11.3, 7.0, 7.0, 8.2, 5.2, 6.4, 11.3, 11.5, 10.1, 9.7])
    compliance = np.array([9.4, 10.1, 14.5, 16.1, 21.5, 17.6])
    found = rank_test(np.append(compliance, background), np.repeat([0, 1], [6, 12]))
    assert (found.name, found.statistic) == ("Mann-Whitney", 63.5)
    assert found.p / 2 == pytest.approx(0.005659, abs=5e-6)


@given(st.lists(st.integers(1, 99), min_size=12, max_size=30), st.integers(0, 2**30))
def test_the_logrank_test_is_that_of_scipy(values: list[int], seed: int) -> None:
    chance = np.random.default_rng(seed)
    figure, detected = np.array(values, dtype=float), chance.random(len(values)) < 0.7
    group = np.arange(len(values)) % 2
    scores, spread = linear_rank(figure, detected, group, "logrank")
    if spread[0, 0] < 1e-9:
        return
    sides = [stats.CensoredData.right_censored(1000 - figure[group == at], ~detected[group == at]) for at in (0, 1)]
    assert scores[0] ** 2 / spread[0, 0] == pytest.approx(stats.logrank(*sides).statistic ** 2, rel=1e-8, abs=1e-9)


@given(st.lists(st.integers(0, 9), min_size=12, max_size=40), st.integers(2, 4))
def test_ranks_are_those_of_scipy(values: list[int], groups: int) -> None:
    if len(set(values)) < 2:
        return
    figure, group = np.array(values, dtype=float), np.arange(len(values)) % groups
    parts = [figure[group == at] for at in range(groups)]
    found = rank_test(figure, group)
    wanted = stats.mannwhitneyu(*parts, method="asymptotic") if groups == 2 else stats.kruskal(*parts)
    assert (found.statistic, found.p) == pytest.approx((wanted.statistic, wanted.pvalue), rel=1e-9, abs=1e-12)


@given(st.permutations(range(14)))
def test_the_order_of_the_rows_changes_nothing(order: list[int]) -> None:
    first, second = read(BACKGROUND), read(COMPLIANCE)
    figure, detected, group = np.append(first[0], second[0]), np.append(first[1], second[1]), np.repeat([0, 1], [6, 8])
    assert censored_test(figure[order], detected[order], group[order]).p == pytest.approx(0.06254654, abs=1e-6)


MANGANESE = "<5 12.1 16.9 21.6 <2 <5 7.7 53.6 9.5 45.9 <5 5.3 12.6 106.3 34.5 6.3 11.9 10 <2 77.2 17.9 22.7 3.3 8.4 <2"


@pytest.mark.parametrize(("value", "position"), [(3.3, 0.245), (5.3, 0.318), (106.3, 0.962)])
def test_example_15_2_plotting_positions(value: float, position: float) -> None:
    figure, detected = read(MANGANESE)
    found = plotting_positions(figure, detected)[(figure == value) & detected]
    assert found[0] == pytest.approx(position, abs=5e-4)


def test_example_15_2_mean_and_deviation_of_the_logarithms() -> None:
    values = np.log(values_by_line(*read(MANGANESE)))
    assert values.mean() == pytest.approx(2.277175, abs=1e-5)
    assert values.std(ddof=1) == pytest.approx(1.261431, abs=1e-5)


def test_example_15_2_mean_of_the_values() -> None:
    assert values_by_line(*read(MANGANESE)).mean() == pytest.approx(19.828, abs=1e-3)


def test_without_non_detects_the_values_are_their_own() -> None:
    figure = np.array([3.0, 1.0, 2.0])
    assert values_by_line(figure, np.ones(3, dtype=bool)).tolist() == [3.0, 1.0, 2.0]
