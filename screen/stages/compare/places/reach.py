"""The table of the reach. In: a batch on dry weight, its totals. Out: one row per place, layer and substance.

Places are the whole reach, the stations of the site and of the reference, those upstream and downstream of a point, and
each zone. Upstream lies farther from the mouth; a station at the point itself counts as downstream.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Texts, coded, joined, recoded, spread, texts_of
from screen.model import REACH, Batch
from screen.settings import Settings
from screen.stages.compare.places.area_means import StationAreas, StationFigures, area_means, station_figures
from screen.stages.compare.places.observations import Observations, observe
from screen.stages.compare.places.places import LAYERS, summarise_places, surface
from screen.stages.read.field.outline import read_outline

__all__ = ["places_of", "summarise_reach"]

_FIXED = ("all", "site", "reference", "upstream", "downstream")


def summarise_reach(
    batch: Batch, totals: pd.DataFrame, settings: Settings, *, observed: Observations | None = None
) -> pd.DataFrame:
    """Columns REACH, by place (whole reach, site, reference, upstream, downstream, zones), layer, group and substance.

    ``share_of_area_pct`` is the place's share of the area of all stations measured. Raises SettingsError for an outline
    that cannot be used. ``observed`` is what ``observe`` makes of ``batch`` and ``totals``, where that is at hand.
    """
    rows = observed or observe(batch, totals)
    stations = texts_of(batch.samples["station"])
    names = pd.unique(stations[stations != ""])
    station_of = recoded(batch.samples["station"], names)
    areas, figures = _areas(batch, names, settings), _figures(rows, station_of, len(names))
    parts = []
    for labels, place_of in places_of(batch.samples, settings):
        part = summarise_places(rows, place_of)
        if len(part):
            weighted = _weighted(figures, _by_station(place_of, station_of, len(names)), areas)
            parts.append(_beside(part, weighted).assign(place=spread(part["place"].to_numpy(dtype=np.int64), labels)))
    if not parts:
        return pd.DataFrame(columns=REACH)
    every = pd.concat([part.astype({"place": object, "note": object}) for part in parts], ignore_index=True)
    texts = ("place", "layer", "substance", "unit", "method", "note")
    return every.assign(**{name: pd.Categorical(every[name].astype(object)) for name in texts})[REACH]


def places_of(samples: pd.DataFrame, settings: Settings) -> Iterator[tuple[list[str], Codes]]:
    """Groups of places that do not overlap: their names, and the place of each sample (-1 for none)."""
    for name, inside in _fixed_places(samples, settings):
        yield [name], np.where(inside, 0, -1).astype(np.int64)
    zones = sorted(set(texts_of(samples["zone"])) - {""})
    if zones:
        labels = [f"zone {zone}" if zone in _FIXED else zone for zone in zones]
        yield labels, recoded(samples["zone"], zones)


def _fixed_places(samples: pd.DataFrame, settings: Settings) -> Iterator[tuple[str, Flags]]:
    yield "all", np.ones(len(samples), dtype=bool)
    role = texts_of(samples["role"])
    reference = np.asarray(role == "reference", dtype=bool)
    if reference.any():  # with a reference in the batch, what is not said to be one is of the site
        yield "site", ~reference
        yield "reference", reference
    elif (role == "site").any():
        yield "site", np.asarray(role == "site", dtype=bool)
    if settings.at is not None:
        river = samples["river_km"].to_numpy(dtype=float)
        yield "upstream", np.asarray(river > settings.at, dtype=bool)
        yield "downstream", np.asarray(river <= settings.at, dtype=bool)


def _by_station(place_of: Codes, station_of: Codes, stations: int) -> Codes:
    """The place of each station, from those of its samples."""
    found = np.full(stations, -1, dtype=np.int64)
    known = station_of >= 0
    np.maximum.at(found, station_of[known], place_of[known])
    return found


def _areas(batch: Batch, names: Texts, settings: Settings) -> StationAreas:
    samples = batch.samples.assign(station=texts_of(batch.samples["station"])).drop_duplicates("station")
    place = samples.set_index("station").reindex(names)
    known = batch.stations
    given = np.full(len(names), np.nan)
    if "area_m2" in known and len(known):
        by_name = pd.Series(known["area_m2"].to_numpy(dtype=float), index=texts_of(known["station"]))
        given = by_name.reindex(names).to_numpy(dtype=float)
    outline = None if settings.boundary is None else read_outline(settings.boundary)
    return StationAreas(
        place["longitude"].to_numpy(dtype=float), place["latitude"].to_numpy(dtype=float), given, outline
    )


def _figures(rows: Observations, station_of: Codes, stations: int) -> list[StationFigures]:
    """The stations' figures in both layers."""
    known = station_of[rows.sample] >= 0
    top = surface(rows.samples)[rows.sample]
    everything = station_figures(rows.take(known), station_of, stations)
    if top[known].all():
        return [everything, everything]
    return [station_figures(rows.take(known & top), station_of, stations), everything]


def _weighted(figures: list[StationFigures], place_of: Codes, areas: StationAreas) -> pd.DataFrame:
    """Area means of both layers, with the layer's name."""
    layers = [area_means(layer, place_of, areas) for layer in figures]
    return pd.concat([layer.assign(layer=name) for name, layer in zip(LAYERS, layers, strict=True)], ignore_index=True)


def _beside(part: pd.DataFrame, weighted: pd.DataFrame) -> pd.DataFrame:
    keys = ["place", "layer", "measure"]
    found = weighted.set_index(keys).reindex(pd.MultiIndex.from_frame(part[keys].astype({"layer": object})))
    made = part.assign(**{name: found[name].to_numpy(dtype=float) for name in REACH if name in found})
    notes = pd.Series(pd.Categorical(found["area_note"].to_numpy(dtype=object)))
    return made.assign(note=joined([coded(part["note"]), coded(notes)], len(part)))
