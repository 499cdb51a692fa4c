"""The table of stations, on small batches made by hand."""

import numpy as np
import pandas as pd
import pytest
from made import batch_of

from screen.model import STATIONS
from screen.settings import Settings
from screen.stages.compare.places.stations import summarise_stations
from screen.stages.normalise import normalise
from screen.stages.sums import total


def table(rows, samples=None, totals=False) -> pd.DataFrame:
    batch = normalise(batch_of(rows, samples=samples), Settings())
    made = total(batch.results)
    return summarise_stations(batch, made if totals else made.iloc[:0])


def one(found: pd.DataFrame, station: str = "ST-1", layer: str = "all", substance: str = "Lead") -> pd.Series:
    rows = found[(found["station"] == station) & (found["layer"] == layer) & (found["substance"] == substance)]
    assert len(rows) == 1
    return rows.iloc[0]


def at(station: str = "ST-1", **more) -> dict:
    return {"station": station} | more


def many(*texts: str, station: str = "ST-1"):
    rows = [(f"S-{number}", "Lead", text) for number, text in enumerate(texts)]
    return rows, {row[0]: at(station) for row in rows}


def test_without_non_detects_the_mean_is_arithmetic() -> None:
    row = one(table(*many("10", "20", "60")))
    assert row[["n", "detects", "mean", "mean_low", "mean_high", "median", "max"]].tolist() == [
        3,
        3,
        30,
        30,
        30,
        20,
        60,
    ]
    assert row["method"] == "arithmetic mean"
    assert row["unit"] == "mg/kg"


def test_with_non_detects_the_mean_is_kaplan_meier_and_the_bounds_stand_beside() -> None:
    row = one(table(*many("12", "<5", "8", "5", "<3", "2")))
    assert row["mean"] == pytest.approx(31 / 6, rel=1e-12)  # the constructed example of the Kaplan-Meier tests
    assert row["mean_low"] == pytest.approx(27 / 6)
    assert row["mean_high"] == pytest.approx(35 / 6)
    assert row["method"] == "Kaplan-Meier mean"


def test_with_few_detected_values_there_is_no_mean_and_the_note_says_why() -> None:
    row = one(table(*many("12", "<5", "8")))
    assert np.isnan(row["mean"])
    assert "fewer than 3 detected values: no mean" in row["note"]
    assert (row["mean_low"], row["mean_high"]) == (20 / 3, 25 / 3)


def test_with_most_not_detected_there_is_no_mean() -> None:
    row = one(table(*many("12", "9", "8", "<5", "<5", "<5", "<5")))
    assert np.isnan(row["mean"])
    assert "more than half not detected: no mean" in row["note"]


def test_a_limit_that_is_not_known_leaves_the_mean_and_its_upper_bound_open() -> None:
    row = one(table(*many("12", "9", "8", "ND")))
    assert np.isnan(row["mean"])
    assert np.isnan(row["mean_high"])
    assert row["mean_low"] == 7.25


def test_a_result_above_the_range_leaves_the_mean_open() -> None:
    row = one(table(*many("12", "9", ">500")))
    assert np.isnan(row["mean"])
    assert row["mean_low"] == pytest.approx(521 / 3)


def test_the_median_is_given_where_no_non_detect_can_move_it() -> None:
    assert one(table(*many("12", "9", "<5")))["median"] == 9


def test_the_median_is_left_open_where_it_lies_among_non_detects() -> None:
    row = one(table(*many("12", "<9", "<5")))
    assert np.isnan(row["median"])
    assert "the median lies among non-detects" in row["note"]


def test_the_maximum_is_the_greatest_detected_value_and_a_higher_limit_is_named() -> None:
    row = one(table(*many("12", "<20")))
    assert row["max"] == 12
    assert "a limit is above the greatest detected value" in row["note"]


def test_without_any_detected_value_mean_median_and_maximum_are_empty() -> None:
    row = one(table(*many("<5", "<3")))
    assert row[["mean", "median", "max"]].isna().all()
    assert row["detects"] == 0


def test_a_pair_of_field_duplicates_counts_once() -> None:
    rows = [("S-1", "Lead", "10"), ("S-1-D", "Lead", "20"), ("S-2", "Lead", "30")]
    row = one(table(rows, {"S-1": at(), "S-1-D": at(parent="S-1"), "S-2": at()}))
    assert row[["n", "mean"]].tolist() == [2, 22.5]


