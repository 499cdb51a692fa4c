"""The table of the reach, on small batches made by hand."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from made import batch_of

from screen.model import REACH
from screen.settings import Settings, SettingsError
from screen.stages.compare.places.reach import summarise_reach
from screen.stages.normalise import normalise
from screen.stages.sums import total


def table(rows, samples, settings=None, areas=None) -> pd.DataFrame:
    batch = normalise(batch_of(rows, samples=samples), settings or Settings())
    if areas:
        stations = pd.DataFrame({"station": list(areas), "area_m2": list(areas.values())})
        batch = dataclasses.replace(batch, stations=stations)
    return summarise_reach(batch, total(batch.results).iloc[:0], settings or Settings())


def one(found: pd.DataFrame, place: str, layer: str = "all") -> pd.Series:
    rows = found[(found["place"] == place) & (found["layer"] == layer)]
    assert len(rows) == 1
    return rows.iloc[0]


ROWS = [("S-1", "Lead", "10"), ("S-2", "Lead", "20"), ("S-3", "Lead", "90")]


def placed(**columns) -> dict:
    return {f"S-{at + 1}": {name: values[at] for name, values in columns.items()} for at in range(3)}


def places(found: pd.DataFrame) -> list[str]:
    return found["place"].astype(str).drop_duplicates().tolist()


def test_the_columns_are_those_of_the_contract() -> None:
    assert table(ROWS, placed()).columns.tolist() == REACH


def test_the_whole_reach_is_always_there() -> None:
    found = table(ROWS, placed())
    assert places(found) == ["all"]
    assert one(found, "all")[["n", "mean"]].tolist() == [3, 40]


def test_site_and_reference_stand_apart() -> None:
    found = table(ROWS, placed(role=["site", "site", "reference"]))
    assert one(found, "site")["mean"] == 15
    assert one(found, "reference")["mean"] == 90


def test_beside_a_reference_a_station_of_no_stated_role_is_of_the_site() -> None:
    assert one(table(ROWS, placed(role=[None, "site", "reference"])), "site")["n"] == 2


def test_upstream_lies_farther_from_the_mouth_and_the_point_itself_downstream() -> None:
    found = table(ROWS, placed(river_km=[2.0, 5.0, 9.0]), Settings(at=5.0))
    assert one(found, "upstream")["mean"] == 90
    assert one(found, "downstream")["mean"] == 15


def test_each_zone_has_its_rows() -> None:
    found = table(ROWS, placed(zone=["B", "A", "A"]))
    assert places(found) == ["all", "A", "B"]
    assert one(found, "A")["mean"] == 55


def test_a_zone_that_is_called_like_a_place_is_told_apart() -> None:
    assert places(table(ROWS, placed(zone=["all", "all", "A"]))) == ["all", "A", "zone all"]


def test_given_areas_weigh_the_mean() -> None:
    row = one(table(ROWS, placed(), areas={"S-1": 1000.0, "S-2": 1000.0, "S-3": 2000.0}), "all")
    assert row[["area_mean", "share_of_area_pct"]].tolist() == [52.5, 100]
    assert "areas as given" in row["note"]
    assert "one station holds 50 % of the area" in row["note"]


def test_a_zone_has_its_share_of_the_area() -> None:
    found = table(ROWS, placed(zone=["A", "A", "B"]), areas={"S-1": 1000.0, "S-2": 1000.0, "S-3": 2000.0})
    assert one(found, "A")[["area_mean", "share_of_area_pct"]].tolist() == [15, 50]


def test_non_detects_bound_the_area_mean() -> None:
    rows = [("S-1", "Lead", "<8"), ("S-2", "Lead", "20")]
    found = table(rows, {}, areas={"S-1": 1000.0, "S-2": 3000.0})
    assert one(found, "all")[["area_mean_low", "area_mean", "area_mean_high"]].tolist() == [15, 16, 17]


def test_without_coordinates_there_is_no_area_mean_and_the_note_says_why() -> None:
    row = one(table(ROWS, placed()), "all")
    assert row[["area_mean", "area_mean_low", "area_mean_high", "share_of_area_pct"]].isna().all()
    assert "fewer than two stations with coordinates" in row["note"]


def test_a_reach_of_one_station_has_no_area_mean() -> None:
    row = one(table(ROWS[:1], {"S-1": {"latitude": 45.0, "longitude": -30.0}}), "all")
    assert np.isnan(row["area_mean"])
    assert row["mean"] == 10


def test_an_outline_that_is_no_polygon_is_a_usage_error(tmp_path: Path) -> None:
    path = tmp_path / "line.geojson"
    path.write_text(json.dumps({"type": "Point", "coordinates": [1, 2]}))
    with pytest.raises(SettingsError, match="holds no polygon"):
        table(ROWS, placed(), Settings(boundary=path))


def test_an_outline_in_metres_is_a_usage_error(tmp_path: Path) -> None:
    path = tmp_path / "metres.geojson"
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [[[0, 0], [500, 0], [500, 500], [0, 0]]]}))
    with pytest.raises(SettingsError, match="not in longitude and latitude"):
        table(ROWS, placed(), Settings(boundary=path))
