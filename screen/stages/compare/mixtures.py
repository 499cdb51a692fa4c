"""Indices of mixtures by partitioning: toxic units of PAHs, extracted metals minus sulfide, ratios of PAHs, tissue.

In go results, totals and the organic carbon of each sample; out come blocks of rows. Coefficients are data in
`guidelines/coefficients/`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, first_rows, patterns, texts_of
from screen.reference.locate import read_table
from screen.stages.compare.candidates import Source
from screen.stages.compare.index_rows import IndexRows
from screen.stages.sums.peaks import belonging

__all__ = [
    "Figures",
    "figures_of",
    "first_complete",
    "pah_ratios",
    "pah_toxic_units",
    "sem_minus_avs",
    "tissue_potential",
]

#: Below this much organic carbon nothing is divided by it (EPA 2003 and 2005; from memory).
LEAST_CARBON_PCT = 0.2


class Figures:
    """Used results of a few substances as arrays by sample and substance: value, low, high, detected, measured."""

    def __init__(self, source: Source, substances: list[str]) -> None:
        """Take ``substances``; a pair that the substance table takes as one counts as the one that it stands for."""
        shape = (len(source.samples), len(substances))
        self.value, self.low, self.high = (np.full(shape, np.nan) for _ in range(3))
        self.detected, self.measured = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
        place = {name: i for i, name in enumerate(substances)}
        results = source.results
        for code, (name, members) in enumerate(zip(source.names.names, source.names.members, strict=True)):
            if len(members) != 1 or members[0] not in place:
                continue
            column = place[members[0]]
            rows = results.rows(code)
            rows = rows[source.used[rows]]
            if name != members[0]:
                rows = rows[~self.measured[results.sample[rows], column]]
            sample = results.sample[rows]
            self.value[sample, column] = results.value[rows]
            self.low[sample, column] = results.low[rows]
            self.high[sample, column] = results.high[rows]
            self.detected[sample, column] = results.detected[rows]
            self.measured[sample, column] = True


def figures_of(source: Source, substances: list[str]) -> Figures:
    """``Figures`` of some substances."""
    return Figures(source, substances)


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


def pah_toxic_units(source: Source, carbon: Floats) -> list[IndexRows]:
    """Toxic units of 34 PAHs: sum of C / foc / C_oc,FCV (U.S. EPA 2003), each capped at the limit of solubility.

    ``value`` and ``low`` are of what was detected; ``high`` takes limits in full and, where fewer than 34 were measured
    but a published list was, the toxic units of that list times its 95 % factor (no such list: no upper bound).
    """
    table = read_table("coefficients/esb_pah34.csv")
    divisor = table["coc_fcv_ug_g_oc"].astype(float).to_numpy()
    cap = pd.to_numeric(table["coc_max_ug_g_oc"].replace("", None)).astype(float).to_numpy() / divisor
    part = belonging(source.names, dict(zip(table["substance"], 1.0 / divisor, strict=True)), "mg/kg", "pah")
    results = source.results
    good = (carbon >= LEAST_CARBON_PCT) & ~np.isnan(carbon)
    inside = source.used & (results.sample >= 0) & ~np.isnan(np.append(part.scale, np.nan)[results.name])
    rows = np.flatnonzero(inside)
    rows = rows[good[results.sample[rows]]]
    if not len(rows):
        return []
    sample, peak = results.sample[rows], results.name[rows]
    by = part.scale[peak] * 100.0 / carbon[sample]
    top = np.where(part.covers, np.where(np.isnan(cap), np.inf, cap)[None, :], -np.inf).max(axis=1)[peak]

    def units(figures: Floats) -> Floats:
        return np.asarray(np.minimum(figures[rows] * by, top))

    value, low, high = units(results.value), units(results.low), units(results.high)
    count = len(source.samples)

    def total(figures: Floats) -> Floats:
        return np.asarray(np.bincount(sample, weights=figures, minlength=count), dtype=np.float64)

    present = np.zeros((count, len(part.scale)), dtype=bool)
    present[sample, peak] = True
    covered: Flags = np.asarray(present.astype(np.float64) @ part.covers.astype(np.float64) > 0)
    measured = covered.sum(axis=1)
    values, lows, highs = total(np.where(np.isnan(value), low, value)), total(low), total(high)
    every = np.asarray(covered.all(axis=1))
    upper = np.where(every, highs, np.nan)
    words = np.full(count, ": a lower estimate, no published factor for this list", dtype=object)
    words[every] = ""
    for one in _lists(table):
        in_list = np.asarray(part.covers[:, one.listed].any(axis=1))
        of_list = total(np.where(in_list[peak], high, 0.0))
        fits = ~every & np.isnan(upper) & np.asarray(covered[:, one.listed].all(axis=1))
        upper = np.where(fits, np.maximum(one.most * of_list, highs), upper)
        words[fits] = one.words()
    highs = upper
    on = np.flatnonzero((measured > 0) & good)
    settled = (measured[on] == len(divisor)) | (values[on] > 1)
    alike, _ = patterns(covered[on])
    notes = [f"{measured[i]} of {len(divisor)} PAHs measured{words[i]}" for i in on[first_rows(alike)]]
    counts = np.array([f"{number} of {len(divisor)}" for number in range(len(divisor) + 1)], dtype=object)
    return [
        IndexRows(
            on,
            "esb-pah-tu",
            "",
            values[on],
            lows[on],
            highs[on],
            "toxic units",
            "U.S. EPA 2003, EPA-600-R-02-013",
            counts[measured[on]],
            np.array(notes, dtype=object)[alike],
            classify=settled | (highs[on] <= 1),
            evidence="from_memory",
        )
    ]


@dataclass(frozen=True, slots=True)
class _List:
    """A published list of fewer PAHs: who is in it, and its factors to all 34, half of the time and 95 % of it."""

    listed: Flags
    median: float
    most: float

    def words(self) -> str:
        return (
            f": value is of these; published factors from a list of {self.listed.sum()} to 34 are {self.median:g} "
            f"(median) and {self.most:g} (95 %, in the upper bound; too high near gas works)"
        )


def _lists(table: pd.DataFrame) -> list[_List]:
    """The published lists of which every member has a divisor, the widest first."""
    factors = read_table("coefficients/esb_adjustment_factors.csv")
    columns = (factors["measured"], factors["confidence_level_pct"], factors["multiplier"])
    by = {(int(size), level): float(factor) for size, level, factor in zip(*columns, strict=True)}
    sizes = sorted({size for size, _ in by}, reverse=True)
    lists = [_List((table[f"in_{size}"] == "1").to_numpy(), by[size, "50"], by[size, "95"]) for size in sizes]
    return [one for one, size in zip(lists, sizes, strict=True) if one.listed.sum() == size]


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


def tissue_potential(source: Source, carbon: Floats, table: pd.DataFrame | None = None) -> list[IndexRows]:
    """Theoretical bioaccumulation potential, BSAF x (C / foc) x lipid fraction, of detected totals: context only.

    ``table`` stands for the factors (text columns of `tissue.csv`).
    """
    table = read_table("coefficients/tissue.csv") if table is None else table
    blocks = []
    for row in table.to_dict("records"):
        chosen = first_complete(source, str(row["totals"]).split(";"))
        sample = source.totals.sample[chosen]
        few = source.table.iloc[chosen]
        on = (carbon[sample] >= LEAST_CARBON_PCT) & few["value"].notna().to_numpy()
        sample, few = sample[on], few[on]
        if not len(sample):
            continue
        by = float(row["bsaf"]) * float(row["lipid_pct"]) / carbon[sample]
        partial = ~few["complete"].to_numpy(dtype=bool)
        note = f"BSAF {row['bsaf']}, lipid {row['lipid_pct']} %: an upper screening figure, not advice on eating fish"
        blocks.append(
            IndexRows(
                sample,
                "tissue-potential",
                str(row["substance"]),
                few["value"].to_numpy(dtype=np.float64) * by,
                few["low"].to_numpy(dtype=np.float64) * by,
                np.where(partial, np.nan, few["high"].to_numpy(dtype=np.float64) * by),
                "ug/kg wet weight",
                str(row["source"]),
                texts_of(few["total"]),
                note,
                evidence=str(row["evidence"]),
            )
        )
    return blocks


def first_complete(source: Source, wanted: list[str]) -> Codes:
    """One row of totals for each sample: the first complete one of the ids ``wanted``, else the first."""
    rows = [source.totals.rows(source.total_ids[one]) for one in wanted if one in source.total_ids]
    if not rows:
        return np.array([], dtype=np.int64)
    together = np.concatenate([*(one[source.complete[one]] for one in rows), *rows])
    return together[first_rows(source.totals.sample[together])]
