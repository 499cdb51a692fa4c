"""Change between two runs: a ratio only between means of one kind."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from screen.model import CHANGE, STATIONS
from screen.settings import SettingsError
from screen.stages.compare.places.change import compare_runs

PLAIN = {
    "station": "ST-1",
    "layer": "all",
    "substance": "Lead",
    "mean": 10.0,
    "unit": "mg/kg",
    "method": "arithmetic mean",
}


def stations(*rows: dict) -> pd.DataFrame:
    return pd.DataFrame([PLAIN | row for row in rows], columns=STATIONS)


def results(*methods: str) -> pd.DataFrame:
    rows = [{"station": "ST-1", "substance": "Lead", "method": one, "used": True} for one in methods]
    return pd.DataFrame(rows, columns=["station", "substance", "method", "used"])


@pytest.fixture
def earlier(tmp_path: Path):
    def write(*rows: dict, methods: tuple[str, ...] = ()) -> Path:
        folder = tmp_path / "before"
        (folder / "tables").mkdir(parents=True)
        (folder / "run.json").write_text("{}")
        stations(*rows).to_csv(folder / "tables" / "stations.csv", index=False)
        results(*methods).replace({True: "true"}).to_csv(folder / "tables" / "results.csv", index=False)
        return folder

    return write


def test_the_ratio_is_now_over_earlier(earlier) -> None:
    found = compare_runs(earlier({"mean": 4.0}), stations({}))
    assert found.columns.tolist() == CHANGE
    assert found.loc[0, ["earlier", "now", "ratio", "unit"]].tolist() == [4.0, 10.0, 2.5, "mg/kg"]
    assert found["note"].isna().all()


@pytest.mark.parametrize(
    ("before", "note"),
    [
        ({"unit": "ug/kg"}, "units differ"),
        ({"method": "Kaplan-Meier mean"}, "the means were made in different ways"),
        ({"note": "some of the sums lack members"}, "the sums lack members in one of the runs"),
        ({"mean": np.nan}, "the earlier run has no mean"),
    ],
)
def test_means_of_different_kinds_have_no_ratio(earlier, before: dict, note: str) -> None:
    found = compare_runs(earlier(before), stations({}))
    assert np.isnan(found.loc[0, "ratio"])
    assert found.loc[0, "note"] == note


def test_one_result_is_compared_with_an_arithmetic_mean(earlier) -> None:
    found = compare_runs(
        earlier({"method": "one result"}), stations({"method": "arithmetic mean; upper limit by Student t"})
    )
    assert found.loc[0, "ratio"] == 1


def test_sums_by_different_rules_are_not_compared(earlier) -> None:
    half = {"substance": "pcb-aroclors", "method": "one result; sums by the rule half"}
    found = compare_runs(earlier(half), stations(half | {"method": "one result; sums by the rule zero"}))
    assert found["ratio"].isna().all()
    assert found["note"].tolist() == ["not measured in the earlier run", "not measured in this run"]


@pytest.mark.parametrize(("now", "ratio"), [("8270E", 1.0), ("6010D", np.nan)])
def test_another_analytical_method_has_no_ratio(earlier, now: str, ratio: float) -> None:
    found = compare_runs(earlier({}, methods=("8270E",)), stations({}), results(now))
    np.testing.assert_equal(found.loc[0, "ratio"], ratio)


def test_stations_of_one_run_only_are_left_out(earlier) -> None:
    assert compare_runs(earlier({"station": "ST-9"}), stations({})).empty


def test_a_station_that_had_to_be_kept_from_being_a_formula_is_the_same_station(earlier) -> None:
    found = compare_runs(earlier({"station": "'-1"}), stations({"station": "-1"}))
    assert found.loc[0, "ratio"] == 1


def test_a_folder_of_something_else_is_a_usage_error(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="no run"):
        compare_runs(tmp_path, stations({}))


def test_a_folder_without_its_tables_is_a_usage_error(tmp_path: Path) -> None:
    (tmp_path / "run.json").write_text("{}")
    with pytest.raises(SettingsError, match="cannot be read"):
        compare_runs(tmp_path, stations({}))
