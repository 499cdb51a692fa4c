"""Kendall's tau and Spearman's rho, non-detects and all, against SciPy and against every pair looked at by hand."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from screen.stages.compare.places.kendall import kendall, spearman

FIGURES = st.lists(st.tuples(st.integers(0, 12), st.integers(1, 12)), min_size=8, max_size=40)


def columns(pairs: list[tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
    place, figure = np.array(pairs, dtype=float).T
    return place, figure


@given(FIGURES)
def test_without_non_detects_tau_b_and_its_deviate_are_those_of_scipy(pairs: list[tuple[int, int]]) -> None:
    place, figure = columns(pairs)
    found = kendall(place, figure, figure)
    if np.ptp(place) == 0 or np.ptp(figure) == 0:
        assert math.isnan(found.tau)
        return
    wanted = stats.kendalltau(place, figure, method="asymptotic")
    assert found.tau == pytest.approx(wanted.statistic, abs=1e-12)
    deviate = stats.norm.isf(wanted.pvalue / 2) if wanted.pvalue < 1 else 0.0
    assert abs(found.score) / math.sqrt(found.variance) == pytest.approx(deviate, rel=1e-7, abs=1e-7)


@given(FIGURES)
def test_rho_is_that_of_scipy(pairs: list[tuple[int, int]]) -> None:
    place, figure = columns(pairs)
    found = spearman(place, figure, figure)
    if np.ptp(place) == 0 or np.ptp(figure) == 0:
        assert math.isnan(found)
    else:
        assert found == pytest.approx(stats.spearmanr(place, figure).statistic, abs=1e-12)


@given(FIGURES, st.integers(0, 2**30))
def test_one_limit_below_all_values_is_a_tie(pairs: list[tuple[int, int]], seed: int) -> None:
    place, figure = columns(pairs)
    none = np.random.default_rng(seed).random(len(figure)) < 0.4
    low, high = np.where(none, 0.0, figure), np.where(none, 1.0, figure)
    tied = np.where(none, 0.5, figure)
    if np.ptp(place) == 0 or np.ptp(tied) == 0:
        return
    assert kendall(place, low, high).tau == pytest.approx(stats.kendalltau(place, tied).statistic, abs=1e-12)
    assert spearman(place, low, high) == pytest.approx(stats.spearmanr(place, tied).statistic, abs=1e-12)


def by_hand(place: np.ndarray, low: np.ndarray, high: np.ndarray) -> tuple[int, list[list[int]]]:
    """The score and the order of all pairs: -1, 0, 1; a limit itself is not reached."""

    def order(one: int, other: int) -> int:
        if high[one] < low[other] or (high[one] == low[other] and low[one] < high[one]):
            return -1
        return 1 if high[other] < low[one] or (high[other] == low[one] and low[other] < high[other]) else 0

    table = [[order(one, other) for other in range(len(low))] for one in range(len(low))]
    score = sum(
        int(np.sign(place[one] - place[other])) * table[one][other]
        for one, other in itertools.combinations(range(len(low)), 2)
    )
    return score, table


@given(FIGURES, st.integers(0, 2**30))
def test_with_limits_of_any_height_the_score_is_that_of_all_pairs(pairs: list[tuple[int, int]], seed: int) -> None:
    place, figure = columns(pairs)
    none = np.random.default_rng(seed).random(len(figure)) < 0.4
    low = np.where(none, 0.0, figure)
    assert kendall(place, low, figure).score == by_hand(place, low, figure)[0]


def test_the_spread_is_that_of_all_orders_of_the_places() -> None:
    """All 5,040 orders of seven stations, three of them non-detects with limits of their own."""
    low, high = np.array([0, 0, 2, 5, 0, 7, 3.0]), np.array([4, 2, 2, 5, 6, 7, 3.0])
    place = np.arange(7.0)
    table = np.array(by_hand(place, low, high)[1])
    first, second = np.triu_indices(7, 1)
    orders = np.array(list(itertools.permutations(range(7))))
    signs = np.sign(orders[:, first] - orders[:, second])
    scores = (signs * table[first, second]).sum(axis=1)
    assert kendall(place, low, high).variance == pytest.approx(scores.var(), rel=1e-12)


def test_many_stations_go_block_by_block() -> None:
    chance = np.random.default_rng(7)
    place, figure = chance.integers(0, 400, 1500).astype(float), chance.lognormal(size=1500).round(2)
    wanted = stats.kendalltau(place, figure, method="asymptotic")
    assert kendall(place, figure, figure).tau == pytest.approx(wanted.statistic, abs=1e-12)


@pytest.mark.parametrize(("low", "high"), [([0, 0, 5.0], [9, 8, 5.0]), ([0, 3, 5.0], [6, 3, 5.0])])
def test_limits_that_leave_the_order_open_have_no_rho(low: list[float], high: list[float]) -> None:
    assert math.isnan(spearman(np.arange(3.0), np.array(low), np.array(high)))


def test_a_result_above_the_range_is_above_what_lies_below_its_bound() -> None:
    assert kendall(np.arange(3.0), np.array([1, 2, 500.0]), np.array([1, 2, math.nan])).score == 3
