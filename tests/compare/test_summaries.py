"""Summaries of groups at their boundaries: what is given, by which way, and the reason for what is not. Quick, by hand.

Student's t and the skewness test are checked against SciPy; the others by the arithmetic beside them.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from screen.stages.compare.places.area_means import StationAreas, StationFigures, area_means, station_figures
from screen.stages.compare.places.observations import Observations
from screen.stages.compare.places.statistics import Observed, summarise

UNKNOWN = np.nan


def observed(*groups: str, units: list[int] | None = None) -> Observed:
    """Groups of texts: ``5`` detected, ``<4``, ``ND`` (no known limit), ``>9``, ``1-3`` a trace."""
    rows: list[tuple[int, float, float, float, bool]] = []
    for at, texts in enumerate(groups):
        for text in texts.split():
            if text.startswith("<"):
                rows.append((at, UNKNOWN, 0.0, float(text[1:]), False))
            elif text == "ND":
                rows.append((at, UNKNOWN, 0.0, UNKNOWN, False))
            elif text.startswith(">"):
                rows.append((at, UNKNOWN, float(text[1:]), UNKNOWN, True))
            elif "-" in text:
                low, high = map(float, text.split("-"))
                rows.append((at, UNKNOWN, low, high, True))
            else:
                rows.append((at, float(text), float(text), float(text), True))
    group, value, low, high, detected = (np.array(column) for column in zip(*rows, strict=True))
    return Observed(group, value, low, high, detected, np.array(units or range(len(rows))), len(groups))


def summary(texts: str, **more: Any) -> dict[str, Any]:
    table = summarise(observed(texts, **more))
    row = table.astype(object).where(table.notna(), None).to_dict("records")[0]
    return {str(name): one for name, one in row.items()}


FEW = "fewer than 8 results: no upper limit"


def test_every_column_of_one_result() -> None:
    assert summary("5") == {
        "n": 1, "detects": 1, "mean": 5.0, "mean_low": 5.0, "mean_high": 5.0, "median": 5.0, "max": 5.0,
        "upper95": None, "method": "one result", "note": FEW,
    }  # fmt: skip


def test_every_column_of_detected_results() -> None:
    assert summary("4 1 7") == {
        "n": 3, "detects": 3, "mean": 4.0, "mean_low": 4.0, "mean_high": 4.0, "median": 4.0, "max": 7.0,
        "upper95": None, "method": "arithmetic mean", "note": FEW,
    }  # fmt: skip


def test_every_column_of_results_of_which_one_is_not_detected() -> None:
    """Kaplan-Meier of 2, 6, 8 and <4: 8/4 + 6/4 for the two above the limit, the rest of 1/2 on 2."""
    found = summary("2 6 8 <4")
    assert found.pop("mean") == pytest.approx(8 / 4 + 6 / 4 + 2 / 2)
    assert found == {
        "n": 4, "detects": 3, "mean_low": 4.0, "mean_high": 5.0, "median": None, "max": 8.0, "upper95": None,
        "method": "Kaplan-Meier mean", "note": f"the median lies among non-detects; {FEW}",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("texts", "reason"),
    [
        ("5 6 7 ND", "a result has no known upper bound: no mean"),
        ("<5 <6", "no detected value: no mean"),
        ("5 6 <1", "fewer than 3 detected values: no mean"),
        ("5 6 7 <1 <1 <1 <1", "more than half not detected: no mean"),
    ],
)
def test_without_a_mean_the_reason(texts: str, reason: str) -> None:
    found = summary(texts)
    assert (found["mean"], found["method"]) == (None, None)
    assert found["note"].split("; ")[0] == reason


@pytest.mark.parametrize("texts", ["5 6 7 <1 <1 <1", "5 6 7 <1"])
def test_half_detected_is_enough_for_a_mean(texts: str) -> None:
    assert summary(texts)["method"] == "Kaplan-Meier mean"


def test_one_limit_below_all_values_is_told() -> None:
    words = "one limit below all detected values: the mean takes non-detects at that limit"
    assert words in summary("5 6 7 <1 <1")["note"]
    assert words not in summary("5 6 7 <1 <2")["note"]
    assert words not in summary("5 6 7 <6 <6")["note"]


def test_the_mean_takes_non_detects_below_all_values_at_that_limit() -> None:
    assert summary("5 6 7 <2 <2")["mean"] == pytest.approx((5 + 6 + 7 + 2 + 2) / 5)


@pytest.mark.parametrize(
    ("texts", "median"),
    [("1 2 3 4", 2.5), ("3 1 2", 2.0), ("<1 5 6", 5.0), ("<9 5 6", None), ("<1 <1 6", None), ("<1 5 6 ND", None),
     ("<1 6 6 >7", 6.0), ("ND ND", None)],
)  # fmt: skip
def test_the_median_where_bounds_leave_only_one(texts: str, median: float | None) -> None:
    assert summary(texts)["median"] == median
    assert ("the median lies among non-detects" in summary(texts)["note"]) == (median is None)


@pytest.mark.parametrize(
    ("texts", "most"), [("5 9", 9.0), ("5 <99", 5.0), ("5 >7", 7.0), ("9 >7", 9.0), ("<5 ND", None), ("1-3 2", 2.0)]
)
def test_the_greatest_value_or_the_least_that_one_above_the_range_is(texts: str, most: float | None) -> None:
    assert summary(texts)["max"] == most


@pytest.mark.parametrize(
    ("texts", "told"), [("5 <6", True), ("5 <5", False), ("5 <4", False), ("5 ND", False), ("<4", True)]
)
def test_a_limit_above_the_greatest_value_is_told(texts: str, told: bool) -> None:
    assert ("a limit is above the greatest detected value" in summary(texts)["note"]) == told


def test_means_of_bounds_with_an_open_one() -> None:
    found = summary("4 2-8 >6 <2")
    assert (found["mean_low"], found["mean_high"], found["detects"]) == (3.0, None, 3)


EVEN = "1 2 3 4 5 6 7 8"


def test_an_upper_limit_by_student_where_values_are_not_skewed() -> None:
    values = np.arange(1.0, 9.0)
    found = summary(EVEN)
    assert found["upper95"] == pytest.approx(
        values.mean() + stats.t.ppf(0.95, 7) * values.std(ddof=1) / np.sqrt(8), rel=1e-9
    )
    assert (found["method"], found["note"]) == ("arithmetic mean; upper limit by Student t", None)


def test_an_upper_limit_by_chebyshev_where_they_are() -> None:
    values = np.array([1.0, 1, 1, 1, 2, 2, 3, 90])
    assert stats.skewtest(values).pvalue < 0.05
    found = summary("1 1 1 1 2 2 3 90")
    assert found["upper95"] == pytest.approx(values.mean() + np.sqrt(19) * values.std(ddof=1) / np.sqrt(8), rel=1e-12)
    assert found["method"] == "arithmetic mean; upper limit by Chebyshev"


@pytest.mark.parametrize(
    "texts", ["1 2 3 4 5 6 7 8 14", "1 2 3 4 5 6 7 8 15", "1 2 3 4 5 6 7 8 16", "1 2 3 4 5 6 7 8 18 9 10 30",
              "1 1 1 1 1 1 1 2", "10 9 9 8 9 10 9 1", "1 5 9 13 17 21 25 29 90 95"],
)  # fmt: skip
def test_which_values_are_skewed(texts: str) -> None:
    values = np.array(texts.split(), dtype=float)
    by = "Student t" if stats.skewtest(values).pvalue >= 0.05 else "Chebyshev"
    assert summary(texts)["method"].endswith(f"upper limit by {by}")


def test_equal_values_are_not_skewed_and_their_limit_is_their_mean() -> None:
    found = summary("3 3 3 3 3 3 3 3")
    assert (found["upper95"], found["method"]) == (3.0, "arithmetic mean; upper limit by Student t")


def test_seven_are_too_few_for_a_limit() -> None:
    assert summary("1 2 3 4 5 6 7")["note"] == FEW


@pytest.mark.parametrize(
    ("units", "note"),
    [
        ([0, 0, 1, 2, 3, 4, 5, 6], "fewer than 8 independent results: no upper limit; intervals of one core are not "
         "independent"),
        ([0, 0, 1, 2, 3, 4, 5, 6, 7], "intervals of one core are not independent"),
    ],
)  # fmt: skip
def test_intervals_of_one_core_count_once(units: list[int], note: str) -> None:
    found = summary(" ".join(str(one) for one in range(1, len(units) + 1)), units=units)
    assert found["note"] == note
    assert (found["upper95"] is None) == ("no upper limit" in note)


@pytest.mark.parametrize(("texts", "given"), [("5 6 7 8 9 <1 <1 <1", True), ("5 6 7 8 <1 <1 <1 <1", False)])
def test_five_detected_values_are_needed_for_a_limit_beside_non_detects(texts: str, given: bool) -> None:
    found = summary(texts)
    assert (found["upper95"] is not None) == given
    assert ("fewer than 5 detected values: no upper limit" in found["note"]) == (not given)
    assert found["method"] == "Kaplan-Meier mean" + ("; upper limit by Chebyshev" if given else "")
    assert not given or found["upper95"] > found["mean"]


def many(detected: int, all_of_them: int, least: int = 1) -> str:
    return " ".join([*(str(one + least) for one in range(detected)), *["<1"] * (all_of_them - detected)])


@pytest.mark.parametrize(
    ("detected", "number", "given"), [(6, 30, True), (5, 30, False), (6, 29, False), (14, 30, True)]
)
def test_a_mean_by_the_line_of_thirty_of_which_a_fifth_is_detected(detected: int, number: int, given: bool) -> None:
    found = summary(many(detected, number))
    words = "mean by robust regression on order statistics, lognormal"
    assert (found["mean"] is not None) == given
    assert found["method"] == (words if given else None)
    assert ("more than half not detected: no upper limit" in found["note"]) == given
    assert ("more than half not detected: no mean" in found["note"]) == (not given)


def test_no_line_goes_through_equal_values() -> None:
    found = summary(" ".join(["5"] * 10 + ["<1"] * 20))
    assert (found["mean"], "more than half not detected: no mean" in found["note"]) == (None, True)


def test_groups_do_not_touch_each_other_and_an_empty_one_says_nothing() -> None:
    alone = [summarise(observed(texts)).iloc[0].to_dict() for texts in ("4 1 7", "2 6 8 <4", EVEN)]
    rows = observed("4 1 7", "2 6 8 <4", EVEN)
    together = summarise(
        Observed(*(getattr(rows, one) for one in ("group", "value", "low", "high", "detected", "unit_of")), 4)
    )
    for at, one in enumerate(alone):
        pd.testing.assert_series_equal(together.iloc[at], pd.Series(one), check_names=False, check_dtype=False)
    assert (together["n"].iloc[3], together["detects"].iloc[3]) == (0, 0)
    assert together.iloc[3][["mean", "median", "max", "upper95"]].isna().all()


def test_no_order_of_rows_changes_anything() -> None:
    rows = observed("4 1 <9 7 1-3", "2 6 8 <4")
    backwards = Observed(
        *(getattr(rows, one)[::-1] for one in ("group", "value", "low", "high", "detected", "unit_of")), 2
    )
    pd.testing.assert_frame_equal(summarise(rows), summarise(backwards))


def figures_of(rows: list[tuple[int, int, float, float, float]]) -> StationFigures:
    """Rows of station, measure, value, low, high, one sample each."""
    station, measure, value, low, high = (np.array(column) for column in zip(*rows, strict=True))
    sample, flags = np.arange(len(rows)), np.zeros(len(rows), dtype=bool)
    seen = Observations(sample, measure, value, low, high, flags, flags, pd.DataFrame(), pd.DataFrame())
    return station_figures(seen, station, 3)


def test_figures_of_stations_are_means_by_measure() -> None:
    rows = [
        (1, 1, 4.0, 4.0, 4.0),
        (0, 0, 2.0, 2.0, 2.0),
        (1, 1, UNKNOWN, 0.0, 4.0),
        (2, 0, UNKNOWN, 1.0, UNKNOWN),
        (0, 0, 6.0, 5.0, 7.0),
    ]
    found = figures_of(rows)
    assert (found.measure.tolist(), found.station.tolist()) == ([0, 0, 1], [0, 2, 1])
    np.testing.assert_array_equal(found.half, [4.0, UNKNOWN, 3.0])
    np.testing.assert_array_equal(found.low, [3.5, 1.0, 2.0])
    np.testing.assert_array_equal(found.high, [4.5, UNKNOWN, 4.0])
    assert found.censored.tolist() == [False, True, True]


def test_means_weighted_by_the_areas_that_are_given() -> None:
    figures = figures_of(
        [(0, 0, 2.0, 2.0, 2.0), (1, 0, UNKNOWN, 0.0, 8.0), (2, 0, 9.0, 9.0, 9.0), (0, 1, 5.0, 5.0, 5.0)]
    )
    areas = StationAreas(np.full(3, UNKNOWN), np.full(3, UNKNOWN), np.array([300.0, 100.0, 600.0]), None)
    table = area_means(figures, np.array([0, 0, 1]), areas)
    plain = "areas as given in the field record"
    assert table.to_dict("list") == {
        "measure": [0, 0, 1],
        "place": [0, 1, 0],
        "share_of_area_pct": [40.0, 60.0, 100.0],
        "area_mean": [2.5, 9.0, 5.0],
        "area_mean_low": [1.5, 9.0, 5.0],
        "area_mean_high": [3.5, 9.0, 5.0],
        "area_note": [
            f"{plain}; the area mean takes non-detects at half their limit; one station holds 75 % of the area",
            f"{plain}; one station holds 100 % of the area",
            f"{plain}; one station holds 100 % of the area",
        ],
    }


def test_stations_of_no_place_count_in_the_whole_area_only() -> None:
    figures = figures_of([(0, 0, 2.0, 2.0, 2.0), (1, 0, 8.0, 8.0, 8.0)])
    areas = StationAreas(np.full(3, UNKNOWN), np.full(3, UNKNOWN), np.array([300.0, 100.0, 600.0]), None)
    table = area_means(figures, np.array([0, -1, -1]), areas)
    assert table[["place", "share_of_area_pct", "area_mean"]].to_numpy().tolist() == [[0.0, 75.0, 2.0]]


def test_without_areas_and_with_one_place_on_the_map_there_is_no_area_mean() -> None:
    figures = figures_of([(0, 0, 2.0, 2.0, 2.0), (1, 0, 8.0, 8.0, 8.0)])
    areas = StationAreas(np.array([1.0, 1.0, 2.0]), np.array([50.0, 50.0, 51.0]), np.array([300.0, UNKNOWN, 1.0]), None)
    table = area_means(figures, np.array([0, 0, 0]), areas)
    assert table["area_note"].tolist() == ["fewer than two stations with coordinates: no area mean"]
    assert table[["share_of_area_pct", "area_mean", "area_mean_low", "area_mean_high"]].isna().all(axis=None)


def test_polygons_leave_out_stations_without_coordinates() -> None:
    pytest.importorskip("shapely")
    areas = StationAreas(np.array([1.0, 1.1, UNKNOWN]), np.array([50.0, 50.1, 51.0]), np.full(3, UNKNOWN), None)
    found, words = areas.of(np.array([0, 1, 2]))
    assert found[0] == pytest.approx(found[1])
    assert np.isnan(found[2])
    assert words == (
        "area mean over Thiessen polygons within the stations' own outline, 1 stations without coordinates left out"
    )
    assert areas.of(np.array([0, 1]))[1] == "area mean over Thiessen polygons within the stations' own outline"
