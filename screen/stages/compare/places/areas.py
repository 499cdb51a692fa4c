"""Thiessen areas of stations. In: coordinates and an outline in WGS 84 degrees. Out: square metres per station.

The projection is a cylindrical equal-area one with its true parallel in the middle of the stations, on a sphere of the
mean earth radius 6,371,008.8 m (IUGG): areas are those on the sphere, and distances near the middle are true.
"""

from __future__ import annotations

import importlib
from collections.abc import Sequence

import numpy as np

from screen.columns import Floats

__all__ = ["EARTH_RADIUS_M", "middle_of", "project", "shapely_missing", "thiessen_areas"]

EARTH_RADIUS_M = 6_371_008.8


def project(longitude: Floats, latitude: Floats, middle: tuple[float, float]) -> tuple[Floats, Floats]:
    """Metres east and north of ``middle`` (longitude, latitude) on an equal-area cylinder true at its latitude."""
    parallel = np.cos(np.radians(middle[1]))
    turned = (np.asarray(longitude) - middle[0] + 180) % 360 - 180
    rise = np.sin(np.radians(latitude)) - np.sin(np.radians(middle[1]))
    return EARTH_RADIUS_M * np.radians(turned) * parallel, EARTH_RADIUS_M * rise / parallel


def middle_of(longitude: Floats, latitude: Floats) -> tuple[float, float]:
    """The medians of longitude and latitude; stations on both sides of the 180th meridian are near each other."""
    turned = np.asarray(longitude, dtype=np.float64)
    if np.ptp(turned) > 180:
        turned = turned % 360
    return float(np.median(turned)), float(np.median(latitude))


def shapely_missing() -> bool:
    """Whether the library that draws polygons is not installed."""
    try:
        importlib.import_module("shapely")
    except ImportError:
        return True
    return False


def thiessen_areas(
    longitude: Floats, latitude: Floats, outline: Sequence[Sequence[Sequence[tuple[float, float]]]] | None = None
) -> Floats:
    """The area in m2 of each station's Thiessen polygon, clipped to ``outline`` (polygons as rings of lon, lat).

    Without an outline the stations' own is taken: their hull, widened by half the median distance to the nearest
    station. Stations at one place share its area. Needs two places at least, else NaN.
    """
    import shapely

    middle = middle_of(longitude, latitude)
    points = np.column_stack(project(longitude, latitude, middle))
    places, place_of, shared = np.unique(points, axis=0, return_inverse=True, return_counts=True)
    if len(places) < 2:
        return np.full(len(points), np.nan)
    dots = shapely.points(places)
    if outline is None:
        hull = shapely.convex_hull(shapely.multipoints(places))
        area = shapely.buffer(hull, _spacing(places) / 2)
    else:
        drawn = [
            shapely.polygons(_ring(rings[0], middle), [_ring(hole, middle) for hole in rings[1:]] or None)
            for rings in outline
        ]
        area = shapely.union_all(shapely.make_valid(drawn))
    cells = shapely.get_parts(shapely.voronoi_polygons(shapely.multipoints(places), extend_to=shapely.envelope(area)))
    tree = shapely.STRtree(cells)
    dot, cell = tree.query(dots, predicate="intersects")
    owner = np.zeros(len(places), dtype=np.int64)
    owner[dot] = cell
    areas = shapely.area(shapely.intersection(cells[owner], area))
    place_of = np.asarray(place_of).ravel()
    return np.asarray(areas[place_of] / shared[place_of], dtype=np.float64)


def _ring(ring: Sequence[tuple[float, float]], middle: tuple[float, float]) -> Floats:
    points = np.asarray(ring, dtype=np.float64)
    return np.column_stack(project(points[:, 0], points[:, 1], middle))


def _spacing(places: Floats) -> float:
    import shapely

    dots = shapely.points(places)
    _, distance = shapely.STRtree(dots).query_nearest(dots, exclusive=True, return_distance=True, all_matches=False)
    return float(np.median(distance))
