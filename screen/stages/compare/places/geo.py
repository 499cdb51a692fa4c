"""Stations on a map. In: stations and findings. Out: a GeoJSON FeatureCollection (RFC 7946, WGS 84) as plain data."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from screen.columns import coded, recoded, texts_of
from screen.model import FINDING_ORDER

__all__ = ["stations_geojson"]

_SAID = ("water", "role", "zone")


def stations_geojson(stations: pd.DataFrame, findings: pd.DataFrame) -> dict[str, object]:
    """One point for each station with coordinates, upwards from the mouth; no other stations.

    Positions are longitude, latitude. Properties: station, river_km, water, role, zone, and ``finding <set>``, the
    gravest finding of the station's samples by that set (null where it has none).
    """
    if not {"latitude", "longitude"} <= set(stations.columns):
        return {"type": "FeatureCollection", "features": []}
    placed = stations[stations["latitude"].notna() & stations["longitude"].notna()]
    placed = placed.assign(station=texts_of(placed["station"])).sort_values(
        ["river_km", "station"], na_position="last", kind="stable"
    )
    gravest, sets = _gravest(findings) if len(placed) else ({}, [])
    features = [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [float(row["longitude"]), float(row["latitude"])]},
            "properties": {
                "station": str(row["station"]),
                "river_km": None if np.isnan(row["river_km"]) else float(row["river_km"]),
                **{name: _text(row[name]) for name in _SAID},
                **{f"finding {one}": gravest.get((str(row["station"]), one)) for one in sets},
            },
        }
        for row in placed.to_dict("records")
    ]
    return {"type": "FeatureCollection", "features": features}


def _text(value: Any) -> str | None:
    return str(value) if isinstance(value, str) and value else None


def _gravest(findings: pd.DataFrame) -> tuple[dict[tuple[str, str], str], list[str]]:
    """The gravest finding by station and set, and the sets in order of appearance."""
    if findings.empty:
        return {}, []
    station, stations = coded(findings["station"])
    number, sets = coded(findings["set"])
    pair, keys = pd.factorize(station * len(sets) + number)
    worst = np.zeros(len(keys), dtype=np.int64)
    np.maximum.at(worst, pair, recoded(findings["finding"], FINDING_ORDER))
    stations = np.append(stations, "")  # the last, code -1, is no station
    found = {
        (str(stations[key // len(sets)]), str(sets[key % len(sets)])): FINDING_ORDER[at]
        for key, at in zip(keys, worst, strict=True)
    }
    return found, [str(sets[code]) for code in pd.unique(number)]
