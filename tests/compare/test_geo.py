"""GeoJSON by RFC 7946: WGS 84, longitude before latitude, no crs member."""

import json

import numpy as np
import pandas as pd

from screen.stages.compare.places.geo import stations_geojson

STATIONS = pd.DataFrame(
    {
        "station": ["B", "A", "C"],
        "river_km": [np.nan, 2.5, 1.0],
        "latitude": [45.1, 45.2, np.nan],
        "longitude": [-30.3, -30.4, np.nan],
        "water": ["fresh", None, None],
        "role": ["site", "reference", None],
        "zone": [None, None, None],
    }
)
FINDINGS = pd.DataFrame(
    {
        "station": ["A", "A", "A", "B"],
        "set": ["set-1", "set-1", "set-2", "set-2"],
        "finding": ["below", "between", "not-assessed", "undetermined"],
    }
)
NONE = pd.DataFrame({"station": [], "set": [], "finding": []})


def properties(station: str) -> dict:
    found = stations_geojson(STATIONS, FINDINGS)
    return next(one["properties"] for one in found["features"] if one["properties"]["station"] == station)


def test_only_stations_with_coordinates_are_points_and_those_of_known_place_come_first() -> None:
    assert [one["properties"]["station"] for one in stations_geojson(STATIONS, NONE)["features"]] == ["A", "B"]


def test_longitude_stands_before_latitude() -> None:
    assert stations_geojson(STATIONS, NONE)["features"][0]["geometry"] == {
        "type": "Point",
        "coordinates": [-30.4, 45.2],
    }


def test_a_collection_has_no_crs_member() -> None:
    assert set(stations_geojson(STATIONS, NONE)) == {"type", "features"}


def test_each_set_has_the_gravest_finding_of_the_station() -> None:
    assert properties("A")["finding set-1"] == "between"
    assert properties("A")["finding set-2"] == "not-assessed"
    assert properties("B")["finding set-1"] is None
    assert properties("B")["finding set-2"] == "undetermined"


def test_what_is_not_known_is_null() -> None:
    found = properties("B")
    assert (found["river_km"], found["zone"]) == (None, None)


def test_it_can_be_written_as_strict_json() -> None:
    json.dumps(stations_geojson(STATIONS, FINDINGS), allow_nan=False)


def test_stations_without_any_coordinates_give_an_empty_collection() -> None:
    assert stations_geojson(pd.DataFrame(), NONE) == {"type": "FeatureCollection", "features": []}
