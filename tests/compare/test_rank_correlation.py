"""Kendall and Spearman on a few figures, against SciPy and pairs counted by hand; the map's points. Quick.

The properties over many examples stand in tests/oracles/test_kendall.py.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from screen.stages.compare.places.geo import stations_geojson
from screen.stages.compare.places.kendall import kendall, mid_ranks, spearman

PLACE = np.array([1.0, 2, 2, 3, 4, 6, 7, 8, 9])
FIGURE = np.array([2.0, 1, 4, 4, 3, 8, 6, 9, 9])


def test_tau_and_its_p_with_ties() -> None:
    found = kendall(PLACE, FIGURE, FIGURE)
    wanted = stats.kendalltau(PLACE, FIGURE)
    assert found.tau == pytest.approx(wanted.statistic)
    asymptotic = stats.kendalltau(PLACE, FIGURE, method="asymptotic").pvalue
    deviate = stats.norm.isf(asymptotic / 2)
    assert found.score / math.sqrt(found.variance) == pytest.approx(deviate)
    corrected = (found.score - 1) / math.sqrt(found.variance)
    assert found.p == pytest.approx(2 * stats.norm.sf(corrected))


def test_the_other_way_round_has_the_same_p() -> None:
    found, back = kendall(PLACE, FIGURE, FIGURE), kendall(PLACE, -FIGURE, -FIGURE)
    assert (back.score, back.tau, back.p) == (-found.score, -found.tau, pytest.approx(found.p))


def test_a_score_of_nought_has_p_one() -> None:
    found = kendall(np.array([1.0, 2, 3]), np.array([1.0, 3, 1]), np.array([1.0, 3, 1]))
    assert (found.score, found.tau, found.p) == (0.0, 0.0, 1.0)


def test_two_figures_are_the_least() -> None:
    found = kendall(np.array([1.0, 2]), np.array([1.0, 3]), np.array([1.0, 3]))
    assert (found.score, found.variance, found.tau, found.p) == (1.0, 1.0, 1.0, 1.0)


@pytest.mark.parametrize(
    ("low", "high", "score"),
    [
        ([0.0, 4.0], [4.0, 4.0], 1.0),  # a limit of 4 lies below a value of 4
        ([0.0, 3.9], [4.0, 3.9], 0.0),
        ([0.0, 5.0], [math.nan, 5.0], 0.0),
        ([6.0, 5.0], [math.nan, 5.0], -1.0),  # more than 6 is above 5
        ([0.0, 0.0], [1.0, 9.0], 0.0),
    ],
)
def test_pairs_in_order_by_their_bounds(low: list[float], high: list[float], score: float) -> None:
    assert kendall(np.array([1.0, 2]), np.array(low), np.array(high)).score == score


def test_where_none_can_be_told_apart_there_is_no_tau() -> None:
    for place, low, high in (([1.0, 2], [0.0, 0], [5.0, 5]), ([1.0, 1], [3.0, 4], [3.0, 4])):
        found = kendall(np.array(place), np.array(low), np.array(high))
        assert (found.score, found.variance) == (0.0, 0.0)
        assert math.isnan(found.tau)
        assert math.isnan(found.p)


def test_ranks_of_equal_figures_are_their_mean() -> None:
    ranks, counts = mid_ranks(np.array([5.0, 1, 5, 9]))
    assert (ranks.tolist(), counts.tolist()) == ([2.5, 1.0, 2.5, 4.0], [1, 2, 1])


def test_rho_of_values_and_of_non_detects_tied_below_them() -> None:
    assert spearman(PLACE, FIGURE, FIGURE) == pytest.approx(stats.spearmanr(PLACE, FIGURE).statistic)
    low, high = np.array([0.0, 0, 2, 3, 5]), np.array([2.0, 2, 2, 3, 5])
    wanted = stats.spearmanr([1, 2, 3, 4, 5], [0, 0, 2, 3, 5]).statistic
    assert spearman(np.arange(5.0), low, high) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("low", "high"),
    [
        ([0.0, 0, 3], [2.0, 1, 3]),
        ([0.0, 1, 3], [2.0, 1, 3]),
        ([0.0, 2, 3], [math.nan, 2, 3]),
        ([1.0, 2, 3], [2.0, 2, 3]),
        ([0.0, 0, 0], [2.0, 2, 2]),
        ([4.0, 4, 4], [4.0, 4, 4]),
    ],
)
def test_without_a_rank_for_each_there_is_no_rho(low: list[float], high: list[float]) -> None:
    assert math.isnan(spearman(np.arange(3.0), np.array(low), np.array(high)))


STATIONS = pd.DataFrame(
    {
        "station": ["N", "M", "K", "L"], "latitude": [50.2, 50.1, 50.3, np.nan], "longitude": [1.2, 1.1, 1.3, 1.0],
        "river_km": [3.0, 2.0, np.nan, 1.0], "water": ["fresh", None, "", "marine"], "role": ["site", "", None, ""],
        "zone": [None, "Z", "", ""],
    }
)  # fmt: skip


def test_points_of_stations_upwards_from_the_mouth() -> None:
    findings = pd.DataFrame(
        [
            ("N", "a", "below"),
            ("N", "a", "between"),
            ("N", "b", "undetermined"),
            ("M", "a", "above"),
            (None, "a", "above"),
        ],
        columns=["station", "set", "finding"],
    )
    found = stations_geojson(STATIONS, findings)
    assert found["type"] == "FeatureCollection"
    features = found["features"]
    assert isinstance(features, list)
    assert features[0] == {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [1.1, 50.1]},
        "properties": {
            "station": "M", "river_km": 2.0, "water": None, "role": None, "zone": "Z", "finding a": "above",
            "finding b": None,
        },
    }  # fmt: skip
    assert features[1]["properties"] == {
        "station": "N", "river_km": 3.0, "water": "fresh", "role": "site", "zone": None, "finding a": "between",
        "finding b": "undetermined",
    }  # fmt: skip
    assert [one["properties"]["station"] for one in features] == ["M", "N", "K"]
    assert features[2]["properties"]["river_km"] is None


def test_without_coordinates_or_findings() -> None:
    empty = {"type": "FeatureCollection", "features": []}
    assert stations_geojson(STATIONS.drop(columns="latitude"), pd.DataFrame()) == empty
    (feature,) = stations_geojson(STATIONS.iloc[:1], pd.DataFrame())["features"]  # type: ignore[misc]
    assert [name for name in feature["properties"] if name.startswith("finding")] == []
