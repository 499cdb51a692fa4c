"""A map of stations as SVG, from their coordinates alone. In: points in WGS 84 degrees. Out: a picture without tiles.

North is up; the scale bar holds in every direction near the middle, since the projection is the one that areas are
measured in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from screen.columns import texts_of
from screen.stages.compare.places.areas import middle_of, project
from screen.stages.read.field.outline import Polygon
from screen.stages.report.facts import Facts
from screen.stages.report.marks import use, word
from screen.stages.report.numbers import counted, given, listed
from screen.stages.report.pictures.drawing import box, line, short, svg, text

__all__ = ["MapPoint", "map_points", "map_svg"]

#: Drawn near the size at which it is seen on a phone and in print, so that names keep theirs.
_WIDTH, _EDGE, _FOOT = 360.0, 24.0, 40.0
_LEAST_HEIGHT, _MOST_HEIGHT = 180.0, 420.0
#: A map of one place shows this much around it, m.
_AROUND = 500.0
#: Where a name may stand about its mark: shift right, shift down, anchor.
_SEATS = ((9.0, 4.0, "start"), (-9.0, 4.0, "end"), (0.0, -10.0, "middle"), (0.0, 18.0, "middle"))
_LETTER, _LINE, _MARK = 6.6, 11.0, 14.0


@dataclass(frozen=True, slots=True)
class MapPoint:
    """A station: its place, its gravest finding (of FINDING_ORDER), and whether it is a reference."""

    name: str
    longitude: float
    latitude: float
    finding: str
    unsettled: bool = False
    reference: bool = False
    cause: str = ""

    @property
    def word(self) -> str:
        """The word of its gravest finding."""
        return word(self.finding, unsettled=self.unsettled, cause=self.cause)


def map_points(facts: Facts) -> list[MapPoint]:
    """The stations of the batch that have coordinates and findings, in the tables' order."""
    stations = facts.run.batch.stations
    if not {"latitude", "longitude"} <= set(stations.columns):
        return []
    columns = zip(texts_of(stations["station"]), stations["longitude"], stations["latitude"], strict=True)
    where = {name: (float(east), float(north)) for name, east, north in columns}
    points = [
        MapPoint(
            place.station,
            *where.get(place.station, (math.nan, math.nan)),
            place.worst.finding,
            place.worst.unsettled,
            place.role == "reference",
            place.worst.cause,
        )
        for place in facts.places
    ]
    return [one for one in points if math.isfinite(one.longitude) and math.isfinite(one.latitude)]


def map_svg(identity: str, points: Sequence[MapPoint], outline: Sequence[Polygon] | None = None) -> Markup:
    """The stations, with scale bar and north arrow; empty where no station has coordinates.

    ``outline`` is drawn under them. Names that would cover another name or mark are left out: the table beside the
    picture has them all.
    """
    placed = [one for one in points if math.isfinite(one.longitude) and math.isfinite(one.latitude)]
    if not placed:
        return Markup("")
    middle = middle_of(np.array([one.longitude for one in placed]), np.array([one.latitude for one in placed]))
    rings = [[_metres(ring, middle) for ring in polygon] for polygon in outline or ()]
    spots = _metres([(one.longitude, one.latitude) for one in placed], middle)
    frame = _Frame.around([*spots, *(spot for polygon in rings for ring in polygon for spot in ring)])
    parts = [box(1, 1, _WIDTH - 2, frame.height - 2, "p-frame")]
    parts += [_ring([frame(spot) for spot in ring]) for polygon in rings for ring in polygon]
    at = [frame(spot) for spot in spots]
    taken = [(x - _MARK / 2, y - _MARK / 2, x + _MARK / 2, y + _MARK / 2) for x, y in at]
    for one, (x, y) in zip(placed, at, strict=True):
        if one.reference:
            parts.append(box(x - 10, y - 10, 20, 20, "p-reference"))
        parts.append(use(one.finding, unsettled=one.unsettled, x=x, y=y, size=_MARK))
    for number in sorted(range(len(placed)), key=lambda at: (placed[at].finding in ("below", "not-assessed"), at)):
        off = 4.0 if placed[number].reference else 0.0
        parts += _name(short(placed[number].name, 14), at[number], off, taken, number, frame.height)
    parts += [*_north(), *_scale_bar(frame)]
    return svg(identity, "The stations on a map", _description(placed), _WIDTH, frame.height, parts)


