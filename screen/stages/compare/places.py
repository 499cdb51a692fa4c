"""Observations summed up by place and layer. In: observations and the place of each sample. Out: a summary per place.

The layer ``surface`` holds the samples whose top is 0 or not known, ``all`` holds every sample.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, coded, flagged, joined, recoded, spread, texts_of
from screen.stages.compare.observations import Observations
from screen.stages.compare.statistics import Observed, summarise

__all__ = ["LAYERS", "independent_units", "summarise_places", "surface"]

LAYERS = ("surface", "all")


def surface(samples: pd.DataFrame) -> Flags:
    """Which samples are of the surface: their top is 0, or no depth is known."""
    top = samples["depth_top_cm"].to_numpy(dtype=float)
    return np.asarray(np.isnan(top) | (top == 0), dtype=bool)


def independent_units(samples: pd.DataFrame) -> Codes:
    """A number for each sample that the intervals of one core share."""
    cores = texts_of(samples["core"])
    numbers = np.arange(len(samples))
    codes = recoded(samples["core"], pd.unique(cores[cores != ""]))
    return np.where(codes < 0, numbers, len(samples) + codes)


def summarise_places(rows: Observations, place_of: Codes) -> pd.DataFrame:
    """One row per place, layer and measure, in that order, with the columns of ``statistics.summarise``.

    ``place_of`` numbers the place of each sample (from 0, in the order wanted; -1 for none). Further columns: ``place``
    and ``measure`` (their numbers), ``layer``, ``substance``, ``unit``.
    """
    place = place_of[rows.sample]
    on_surface = surface(rows.samples)[rows.sample]
    everything = _one_layer(rows, place, place >= 0)
    top = everything if on_surface[place >= 0].all() else _one_layer(rows, place, (place >= 0) & on_surface)
    both = pd.concat([top.assign(_layer=0), everything.assign(_layer=1)], ignore_index=True)
    order = np.lexsort((both["measure"], both["_layer"], both["place"]))
    both = both.iloc[order].reset_index(drop=True)
    both["layer"] = spread(both.pop("_layer").to_numpy(dtype=np.int64), LAYERS)
    measure = both["measure"].to_numpy(dtype=np.int64)
    for name in ("substance", "unit"):
        both[name] = spread(measure, rows.measures[name].to_numpy(dtype=object))
    return both


def _one_layer(rows: Observations, place: Codes, chosen: Flags) -> pd.DataFrame:
    width = max(len(rows.measures), 1)
    here = rows.take(chosen)
    group, keys = pd.factorize(place[chosen] * width + here.measure, sort=True)
    units = independent_units(rows.samples)[here.sample]
    observed = Observed(group, here.value, here.low, here.high, here.detected, units, len(keys))
    made = summarise(observed)
    measure = (keys % width).astype(np.int64)
    rules = [f"sums by the rule {rule}" if rule else "" for rule in rows.measures["rule"]]
    partial = np.bincount(group, here.partial, len(keys)) > 0
    made["method"] = joined([coded(made["method"]), (measure, rules)], len(made))
    made["note"] = joined([coded(made["note"]), flagged(partial, "some of the sums lack members")], len(made))
    made.insert(0, "place", keys // width)
    made.insert(1, "measure", measure)
    return made
