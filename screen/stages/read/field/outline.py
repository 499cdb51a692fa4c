"""The outline that area weights are clipped to. In: a GeoJSON file. Out: its rings in WGS 84 degrees."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from screen.settings import SettingsError

__all__ = ["Polygon", "read_outline"]

#: The rings of one polygon (longitude, latitude): its outer ring first, then its holes.
Polygon = list[list[tuple[float, float]]]


def read_outline(path: Path) -> list[Polygon]:
    """The polygons of a GeoJSON file (RFC 7946): a geometry, a feature or a collection of them.

    Raises SettingsError for a file that cannot be read, has no polygon, or is not in longitude and latitude.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise SettingsError(f"boundary: {path.name} cannot be read: {error.strerror}.") from error
    except ValueError as error:
        raise SettingsError(f"boundary: {path.name} is not JSON: {error}.") from error
    try:
        polygons = [
            [[(float(point[0]), float(point[1])) for point in ring] for ring in rings] for rings in _rings(document)
        ]
    except (TypeError, ValueError, IndexError, KeyError, AttributeError) as error:
        raise SettingsError(f"boundary: {path.name} is not in order as GeoJSON.") from error
    if not polygons:
        raise SettingsError(f"boundary: {path.name} holds no polygon. Give the outline as a Polygon or MultiPolygon.")
    if any(abs(east) > 180 or abs(north) > 90 for rings in polygons for ring in rings for east, north in ring):
        raise SettingsError(f"boundary: {path.name} is not in longitude and latitude. GeoJSON is WGS 84 degrees.")
    return polygons


def _rings(item: Any) -> Iterator[Any]:
    kind = item["type"]
    if kind == "FeatureCollection":
        for feature in item["features"]:
            yield from _rings(feature)
    elif kind == "Feature":
        yield from _rings(item["geometry"])
    elif kind == "GeometryCollection":
        for geometry in item["geometries"]:
            yield from _rings(geometry)
    elif kind == "Polygon":
        yield item["coordinates"]
    elif kind == "MultiPolygon":
        yield from item["coordinates"]