@dataclass(frozen=True, slots=True)
class _Frame:
    """From metres to the paper: the same scale both ways, north up."""

    west: float
    north: float
    scale: float
    left: float
    top: float
    height: float

    @classmethod
    def around(cls, spots: Sequence[tuple[float, float]]) -> _Frame:
        """A frame that holds all spots."""
        east, up = [x for x, _ in spots], [y for _, y in spots]
        wide, high = max(east) - min(east), max(up) - min(up)
        if wide == 0 and high == 0:
            wide = 2 * _AROUND
        inner = _WIDTH - 2 * _EDGE
        scale = min(inner / wide if wide else math.inf, (_MOST_HEIGHT - 2 * _EDGE - _FOOT) / high if high else math.inf)
        height = min(_MOST_HEIGHT, max(_LEAST_HEIGHT, high * scale + 2 * _EDGE + _FOOT))
        left = (_WIDTH - (max(east) - min(east)) * scale) / 2
        top = (height - _FOOT - high * scale) / 2
        return cls(min(east), max(up), scale, left, top, height)

    def __call__(self, spot: tuple[float, float]) -> tuple[float, float]:
        """Where a spot is drawn."""
        return self.left + (spot[0] - self.west) * self.scale, self.top + (self.north - spot[1]) * self.scale


def _metres(ring: Sequence[tuple[float, float]], middle: tuple[float, float]) -> list[tuple[float, float]]:
    points = np.asarray(ring, dtype=np.float64)
    east, north = project(points[:, 0], points[:, 1], middle)
    return list(zip(east.tolist(), north.tolist(), strict=True))


def _ring(spots: Sequence[tuple[float, float]]) -> Markup:
    path = "L".join(f"{x:.1f} {y:.1f}" for x, y in spots)
    return Markup('<path class="p-outline" d="M{}Z"/>').format(path)


def _name(
    words: str,
    at: tuple[float, float],
    off: float,
    taken: list[tuple[float, float, float, float]],
    own: int,
    height: float,
) -> list[Markup]:
    """The name beside its mark, ``off`` further away, on the first seat that is free; none where all are taken."""
    x, y = at
    wide = _LETTER * len(words)
    for way, drop, anchor in _SEATS:
        right = way + math.copysign(off, way) if way else 0.0
        down = drop if way else drop + math.copysign(off, drop)
        left = x + right - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        seat = (left, y + down - _LINE + 2, left + wide, y + down + 2)
        inside = seat[0] > 2 and seat[2] < _WIDTH - 2 and seat[1] > 2 and seat[3] < height - _FOOT
        others = (one for number, one in enumerate(taken) if number != own)
        if inside and all(
            seat[2] <= one[0] or one[2] <= seat[0] or seat[3] <= one[1] or one[3] <= seat[1] for one in others
        ):
            taken.append(seat)
            return [text(x + right, y + down, words, "p-name", anchor)]
    return []


def _north() -> list[Markup]:
    x = _WIDTH - 24
    return [
        Markup('<path class="p-north" d="M{} 40L{} 16L{} 40L{} 34Z"/>').format(
            *(f"{v:g}" for v in (x - 6, x, x + 6, x))
        ),
        text(x, 13, "N", "p-end", "middle"),
    ]


def _scale_bar(frame: _Frame) -> list[Markup]:
    """A bar of a round length, about a fifth of the picture wide."""
    rough = _WIDTH / 4 / frame.scale
    power = 10.0 ** math.floor(math.log10(rough))
    length = next(step for step in (5 * power, 2 * power, power) if step <= rough)
    wide, y = length * frame.scale, frame.height - 22
    words = f"{length / 1000:g} km" if length >= 1000 else f"{length:g} m"
    return [
        line(_EDGE, y, _EDGE + wide, y, "p-bar"),
        line(_EDGE, y - 4, _EDGE, y + 4, "p-axis"),
        line(_EDGE + wide, y - 4, _EDGE + wide, y + 4, "p-axis"),
        text(_EDGE + wide + 8, y + 4, words, "p-tick"),
    ]


def _description(points: Sequence[MapPoint]) -> str:
    groups: dict[str, list[str]] = {}
    for one in points:
        groups.setdefault(one.word, []).append(one.name)
    south, north = min(one.latitude for one in points), max(one.latitude for one in points)
    said = "; ".join(f"{found}: {listed(names, 12)}" for found, names in groups.items())
    between = f"between latitudes {given(round(south, 4))} and {given(round(north, 4))}"
    return f"{counted(len(points), 'station')} {between}; {said}."
