"""Theoretical bioaccumulation potential: in go results, totals and organic carbon, out come rows of indices.

Factors, with source and lipid, are data (`guidelines/coefficients/tissue.csv`). Context only: never advice on eating.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import Codes, Floats, texts_of
from screen.reference.locate import read_table
from screen.reference.substances import describe
from screen.stages.compare.findings.source import Source
from screen.stages.compare.indices.figures import figures_of, first_complete
from screen.stages.compare.indices.index_rows import IndexRows
from screen.stages.compare.indices.mixtures import LEAST_CARBON_PCT

__all__ = ["tissue_potential"]

#: Samples, value, low, high (empty where the upper end is open) and what the figure is, of what was detected.
_Found = tuple[Codes, Floats, Floats, Floats, np.ndarray]


def tissue_potential(source: Source, carbon: Floats, table: pd.DataFrame | None = None) -> list[IndexRows]:
    """BSAF x (C / foc) x lipid fraction of detected totals and single substances, per wet weight: context only.

    One row for each factor that is held for a substance; the note names it. ``table`` stands for the factors (text
    columns of `tissue.csv`).
    """
    table = read_table("coefficients/tissue.csv") if table is None else table
    blocks = []
    for row in table.to_dict("records"):
        name = str(row["substance"])
        ids = [one for one in str(row["totals"]).split(";") if one]
        sample, value, low, high, members = _of_total(source, ids) if ids else _single(source, name)
        on = (carbon[sample] >= LEAST_CARBON_PCT) & ~np.isnan(value)
        sample = sample[on]
        if not len(sample):
            continue
        unit = str(source.rules.totals.loc[ids[0], "unit"] if ids else describe([name])["unit"].iloc[0])
        by = float(row["bsaf"]) * float(row["lipid_pct"]) / carbon[sample]
        blocks.append(
            IndexRows(
                sample,
                "tissue-potential",
                name,
                value[on] * by,
                low[on] * by,
                high[on] * by,
                f"{unit} wet weight",
                str(row["source"]),
                members[on],
                f"BSAF {row['bsaf']} ({row['note']}), lipid {row['lipid_pct']} %: not advice on eating fish",
                evidence=str(row["evidence"]),
            )
        )
    return blocks


def _of_total(source: Source, ids: list[str]) -> _Found:
    chosen = first_complete(source, ids)
    few = source.table.iloc[chosen]
    value, low, high = (few[name].to_numpy(dtype=np.float64) for name in ("value", "low", "high"))
    high = np.where(few["complete"].to_numpy(dtype=bool), high, np.nan)
    return source.totals.sample[chosen], value, low, high, texts_of(few["total"])


def _single(source: Source, name: str) -> _Found:
    figures = figures_of(source, [name])
    on = np.flatnonzero(figures.detected[:, 0])
    value, low, high = (one[on, 0] for one in (figures.value, figures.low, figures.high))
    return on, value, low, high, np.full(len(on), name, dtype=object)