def test_a_non_detect_in_a_pair_counts_half_its_limit() -> None:
    rows = [("S-1", "Lead", "10"), ("S-1-D", "Lead", "<8")]
    row = one(table(rows, {"S-1": at(), "S-1-D": at(parent="S-1")}))
    assert row[["n", "detects", "mean", "mean_low", "mean_high"]].tolist() == [1, 1, 7, 5, 9]


def test_a_non_detect_of_unknown_limit_in_a_pair_leaves_the_mean_open() -> None:
    found = table([("A", "Lead", "10"), ("A-FD", "Lead", "ND")], samples={"A-FD": {"parent": "A", "station": "A"}})
    assert found[["n", "mean_low"]].to_numpy().tolist()[0] == [1, 5]
    assert found[["mean", "mean_high"]].isna().to_numpy().all()


def test_a_pair_of_non_detects_is_one_at_the_lower_limit() -> None:
    rows = [("S-1", "Lead", "<10"), ("S-1-D", "Lead", "<8")]
    row = one(table(rows, {"S-1": at(), "S-1-D": at(parent="S-1")}))
    assert row[["n", "detects", "mean_low", "mean_high"]].tolist() == [1, 0, 0, 8]


def test_the_surface_is_top_zero_or_no_depth() -> None:
    rows = [("S-1", "Lead", "10"), ("S-2", "Lead", "20"), ("S-3", "Lead", "90")]
    places = {
        "S-1": at(depth_top_cm=0.0, depth_bottom_cm=10.0),
        "S-2": at(),
        "S-3": at(depth_top_cm=10.0, depth_bottom_cm=20.0),
    }
    found = table(rows, places)
    assert one(found, layer="surface")[["n", "mean"]].tolist() == [2, 15]
    assert one(found, layer="all")[["n", "mean"]].tolist() == [3, 40]


def test_rows_that_are_not_used_do_not_count() -> None:
    assert one(table(*many("10", "90 R")))["n"] == 1


def test_totals_have_rows_of_their_own_with_their_rule() -> None:
    rows = [("S-1", "Aroclor 1254", "40"), ("S-1", "Aroclor 1260", "<10")]
    row = one(table(rows, {"S-1": at()}, totals=True), substance="pcb-aroclors")
    assert row["mean"] == 40
    assert "sums by the rule zero" in row["method"]
    assert "some of the sums lack members" in row["note"]


def test_stations_go_upwards_from_the_mouth_those_of_unknown_place_last() -> None:
    rows = [("S-1", "Lead", "10"), ("S-2", "Lead", "20"), ("S-3", "Lead", "30")]
    found = table(rows, {"S-1": at("B"), "S-2": at("A", river_km=9.0), "S-3": at("C", river_km=2.0)})
    assert found["station"].astype(str).drop_duplicates().tolist() == ["C", "A", "B"]


def test_the_columns_are_those_of_the_contract() -> None:
    assert table(*many("10")).columns.tolist() == STATIONS


def test_eight_near_normal_results_have_a_student_limit() -> None:
    """Oracle: scipy.stats.ttest_1samp's one-sided confidence interval."""
    from scipy import stats

    values = [12, 15, 11, 14, 13, 16, 12, 15]
    row = one(table(*many(*map(str, values))))
    assert row["upper95"] == pytest.approx(
        stats.ttest_1samp(values, 0, alternative="less").confidence_interval(0.95).high
    )
    assert "Student t" in row["method"]


def test_skewed_results_have_a_limit_that_assumes_nothing() -> None:
    values = [1, 1, 2, 1, 2, 1, 1, 400]
    row = one(table(*many(*map(str, values))))
    error = np.std(values, ddof=1) / np.sqrt(8)
    assert row["upper95"] == pytest.approx(np.mean(values) + np.sqrt(19) * error)  # Cantelli: 1/(1 + 19) = 5 %
    assert "Chebyshev" in row["method"]


def test_seven_results_have_no_upper_limit() -> None:
    row = one(table(*many(*"1234567")))
    assert np.isnan(row["upper95"])
    assert "fewer than 8 results: no upper limit" in row["note"]


def test_intervals_of_one_core_are_not_taken_as_independent() -> None:
    rows = [(f"S-{number}", "Lead", str(10 + number)) for number in range(9)]
    row = one(table(rows, {name: at(core="C-1") for name, *_ in rows}))
    assert np.isnan(row["upper95"])
    assert "fewer than 8 independent results" in row["note"]


def test_the_order_of_the_rows_changes_no_digit() -> None:
    rows, places = many("0.1", "0.2", "0.3", "<0.7", "0.4", "1e-3", "123.4", "9", "<0.05")
    pd.testing.assert_frame_equal(table(rows, places), table(rows[::-1], places))
