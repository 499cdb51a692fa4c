"""Areas on the sphere and Thiessen polygons."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screen.stages.compare.places.areas import EARTH_RADIUS_M, project, thiessen_areas

shapely = pytest.importorskip("shapely")

SQUARE = [[[(0.0, 0.0), (0.004, 0.0), (0.004, 0.004), (0.0, 0.004), (0.0, 0.0)]]]


@settings(deadline=None)
@given(st.floats(-70, 70), st.floats(-179, 178), st.floats(0.001, 0.5))
def test_an_area_is_that_of_the_sphere(south: float, west: float, size: float) -> None:
    """Sphere formula: R^2 (lon2 - lon1) (sin lat2 - sin lat1)."""
    east, north = west + size, south + size
    corners = np.array([(west, south), (east, south), (east, north), (west, north)])
    x, y = project(corners[:, 0], corners[:, 1], (west, south))
    drawn = 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    sphere = EARTH_RADIUS_M**2 * np.radians(size) * (np.sin(np.radians(north)) - np.sin(np.radians(south)))
    assert drawn == pytest.approx(sphere, rel=1e-6)


def test_a_distance_near_the_middle_is_that_of_the_great_circle() -> None:
    """Haversine formula."""
    one, other = (-30.40, 45.10), (-30.39, 45.11)
    x, y = project(np.array([one[0], other[0]]), np.array([one[1], other[1]]), (-30.395, 45.105))
    turn, rise = np.radians(other[0] - one[0]), np.radians(other[1] - one[1])
    half = np.sin(rise / 2) ** 2 + np.cos(np.radians(one[1])) * np.cos(np.radians(other[1])) * np.sin(turn / 2) ** 2
    assert np.hypot(*(np.diff(x), np.diff(y)))[0] == pytest.approx(
        2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(half)), rel=1e-4
    )


def test_three_points_in_a_square() -> None:
    """Points (1, 1), (2, 3), (3, 1) in a square of 4: 4.5, 7.0, 4.5 of 16 (by hand, and by SciPy's Voronoi)."""
    areas = thiessen_areas(np.array([0.001, 0.002, 0.003]), np.array([0.001, 0.003, 0.001]), SQUARE)
    np.testing.assert_allclose(16 * areas / areas.sum(), [4.5, 7.0, 4.5], rtol=1e-5)


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(1, 39), st.integers(1, 39)), min_size=2, max_size=12, unique=True))
def test_the_areas_fill_the_outline(points: list[tuple[int, int]]) -> None:
    places = np.array(points) / 10_000
    areas = thiessen_areas(places[:, 0], places[:, 1], SQUARE)
    whole = np.prod(project(np.array([0.004]), np.array([0.004]), (0.0, 0.0)))
    assert areas.sum() == pytest.approx(whole, rel=1e-6)
    assert (areas > 0).all()


def test_stations_at_one_place_share_its_area() -> None:
    areas = thiessen_areas(np.array([0.001, 0.001, 0.003]), np.array([0.002, 0.002, 0.002]), SQUARE)
    assert areas[0] == areas[1] == pytest.approx(areas[2] / 2)


def test_stations_on_one_line_have_an_outline_of_their_own() -> None:
    assert (thiessen_areas(np.array([0.001, 0.002, 0.003]), np.zeros(3)) > 0).all()


def test_a_single_place_has_no_share() -> None:
    assert np.isnan(thiessen_areas(np.array([0.001]), np.array([0.001]), SQUARE)).all()


def test_the_order_of_the_stations_changes_nothing_but_the_order() -> None:
    east, north = np.array([0.001, 0.002, 0.003]), np.array([0.001, 0.003, 0.001])
    np.testing.assert_array_equal(
        thiessen_areas(east, north, SQUARE)[::-1], thiessen_areas(east[::-1], north[::-1], SQUARE)
    )


def test_stations_on_both_sides_of_the_180th_meridian_are_near_each_other() -> None:
    here = thiessen_areas(np.array([10.0, 10.1, 10.2]), np.array([50.0, 50.0, 50.1]))
    there = thiessen_areas(np.array([179.95, -179.95, -179.85]), np.array([50.0, 50.0, 50.1]))
    assert there == pytest.approx(here, rel=1e-9)
