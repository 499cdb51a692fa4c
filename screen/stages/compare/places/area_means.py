"""Means weighted by area. In: observations, stations with coordinates or areas. Out: area means per place and measure.

A station's figure is the mean of its samples; non-detects count half their limit, and the bounds take them as 0 and at
the limit. Weights are the areas that the field record gives, else Thiessen polygons of the stations that were measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import Codes, Flags, Floats
from screen.stages.compare.findings.half_limits import at_half_limit
from screen.stages.compare.places.areas import shapely_missing, thiessen_areas
from screen.stages.compare.places.observations import Observations
from screen.stages.read.field.outline import Polygon

__all__ = ["StationAreas", "StationFigures", "area_means", "station_figures"]

#: Above this number of stations no polygons are drawn; the areas can be given in the field record.
MOST_STATIONS = 5000


@dataclass
class StationAreas:
    """The stations (one entry each) and the ways to their areas. ``outline`` is None where the user gives none."""

    longitude: Floats
    latitude: Floats
    given: Floats
    outline: Sequence[Polygon] | None

    def __post_init__(self) -> None:
        """Make room for what has been worked out."""
        self._known: dict[bytes, tuple[Floats, str]] = {}
        self._missing = shapely_missing()

    def of(self, stations: Codes) -> tuple[Floats, str]:
        """Areas in m2 of these stations (NaN where one has none), and in words where they come from or why not."""
        key = stations.tobytes()
        if key not in self._known:
            self._known[key] = self._find(stations)
        return self._known[key]

    def _find(self, stations: Codes) -> tuple[Floats, str]:
        given = self.given[stations]
        if not np.isnan(given).any():
            return given, "areas as given in the field record"
        areas = np.full(len(stations), np.nan)
        placed = ~np.isnan(self.longitude[stations]) & ~np.isnan(self.latitude[stations])
        here = stations[placed]
        if len(np.unique(np.column_stack([self.longitude[here], self.latitude[here]]), axis=0)) < 2:
            return areas, "fewer than two stations with coordinates: no area mean"
        if self._missing:
            return areas, "no area mean: Thiessen polygons need the library Shapely"
        if len(here) > MOST_STATIONS:
            return areas, "too many stations for Thiessen polygons: give areas in the field record"
        areas[placed] = thiessen_areas(self.longitude[here], self.latitude[here], self.outline)
        words = "the stations' own outline" if self.outline is None else "the outline given"
        left_out = f", {int((~placed).sum())} stations without coordinates left out" if not placed.all() else ""
        return areas, f"area mean over Thiessen polygons within {words}{left_out}"


@dataclass(frozen=True, slots=True)
class StationFigures:
    """The figures of each station and measure, by measure: non-detects at half their limit, at 0 and at the limit."""

    measure: Codes
    station: Codes
    half: Floats
    low: Floats
    high: Floats
    censored: Flags


def station_figures(rows: Observations, station_of: Codes, stations: int) -> StationFigures:
    """Mean figures of each station; ``station_of`` numbers the station of each sample, up to ``stations``."""
    station = station_of[rows.sample]
    group, keys = pd.factorize(rows.measure * max(stations, 1) + station, sort=True)
    number = np.bincount(group, minlength=len(keys))
    half = np.where(np.isnan(rows.high), np.nan, at_half_limit(rows.value, rows.low, rows.high))
    return StationFigures(
        np.asarray(keys // max(stations, 1), dtype=np.int64),
        np.asarray(keys % max(stations, 1), dtype=np.int64),
        _mean(group, half, number),
        _mean(group, rows.low, number),
        _mean(group, rows.high, number),
        np.asarray(np.bincount(group, np.isnan(rows.value), len(keys)) > 0, dtype=bool),
    )


def area_means(figures: StationFigures, place_of: Codes, areas: StationAreas) -> pd.DataFrame:
    """One row per place and measure: share_of_area_pct, area_mean, area_mean_low, area_mean_high and area_note.

    ``place_of`` numbers the place of each station (-1 for none). The share is that of the place in the area of all
    stations that were measured for the substance.
    """
    measure = figures.measure
    starts = np.flatnonzero(np.append(True, measure[1:] != measure[:-1])[: len(measure)])
    blocks: list[_Block] = []
    for start, end in zip(starts, np.append(starts, len(measure))[1:], strict=True):
        part = slice(int(start), int(end))
        columns = [figures.half[part], figures.low[part], figures.high[part]]
        at, censored = figures.station[part], figures.censored[part]
        blocks.append(_one_measure(int(measure[start]), at, columns, censored, place_of, areas))
    return pd.DataFrame(_together(blocks))


_Block = dict[str, npt.NDArray[Any]]
_COLUMNS = ("measure", "place", "share_of_area_pct", "area_mean", "area_mean_low", "area_mean_high", "area_note")


def _together(blocks: Sequence[_Block]) -> _Block:
    return {name: np.concatenate([block[name] for block in blocks] or [np.empty(0)]) for name in _COLUMNS}


def _mean(group: Codes, figures: Floats, number: Codes) -> Floats:
    order = np.argsort(figures, kind="stable")
    return np.asarray(np.bincount(group[order], figures[order], len(number)) / number, dtype=np.float64)


def _one_measure(
    measure: int, stations: Codes, figures: Sequence[Floats], censored: Flags, place_of: Codes, areas: StationAreas
) -> _Block:
    weight, words = areas.of(stations)
    place = place_of[stations]
    places = np.unique(place[place >= 0])
    size = int(places.max(initial=-1)) + 1
    weighed = ~np.isnan(weight) & (place >= 0)
    inside, at = weight[weighed], place[weighed]
    whole = np.bincount(at, inside, size)
    with np.errstate(invalid="ignore", divide="ignore"):
        means = [np.bincount(at, inside * column[weighed], size) / whole for column in figures]
        share = 100 * whole / np.nansum(weight)
        largest = np.zeros(size)
        np.maximum.at(largest, at, inside)
        largest = 100 * largest / whole
    some = np.bincount(at, censored[weighed], size) > 0
    notes = [
        words
        + ("; the area mean takes non-detects at half their limit" if some[one] and whole[one] > 0 else "")
        + (f"; one station holds {largest[one]:.0f} % of the area" if whole[one] > 0 else "")
        for one in places
    ]
    shares = np.where(whole > 0, share, np.nan)
    columns = [np.full(len(places), measure), places, shares[places], *(mean[places] for mean in means)]
    return dict(zip(_COLUMNS, [*columns, np.array(notes, dtype=object)], strict=True))
