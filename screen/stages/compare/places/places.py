"""Observations summed up by place and layer. In: observations and the place of each sample. Out: a summary per place.

The layer ``surface`` holds the samples whose top is 0 or not known, ``all`` holds every sample.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, coded, flagged, joined, recoded, spread, stacked, texts_of
from screen.stages.compare.places.observations import Observations
from screen.stages.compare.places.statistics import Observed, summarise

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
    """One row per place and measure, a block of measures at a time: the memory needed does not grow with the batch."""
    made = [_one_block(rows.take(here), place[here]) for here in _blocks(rows.measure, chosen, len(rows.measures))]
    if len(made) == 1:
        return made[0]
    texts = [str(name) for name in made[0] if isinstance(made[0][name].dtype, pd.CategoricalDtype)]
    whole = pd.concat([part.drop(columns=texts) for part in made], ignore_index=True)
    stacks = {name: spread(*stacked([coded(part[name]) for part in made])) for name in texts}
    return whole.assign(**stacks)[list(made[0])]


def _blocks(measure: Codes, chosen: Flags, measures: int) -> list[Flags | Codes]:
    """The chosen rows in blocks of whole measures, each of about ROWS."""
    counts = np.bincount(measure[chosen], minlength=max(measures, 1))
    block = (np.cumsum(counts) - counts) // ROWS
    if not block.any():
        return [chosen]
    return [np.flatnonzero(chosen & (block[measure] == one)) for one in np.unique(block)]


#: Observations summed up at a time.
ROWS = 1 << 21


def _one_block(here: Observations, place: Codes) -> pd.DataFrame:
    width = max(len(here.measures), 1)
    group, keys = pd.factorize(place * width + here.measure, sort=True)
    units = independent_units(here.samples)[here.sample]
    observed = Observed(group, here.value, here.low, here.high, here.detected, units, len(keys))
    made = summarise(observed)
    measure = (keys % width).astype(np.int64)
    rules = [f"sums by the rule {rule}" if rule else "" for rule in here.measures["rule"]]
    partial = np.bincount(group, here.partial, len(keys)) > 0
    made["method"] = joined([coded(made["method"]), (measure, rules)], len(made))
    made["note"] = joined([coded(made["note"]), flagged(partial, "some of the sums lack members")], len(made))
    made.insert(0, "place", keys // width)
    made.insert(1, "measure", measure)
    return made
