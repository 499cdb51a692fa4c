"""The table of stations. In: a batch on dry weight and its totals. Out: one row per station, layer and substance."""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import recoded, spread, texts_of
from screen.model import STATIONS, Batch
from screen.stages.compare.places.observations import Observations, observe
from screen.stages.compare.places.places import summarise_places

__all__ = ["station_order", "summarise_stations"]


def summarise_stations(batch: Batch, totals: pd.DataFrame, *, observed: Observations | None = None) -> pd.DataFrame:
    """Columns STATIONS, by river_km (missing last), station, layer, group and substance; field duplicates are one.

    A station's mean is arithmetic without non-detects, else Kaplan-Meier where its conditions hold; the reasons for an
    empty figure stand in ``note``, how a figure was made in ``method``. ``observed`` is what ``observe`` makes of both,
    where that is at hand.
    """
    rows = observed or observe(batch, totals)
    order = station_order(batch.samples)
    table = summarise_places(rows, recoded(batch.samples["station"], order["station"].to_numpy()))
    place = table["place"].to_numpy(dtype=np.int64)
    for name in ("station", "role"):
        table[name] = spread(place, order[name].to_numpy(dtype=object))
    table["river_km"] = order["river_km"].to_numpy(dtype=float)[place]
    return table[STATIONS]


def station_order(samples: pd.DataFrame) -> pd.DataFrame:
    """The stations of the samples with role and river_km, upwards from the mouth, those of unknown place last."""
    about = pd.DataFrame(
        {
            "station": texts_of(samples["station"]),
            "role": texts_of(samples["role"]),
            "river_km": samples["river_km"].to_numpy(dtype=float),
        }
    )
    about = about[about["station"] != ""].drop_duplicates("station")
    return about.sort_values(["river_km", "station"], na_position="last", kind="stable", ignore_index=True)
