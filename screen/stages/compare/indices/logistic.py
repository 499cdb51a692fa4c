"""Probability of toxicity by logistic regression: in go results and totals, out come p by substance and the maximum.

p = 1 / (1 + exp(-(B0 + B1 log10 C))) (Field et al. 2002, Environ. Toxicol. Chem. 21:1993-2005). The coefficients are
data in `guidelines/coefficients/logistic.csv`; only rows that its column ``use`` switches on are taken. None is, until
they are read in a source: `guidelines/coefficients/indices.toml` says why, and the report repeats it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import Floats
from screen.reference.locate import read_table
from screen.stages.compare.findings.source import Source
from screen.stages.compare.indices.figures import figures_of, first_complete
from screen.stages.compare.indices.index_rows import IndexRows, weakest

__all__ = ["logistic", "probability"]


def probability(figure: Floats, b0: float, b1: float) -> Floats:
    """The modelled probability at concentrations ``figure`` (> 0, in the unit of the model); NaN at 0 and below."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(figure > 0, 1.0 / (1.0 + np.exp(-(b0 + b1 * np.log10(figure)))), np.nan)


def logistic(source: Source, table: pd.DataFrame | None = None) -> list[IndexRows]:
    """One block for each model and substance that is switched on, and one of each model's maximum.

    ``table`` stands for the coefficients (text columns of `logistic.csv`). A substance not detected has no value: it
    is 0 in ``low`` and at its limit in ``high``, and no probability is made of it alone.
    """
    own = read_table("coefficients/logistic.csv") if table is None else table
    own = own[own["use"] == "true"]
    blocks: list[IndexRows] = []
    for model, rows in own.groupby("model", sort=False):
        blocks += _one(source, str(model), rows)
    return blocks


def _one(source: Source, model: str, table: pd.DataFrame) -> list[IndexRows]:
    count = len(source.samples)
    value, low, high = (np.full((count, len(table)), np.nan) for _ in range(3))
    blocks = []
    for place, row in enumerate(table.to_dict("records")):
        b0, b1 = float(row["b0"]), float(row["b1"])
        figures = _figures(source, str(row["substance"]), str(row["totals"]))
        value[:, place], high[:, place] = (probability(one, b0, b1) for one in (figures[0], figures[2]))
        low[:, place] = np.where(figures[1] == 0, 0.0, probability(figures[1], b0, b1))
        on = np.flatnonzero(~np.isnan(value[:, place]))
        if len(on):
            blocks.append(
                IndexRows(
                    on,
                    "logistic-p",
                    str(row["substance"]),
                    value[on, place],
                    low[on, place],
                    high[on, place],
                    "1",
                    f"{model}: {row['source']}",
                    str(row["substance"]),
                    "",
                    evidence=str(row["evidence"]),
                )
            )
    on = np.flatnonzero((~np.isnan(value)).any(axis=1))
    if len(on):
        few = value[on]
        names = table["substance"].to_numpy(dtype=object)
        measured = (~np.isnan(low[on])).sum(axis=1)
        blocks.append(
            IndexRows(
                on,
                "logistic-pmax",
                "",
                np.nanmax(few, axis=1),
                np.nanmax(np.where(np.isnan(low[on]), -np.inf, low[on]), axis=1),
                np.nanmax(np.where(np.isnan(high[on]), -np.inf, high[on]), axis=1),
                "1",
                f"{model}: {table['source'].iloc[0]}",
                names[np.nanargmax(few, axis=1)],
                np.array([f"{one} of {len(names)} substances of the model measured" for one in measured], dtype=object),
                classify=np.full(len(on), (table["classes"] == "true").all()),
                evidence=weakest(table["evidence"]),
            )
        )
    return blocks


def _figures(source: Source, substance: str, totals: str) -> tuple[Floats, Floats, Floats]:
    """Value, low and high of every sample for a substance, or for the first complete one of some totals."""
    if not totals:
        found = figures_of(source, [substance])
        return found.value[:, 0], found.low[:, 0], found.high[:, 0]
    rows = first_complete(source, totals.split(";"))
    out = tuple(np.full(len(source.samples), np.nan) for _ in range(3))
    for column, figures in zip(out, (source.totals.value, source.totals.low, source.totals.high), strict=True):
        column[source.totals.sample[rows]] = figures[rows]
    return out[0], out[1], out[2]
