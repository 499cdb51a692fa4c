"""The table of cores, on small batches made by hand."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import batch_of

from screen.model import CORES, CORES_LATER
from screen.settings import Settings, SettingsError
from screen.stages.compare.places.cores import summarise_cores
from screen.stages.normalise import normalise
from screen.stages.sums import total


def table(intervals, settings=None, core="C-1", lengths=None) -> pd.DataFrame:
    rows = [(f"S-{at}", "Lead", text) for at, (_, _, text) in enumerate(intervals)]
    samples = {
        f"S-{at}": {"station": "ST-1", "core": core, "depth_top_cm": top, "depth_bottom_cm": bottom}
        for at, (top, bottom, _) in enumerate(intervals)
    }
    chosen = settings or Settings()
    batch = normalise(batch_of(rows, samples=samples), chosen)
    if lengths:
        known = pd.DataFrame({"core": [core], "penetration_cm": [lengths[0]], "recovered_cm": [lengths[1]]})
        batch = dataclasses.replace(batch, cores=known)
    return summarise_cores(batch, total(batch.results).iloc[:0], chosen)


def one(*args, **more) -> pd.Series:
    found = table(*args, **more)
    assert len(found) == 1
    return found.iloc[0]


LAYERS = [(0, 10, "5"), (10, 20, "40"), (20, 40, "<4")]


def test_the_columns_are_those_of_the_contract() -> None:
    assert table(LAYERS).columns.tolist() == [*CORES, *CORES_LATER]


def test_surface_peak_and_their_ratio() -> None:
    row = one(LAYERS)
    assert row[["n", "surface", "peak", "peak_top_cm", "peak_bottom_cm", "surface_to_peak"]].tolist() == [
        3,
        5,
        40,
        10,
        20,
        0.125,
    ]
    assert row["depth_rule"] == "none"
    assert "the peak lies below the surface" in row["note"]


def test_of_equal_peaks_the_higher_one_counts() -> None:
    assert one([(0, 10, "5"), (10, 20, "40"), (20, 40, "40")])["peak_top_cm"] == 10


def test_a_surface_that_is_not_detected_has_no_ratio() -> None:
    row = one([(0, 10, "<5"), (10, 20, "40")])
    assert np.isnan(row["surface"])
    assert np.isnan(row["surface_to_peak"])
    assert "no value at the surface" in row["note"]


def test_a_limit_above_the_peak_is_named() -> None:
    assert "a limit is above the peak" in one([(0, 10, "<50"), (10, 20, "40")])["note"]


def test_without_a_cut_its_columns_are_empty() -> None:
    assert one(LAYERS)[["cut_cm", "cut_mean", "cut_covered_pct", "left_value"]].isna().all()


def test_the_cut_weighs_by_thickness_and_takes_part_of_the_last_interval() -> None:
    row = one(LAYERS, Settings(cut="30 cm"))
    assert row["cut_mean_low"] == pytest.approx((10 * 5 + 10 * 40) / 30)
    assert row["cut_mean"] == pytest.approx((10 * 5 + 10 * 40 + 10 * 2) / 30)
    assert row["cut_mean_high"] == pytest.approx((10 * 5 + 10 * 40 + 10 * 4) / 30)
    assert row["cut_covered_pct"] == 100


def test_a_cut_in_feet_is_a_length_like_any_other() -> None:
    assert one(LAYERS, Settings(cut="1 ft"))["cut_cm"] == 30.48


@pytest.mark.parametrize(("cut", "left"), [("10 cm", 40), ("15 cm", 40), ("5 cm", 5)])
def test_the_layer_left_bare_is_the_one_at_the_cut(cut: str, left: float) -> None:
    assert one(LAYERS, Settings(cut=cut))["left_value"] == left


def test_a_gap_stays_a_gap() -> None:
    row = one([(0, 10, "5"), (20, 40, "40")], Settings(cut="20 cm"))
    assert row[["cut_mean", "cut_covered_pct", "left_value"]].tolist() == [5, 50, 40]
    assert "there is a gap between intervals; nothing is filled in" in row["note"]


def test_a_cut_that_ends_in_a_gap_leaves_an_unknown_layer() -> None:
    row = one([(0, 10, "5"), (20, 40, "40")], Settings(cut="15 cm"))
    assert np.isnan(row["left_value"])
    assert "no sample at the depth of the cut" in row["note"]


def test_a_cut_below_the_core_leaves_an_unknown_layer() -> None:
    row = one(LAYERS, Settings(cut="50 cm"))
    assert np.isnan(row["left_value"])
    assert row["cut_covered_pct"] == 80
    assert "the samples end above the cut" in row["note"]


def test_overlapping_intervals_cover_a_depth_once() -> None:
    row = one([(0, 10, "5"), (5, 20, "40")], Settings(cut="20 cm"))
    assert row["cut_covered_pct"] == 100
    assert "intervals overlap" in row["note"]


def test_depths_are_stretched_on_request() -> None:
    row = one(LAYERS, Settings(compaction="linear", cut="20 cm"), lengths=(100.0, 80.0))
    assert row[["peak_top_cm", "peak_bottom_cm", "depth_rule"]].tolist() == [12.5, 25, "linear"]
    assert row["cut_mean"] == pytest.approx((12.5 * 5 + 7.5 * 40) / 20)
    assert "depths times 1.25" in row["note"]


def test_without_lengths_depths_stay_as_recorded_and_the_note_says_so() -> None:
    row = one(LAYERS, Settings(compaction="linear"))
    assert row["depth_rule"] == "none"
    assert "depths as recorded" in row["note"]


def test_a_core_with_one_interval_has_no_profile() -> None:
    assert "one interval: no profile" in one([(0, 10, "5")])["note"]


def test_intervals_of_a_station_without_a_core_are_taken_as_one() -> None:
    row = one(LAYERS, core=None)
    assert row["core"] == "ST-1"
    assert "no core is named" in row["note"]


def test_where_cores_are_named_what_names_none_is_a_grab() -> None:
    rows = [("S-1", "Lead", "1"), ("S-2", "Lead", "2"), ("S-3", "Lead", "3")]
    samples = {
        "S-1": {"station": "ST-1", "core": "C-1", "depth_top_cm": 0.0, "depth_bottom_cm": 5.0},
        "S-2": {"station": "ST-2", "depth_top_cm": 0.0, "depth_bottom_cm": 5.0},
        "S-3": {"station": "ST-2", "depth_top_cm": 5.0, "depth_bottom_cm": 9.0},
    }
    batch = normalise(batch_of(rows, samples=samples), Settings())
    assert summarise_cores(batch, total(batch.results).iloc[:0], Settings())["core"].tolist() == ["C-1"]


def test_a_grab_is_no_core() -> None:
    assert table([(0, 10, "5")], core=None).empty


def test_a_sample_of_unknown_depth_is_named() -> None:
    row = one([(0, 10, "5"), (np.nan, np.nan, "9")], Settings(cut="10 cm"))
    assert row["cut_mean"] == 5
    assert "unknown depth" in row["note"]


@pytest.mark.parametrize("cut", ["60", "soon", "0 cm", "-1 ft"])
def test_a_cut_that_is_no_length_is_a_usage_error(cut: str) -> None:
    with pytest.raises(SettingsError, match="cut ="):
        table(LAYERS, Settings(cut=cut))


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(1, 30), st.integers(1, 100)), min_size=1, max_size=8))
def test_over_its_whole_length_the_cut_mean_is_the_weighted_average(layers: list[tuple[int, int]]) -> None:
    """Oracle: numpy.average."""
    bottoms = np.cumsum([thick for thick, _ in layers])
    intervals = [
        (float(low - thick), float(low), str(value)) for low, (thick, value) in zip(bottoms, layers, strict=True)
    ]
    row = one(intervals, Settings(cut=f"{bottoms[-1]} cm"))
    expected = np.average([value for _, value in layers], weights=[thick for thick, _ in layers])
    assert row["cut_mean"] == pytest.approx(expected, rel=1e-12)
    assert row["cut_covered_pct"] == pytest.approx(100)
