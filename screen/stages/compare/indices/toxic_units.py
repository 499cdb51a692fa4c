"""Toxic units of PAH mixtures by equilibrium partitioning: in go results and organic carbon, out come rows of indices.

Divisors, limits of solubility, published shorter lists and their factors are data in `guidelines/coefficients/`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.columns import Flags, Floats, first_rows, patterns
from screen.reference.locate import read_table
from screen.stages.compare.findings.source import Source
from screen.stages.compare.indices.index_rows import IndexRows, weakest
from screen.stages.compare.indices.mixtures import LEAST_CARBON_PCT
from screen.stages.sums.peaks import belonging

__all__ = ["pah_toxic_units"]

_SOURCE = "U.S. EPA 2003, EPA-600-R-02-013"


@dataclass(frozen=True, slots=True)
class _Units:
    """Toxic units of each sample over one list: value and low of what was detected, high with limits in full.

    ``covered`` (samples, members): which members were measured.
    """

    value: Floats
    low: Floats
    high: Floats
    covered: Flags


def pah_toxic_units(source: Source, carbon: Floats) -> list[IndexRows]:
    """Toxic units of 34 PAHs: sum of C / foc / C_oc,FCV (U.S. EPA 2003), each capped at the limit of solubility.

    Where fewer than 34 were measured but all of a published shorter list were, ``value`` and ``high`` are those of the
    list times its factor for 95 % of sediments, and ``low`` stays what was measured. Without such a list ``value`` is
    a lower estimate, and there is no upper bound.
    """
    table = read_table("coefficients/esb_pah34.csv")
    good = carbon >= LEAST_CARBON_PCT
    whole = _units(source, carbon, good, table)
    if whole is None:
        return []
    measured = whole.covered.sum(axis=1)
    every = np.asarray(whole.covered.all(axis=1))
    blocks = [_rows(np.flatnonzero(every & good), whole, measured, len(table), "", "from_memory")]
    left = (measured > 0) & good & ~every
    for one in _lists(table):
        units = _units(source, carbon, good, one.members)
        if units is None:
            continue
        fits = left & units.covered.all(axis=1)
        left &= ~fits
        scaled = _Units(
            np.fmax(one.most * units.value, whole.value),
            np.fmax(units.low, whole.low),
            np.maximum(one.most * units.high, whole.high),
            whole.covered,
        )
        blocks.append(_rows(np.flatnonzero(fits), scaled, measured, len(table), one.words(), one.evidence))
    open_end = _Units(whole.value, whole.low, np.full(len(whole.high), np.nan), whole.covered)
    few = "a lower estimate, no published factor for this list"
    blocks.append(_rows(np.flatnonzero(left), open_end, measured, len(table), few, "from_memory"))
    return [block for block in blocks if len(block.sample)]


def _units(source: Source, carbon: Floats, good: Flags, table: pd.DataFrame) -> _Units | None:
    """Toxic units over the members of ``table``, of the samples whose carbon is ``good``; None where nothing is."""
    divisor = table["coc_fcv_ug_g_oc"].astype(float).to_numpy()
    cap = pd.to_numeric(table["coc_max_ug_g_oc"].replace("", None)).astype(float).to_numpy() / divisor
    part = belonging(source.names, dict(zip(table["substance"], 1.0 / divisor, strict=True)), "mg/kg", "pah")
    results = source.results
    inside = source.used & (results.sample >= 0) & ~np.isnan(np.append(part.scale, np.nan)[results.name])
    rows = np.flatnonzero(inside)
    rows = rows[good[results.sample[rows]]]
    if not len(rows):
        return None
    sample, peak = results.sample[rows], results.name[rows]
    by = part.scale[peak] * 100.0 / carbon[sample]
    top = np.where(part.covers, np.where(np.isnan(cap), np.inf, cap)[None, :], -np.inf).max(axis=1)[peak]
    count = len(source.samples)

    def units(figures: Floats) -> Floats:
        return np.asarray(np.minimum(figures[rows] * by, top))

    def total(figures: Floats) -> Floats:
        return np.asarray(np.bincount(sample, weights=figures, minlength=count), dtype=np.float64)

    value, low, high = units(results.value), units(results.low), units(results.high)
    present = np.zeros((count, len(part.scale)), dtype=bool)
    present[sample, peak] = True
    covered: Flags = np.asarray(present.astype(np.float64) @ part.covers.astype(np.float64) > 0)
    return _Units(total(np.where(np.isnan(value), low, value)), total(low), total(high), covered)


def _rows(on: np.ndarray, units: _Units, measured: np.ndarray, listed: int, words: str, evidence: str) -> IndexRows:
    """One block; a class is given where the PAHs that are missing cannot change it, or a published factor covers them.

    ``words`` says what was done about the PAHs that are missing.
    """
    alike, _ = patterns(units.covered[on])
    said = f"; {words}" if words else ""
    notes = [f"{measured[i]} of {listed} PAHs measured{said}" for i in on[first_rows(alike)]]
    counts = np.array([f"{number} of {listed}" for number in range(listed + 1)], dtype=object)
    return IndexRows(
        on,
        "esb-pah-tu",
        "",
        units.value[on],
        units.low[on],
        units.high[on],
        "toxic units",
        _SOURCE,
        counts[measured[on]],
        np.array(notes, dtype=object)[alike],
        classify=~np.isnan(units.high[on]) | (units.value[on] > 1),
        evidence=evidence,
    )


@dataclass(frozen=True, slots=True)
class _List:
    """A published list of fewer PAHs, and its factors to all 34: the median, and the one for 95 % of sediments."""

    members: pd.DataFrame
    median: float
    most: float
    evidence: str

    def words(self) -> str:
        return (
            f"value is the sum of a published list of {len(self.members)} times {self.most:g}, its factor for 95 % of "
            f"sediments (median {self.median:g}; too high near gas works); low is what was measured"
        )


def _lists(table: pd.DataFrame) -> Iterator[_List]:
    """The published lists, the widest first; one of them has single isomers in place of the alkyl groups."""
    factors = read_table("coefficients/esb_adjustment_factors.csv")
    columns = (factors["measured"], factors["confidence_level_pct"], factors["multiplier"])
    by = {(int(size), level): float(factor) for size, level, factor in zip(*columns, strict=True)}
    everyone = pd.concat([table, read_table("coefficients/esb_pah_isomers.csv")], ignore_index=True)
    for size in sorted({size for size, _ in by}, reverse=True):
        members = everyone[everyone[f"in_{size}"] == "1"].reset_index(drop=True)
        marks = weakest([*members["evidence"], *factors["evidence"]])
        yield _List(members, by[size, "50"], by[size, "95"], marks)
