"""The map of stations: to scale against a sphere formula; one place, none; names that do not cover each other."""

import math
import re

import pytest

from screen.stages.report.pictures.mapfigure import MapPoint, map_svg

RADIUS_M = 6_371_008.8  # mean radius of the earth (IUGG)


def point(name: str, east: float, north: float, finding: str = "below") -> MapPoint:
    return MapPoint(name, east, north, finding)


def marks(svg: str) -> list[tuple[float, float]]:
    found = re.findall(r'<use href="#m-(?!notch)[^"]+" x="([^"]+)" y="([^"]+)" width="([^"]+)"', svg)
    return [(float(x) + float(wide) / 2, float(y) + float(wide) / 2) for x, y, wide in found]


def bar(svg: str) -> tuple[float, float]:
    """The bar's length on paper and in metres."""
    x1, x2 = re.search(r'class="p-bar" d="M([\d.]+) [\d.]+L([\d.]+) ', svg).groups()  # type: ignore[union-attr]
    figure, unit = re.search(r">([\d.]+) (k?m)</text>", svg).groups()  # type: ignore[union-attr]
    return float(x2) - float(x1), float(figure) * (1000 if unit == "km" else 1)


def great_circle(first: MapPoint, second: MapPoint) -> float:
    """The haversine formula."""
    a, b = math.radians(first.latitude), math.radians(second.latitude)
    turned = math.radians(second.longitude - first.longitude)
    half = math.sin((b - a) / 2) ** 2 + math.cos(a) * math.cos(b) * math.sin(turned / 2) ** 2
    return 2 * RADIUS_M * math.asin(math.sqrt(half))


@pytest.mark.parametrize(("east", "north"), [(-30.4, 45.1), (179.99, -40.0), (12.0, 69.0)])
def test_distances_are_to_the_scale_of_the_bar(east: float, north: float) -> None:
    points = [point("A", east, north), point("B", ((east + 0.05 + 180) % 360) - 180, north + 0.03)]
    svg = str(map_svg("map", points))
    (x1, y1), (x2, y2) = marks(svg)
    paper, metres = bar(svg)
    assert math.hypot(x2 - x1, y2 - y1) / paper * metres == pytest.approx(great_circle(*points), rel=5e-3)


def test_north_is_up_and_east_is_right() -> None:
    (x1, y1), (x2, y2) = marks(str(map_svg("map", [point("A", 10, 50), point("B", 10.1, 50.1)])))
    assert x2 > x1
    assert y2 < y1


def test_one_station_is_a_map_too() -> None:
    svg = str(map_svg("map", [point("A", 10, 50)]))
    assert len(marks(svg)) == 1
    assert "nan" not in svg


def test_stations_without_coordinates_give_no_picture() -> None:
    assert map_svg("map", [point("A", math.nan, 50), point("B", 10, math.nan)]) == ""


def test_names_do_not_cover_each_other() -> None:
    svg = str(map_svg("map", [*(point(f"Station {at}", 10 + at * 1e-6, 50) for at in range(9)), point("Far", 11, 50)]))
    assert len(marks(svg)) == 10
    assert svg.count('class="p-name"') < 10


def test_text_from_outside_is_escaped() -> None:
    assert "<b>" not in map_svg("map", [point("<b>", 10, 50)])


def test_an_outline_is_drawn() -> None:
    ring = [(10.0, 50.0), (10.1, 50.0), (10.1, 50.1), (10.0, 50.0)]
    assert 'class="p-outline"' in map_svg("map", [point("A", 10.05, 50.02)], [[ring]])
