"""Whether surface figures rise or fall along the river. In: observations, stations. Out: one row per substance.

Kendall's tau of the distance from the mouth and the stations' figures, non-detects by their bounds. A station counts
once, by the mean of its surface results; reference stations are no part of it. Below 8 stations no claim is made.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import recoded, spread, texts_of
from screen.model import TRENDS, Batch
from screen.settings import Settings
from screen.stages.compare.places.area_means import station_figures
from screen.stages.compare.places.kendall import kendall, spearman
from screen.stages.compare.places.observations import Observations, observe
from screen.stages.compare.places.places import surface
from screen.stages.compare.places.rank_tests import SIGNIFICANT, holm
from screen.stages.compare.places.stations import station_order

__all__ = ["LEAST_DETECTED", "LEAST_STATIONS", "along_the_river"]

#: Stations that a trend needs, and those of them with a detected value (our choice; the normal deviate of Kendall's
#: score is close from about 8 on).
LEAST_STATIONS = 8
LEAST_DETECTED = 4
_ASSUMED = (
    "assumes independent stations and limits that do not go with the distance; neighbours that are alike make p too "
    "small"
)
_FEW = f"no test: fewer than {LEAST_STATIONS} stations with a river km"
_NONE = f"no test: fewer than {LEAST_DETECTED} stations with a detected value"
_ALIKE = "no test: no two stations can be told apart"


def along_the_river(
    batch: Batch, totals: pd.DataFrame, settings: Settings, *, observed: Observations | None = None
) -> pd.DataFrame:
    """Columns TRENDS, in the order of substances; empty where no station has a river_km.

    ``tau`` and ``rho`` are above 0 where figures rise away from the mouth; ``p`` is two-sided, ``p_holm`` adjusted by
    Holm (1979) for all substances, and ``outcome`` goes by it: ``higher upstream``, ``higher downstream``, ``no trend
    shown`` or ``too few``.
    """
    rows = observed or observe(batch, totals)
    order = station_order(batch.samples)
    order = order[order["river_km"].notna() & (order["role"] != "reference")]
    km = order["river_km"].to_numpy(dtype=float)
    station_of = recoded(batch.samples["station"], order["station"].to_numpy())
    chosen = surface(rows.samples)[rows.sample] & (station_of[rows.sample] >= 0)
    figures = station_figures(rows.take(chosen), station_of, len(order))
    known = ~((figures.low == 0) & np.isnan(figures.high))  # nothing at all is known of the others
    measure, low, high = figures.measure[known], figures.low[known], figures.high[known]
    place = km[figures.station[known]]
    told = [
        {"measure": measure[part[0]]} | _trend(place[part], low[part], high[part])
        for part in np.split(np.arange(len(measure)), np.flatnonzero(np.diff(measure)) + 1)
        if len(part)
    ]
    table = pd.DataFrame(told, columns=["measure", *TRENDS])
    return _finished(table, rows.measures)


def _trend(km: np.ndarray, low: np.ndarray, high: np.ndarray) -> dict[str, object]:
    detects = int((low > 0).sum())
    row: dict[str, object] = {"n": len(km), "detects": detects, "km_low": km.min(), "km_high": km.max(), "sided": "two"}
    if len(km) < LEAST_STATIONS or detects < LEAST_DETECTED:
        return row | {"note": _FEW if len(km) < LEAST_STATIONS else _NONE}
    found = kendall(km, low, high)
    if np.isnan(found.p):
        return row | {"note": _ALIKE}
    open_ = "pairs that non-detects leave open are tied; " if (low < high).any() or np.isnan(high).any() else ""
    rho = spearman(km, low, high)
    figures = {"tau": found.tau, "rho": rho, "statistic": found.score, "p": found.p}
    return row | figures | {"test": "Kendall", "note": open_ + _ASSUMED}


def _finished(table: pd.DataFrame, measures: pd.DataFrame) -> pd.DataFrame:
    measure = table["measure"].to_numpy(dtype=np.int64)
    rules = [f"sums by the rule {rule}; " if rule else "" for rule in measures["rule"]]
    tau, p = table["tau"].to_numpy(dtype=float), table["p"].to_numpy(dtype=float)
    adjusted = holm(p)
    shown = adjusted < SIGNIFICANT
    words = ("too few", "no trend shown", "higher upstream", "higher downstream")
    outcome = np.select([np.isnan(p), ~shown, tau > 0], [0, 1, 2], 3)
    notes = [rules[at] + note for at, note in zip(measure, texts_of(table["note"]), strict=True)]
    every = np.arange(len(table))
    numbers = dict.fromkeys(("tau", "rho", "statistic", "p", "km_low", "km_high"), np.float64)
    return table.astype(numbers | {"n": np.int64, "detects": np.int64}).assign(
        layer=pd.Categorical(["surface"] * len(table)),
        substance=spread(measure, measures["substance"].to_numpy(dtype=object)),
        test=spread(every, texts_of(table["test"])),
        sided=spread(every, texts_of(table["sided"])),
        p_holm=adjusted,
        outcome=spread(outcome.astype(np.int64), words),
        note=spread(every, notes),
    )[TRENDS]
