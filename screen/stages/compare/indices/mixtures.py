"""Indices of a few substances beside each other: extracted metals minus sulfide, ratios of PAHs.

In go results, totals and the organic carbon of each sample; out come blocks of rows. Coefficients are data in
`guidelines/coefficients/`.
"""

from __future__ import annotations

import numpy as np

from screen.columns import Floats, first_rows
from screen.reference.locate import read_table
from screen.stages.compare.findings.source import Source
from screen.stages.compare.indices.figures import figures_of
from screen.stages.compare.indices.index_rows import IndexRows

__all__ = ["LEAST_CARBON_PCT", "pah_ratios", "sem_minus_avs"]

#: Below this much organic carbon nothing is divided by it (EPA 2003 and 2005; from memory).
LEAST_CARBON_PCT = 0.2


def pah_ratios(source: Source) -> list[IndexRows]:
    """Ratios first / (first + second) of pairs of PAHs that are both detected; shown all, never one verdict."""
    table = read_table("coefficients/pah_ratios.csv")
    blocks = []
    for row in table.to_dict("records"):
        both = figures_of(source, [row["first"], row["second"]])
        value = both.value[:, 0] / (both.value[:, 0] + both.value[:, 1])
        on = np.flatnonzero(both.detected.all(axis=1) & ~np.isnan(value))
        if len(on):
            blocks.append(
                IndexRows(
                    on,
                    str(row["index"]),
                    "",
                    value[on],
                    value[on],
                    value[on],
                    "1",
                    str(row["source"]),
                    f"{row['first']};{row['second']}",
                    "ratios shift with weathering; read them together",
                )
            )
    return blocks


def sem_minus_avs(source: Source, carbon: Floats) -> list[IndexRows]:
    """Simultaneously extracted metals minus acid volatile sulfide, in umol/g, and the same per gram of organic carbon.

    Metals and sulfide not detected count as 0 in the value, in full in the bounds.
    """
    rows = source.totals.rows(source.total_ids["sem"]) if "sem" in source.total_ids else np.array([], dtype=np.int64)
    rows = rows[first_rows(source.totals.sample[rows])]
    if not len(rows):
        return []
    sample = source.totals.sample[rows]
    few = source.table.iloc[rows]
    sulfide = figures_of(source, ["Acid volatile sulfide"])
    on = sulfide.measured[sample, 0]
    sample, few = sample[on], few[on]
    if not len(sample):
        return []
    avs, avs_low, avs_high = sulfide.value[sample, 0], sulfide.low[sample, 0], sulfide.high[sample, 0]
    low, high = few["low"].to_numpy(dtype=np.float64), few["high"].to_numpy(dtype=np.float64)
    value = few["value"].fillna(few["low"]).to_numpy(dtype=np.float64) - np.where(np.isnan(avs), avs_low, avs)
    partial = ~few["complete"].to_numpy(dtype=bool)
    bounds = low - avs_high, np.where(partial, np.nan, high - avs_low)
    members = [f"{measured} of {listed}" for measured, listed in zip(few["measured"], few["members"], strict=True)]
    notes = np.where(partial, "not all metals measured: a lower estimate", "").astype(object)
    little = np.where(np.isnan(avs), avs_high, avs) < 0.1
    notes[little] = [
        f"{note + '; ' if note else ''}AVS below 0.1 umol/g: at or below 0 says nothing" for note in notes[little]
    ]
    blocks = [
        IndexRows(
            sample,
            "sem-minus-avs",
            "",
            value,
            bounds[0],
            bounds[1],
            "umol/g",
            "U.S. EPA 2005, EPA-600-R-02-011",
            np.array(members, dtype=object),
            notes,
            classify=~(little & (value <= 0)),
        )
    ]
    with_carbon = np.flatnonzero(carbon[sample] >= LEAST_CARBON_PCT)
    if len(with_carbon):
        by = 100.0 / carbon[sample[with_carbon]]
        blocks.append(
            IndexRows(
                sample[with_carbon],
                "sem-minus-avs-oc",
                "",
                value[with_carbon] * by,
                bounds[0][with_carbon] * by,
                bounds[1][with_carbon] * by,
                "umol/g OC",
                "U.S. EPA 2005, EPA-600-R-02-011",
                np.array(members, dtype=object)[with_carbon],
                notes[with_carbon],
            )
        )
    return blocks
