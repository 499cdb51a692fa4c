"""Metals against background: in go results and the background, out come enrichment, igeo, contamination and load.

The background is the mean of the user's reference stations where there are any, else average shale (Turekian and
Wedepohl 1961; `guidelines/coefficients/background_metals.csv`); it is named in every row.
"""

from __future__ import annotations

import numpy as np

from screen.columns import Codes, Flags, Floats, Texts
from screen.reference.locate import read_table
from screen.stages.compare.candidates import Source
from screen.stages.compare.index_rows import IndexRows
from screen.stages.compare.mixtures import Figures, figures_of

__all__ = ["against_background"]

METALS = ["Arsenic", "Cadmium", "Chromium", "Copper", "Lead", "Mercury", "Nickel", "Zinc"]
REFERENCE_ELEMENTS = ["Aluminum", "Iron", "Lithium"]
PUBLISHED = "average-shale-1961"
_AT_LEAST = 3


def against_background(source: Source, reference: Flags) -> list[IndexRows]:
    """Contamination factor C/B, igeo log2(C / 1.5 B), enrichment (C/R)/(B/R) and pollution load (geometric mean).

    ``reference`` marks the samples of reference stations. A metal not detected gives no single index; in the load it
    counts with half its limit, 0 in ``low`` and the limit in ``high``.
    """
    names = [*METALS, *REFERENCE_ELEMENTS]
    all_figures = figures_of(source, names)
    background, label, evidence = _background(all_figures, names, reference)
    on = ~reference
    blocks: list[IndexRows] = []
    factor = all_figures.value / background[None, :]
    low, high = all_figures.low / background[None, :], all_figures.high / background[None, :]
    for place, metal in enumerate(METALS):
        rows = np.flatnonzero(on & ~np.isnan(factor[:, place]))
        if not len(rows):
            continue
        figures = factor[rows, place], low[rows, place], high[rows, place]
        blocks.append(_row(rows, "contamination", metal, figures, label, metal, "", evidence))
        with np.errstate(divide="ignore"):
            igeo = [np.log2(one / 1.5) for one in figures]
        igeo = [np.where(np.isinf(one), np.nan, one) for one in igeo]
        blocks.append(_row(rows, "igeo", metal, (igeo[0], igeo[1], igeo[2]), label, metal, "", evidence))
    blocks += _enrichment(factor, low, high, on, label, evidence)
    blocks += _load(all_figures, factor, high, background, on, label, evidence)
    return blocks


def _row(
    rows: Codes,
    index: str,
    metal: str,
    figures: tuple[Floats, Floats, Floats],
    label: str,
    members: str | Texts,
    note: str | Texts,
    evidence: str,
) -> IndexRows:
    value, low, high = figures
    return IndexRows(rows, index, metal, value, low, high, "1", label, members, note, evidence=evidence)


def _background(own_figures: Figures, names: list[str], reference: Flags) -> tuple[Floats, str, str]:
    if reference.any():
        own = own_figures.value[reference]
        counts = (~np.isnan(own)).sum(axis=0)
        with np.errstate(invalid="ignore"):
            means = np.where(counts > 0, np.nansum(own, axis=0) / np.maximum(counts, 1), np.nan)
        return np.where(means > 0, means, np.nan), "mean of the reference stations", "own"
    table = read_table("coefficients/background_metals.csv")
    table = table[table["background"] == PUBLISHED].set_index("substance")
    figures = dict(zip(table.index, table["value_mg_kg"].astype(float), strict=True))
    values = np.array([figures.get(name, np.nan) for name in names])
    return values, f"{PUBLISHED}: {table['source'].iloc[0]}", "from_memory"


def _enrichment(factor: Floats, low: Floats, high: Floats, on: Flags, label: str, evidence: str) -> list[IndexRows]:
    """By the first reference element of each sample that is detected: aluminium, iron, lithium."""
    start = len(METALS)
    by = np.full(len(factor), np.nan)
    which = np.full(len(factor), "", dtype=object)
    for place, element in enumerate(REFERENCE_ELEMENTS):
        take = np.isnan(by) & ~np.isnan(factor[:, start + place])
        by[take], which[take] = factor[take, start + place], element
    blocks = []
    for place, metal in enumerate(METALS):
        rows = np.flatnonzero(on & ~np.isnan(factor[:, place] / by))
        if len(rows):
            figures = [one[rows, place] / by[rows] for one in (factor, low, high)]
            notes = np.array([f"by {one.lower()}; both from one digestion" for one in which[rows]], dtype=object)
            blocks.append(
                _row(
                    rows, "enrichment", metal, (figures[0], figures[1], figures[2]), label, which[rows], notes, evidence
                )
            )
    return blocks


def _load(
    figures: Figures, factor: Floats, high: Floats, background: Floats, on: Flags, label: str, evidence: str
) -> list[IndexRows]:
    width = len(METALS)
    usable = figures.measured[:, :width] & ~np.isnan(high[:, :width]) & ~np.isnan(background[:width])[None, :]
    count = usable.sum(axis=1)
    rows = np.flatnonzero(on & (count >= _AT_LEAST))
    if not len(rows):
        return []
    undetected = usable & np.isnan(factor[:, :width])
    own = np.where(undetected, high[:, :width] / 2.0, factor[:, :width])

    def geometric(values: Floats) -> Floats:
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.exp(np.where(usable, np.log(values), 0.0).sum(axis=1) / np.maximum(count, 1))[rows])

    value = geometric(own)
    none_left_out = ~undetected[rows].any(axis=1)
    low = np.where(none_left_out, value, 0.0)
    top = np.where(none_left_out, value, geometric(np.where(undetected, high[:, :width], own)))
    members = np.array([";".join(np.array(METALS, dtype=object)[usable[i]]) for i in rows], dtype=object)
    notes = np.array(
        [
            f"{count[i]} metals"
            + (f", {int(undetected[i].sum())} of them not detected at half the limit" if undetected[i].any() else "")
            for i in rows
        ],
        dtype=object,
    )
    return [IndexRows(rows, "pollution-load", "", value, low, top, "1", label, members, notes, evidence=evidence)]
