"""Metals against background: in go results and the background, out come enrichment, igeo, contamination and load.

The background is the one that the settings name; else the mean of the user's reference stations where there are any,
else the published one that `guidelines/coefficients/indices.toml` names. Every row names it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from screen.columns import Codes, Flags, Floats, Texts, patterns
from screen.reference.index_about import published_background
from screen.settings import SettingsError
from screen.stages.compare.findings.duplicates import roots
from screen.stages.compare.findings.half_limits import at_half_limit
from screen.stages.compare.findings.source import Source
from screen.stages.compare.indices.figures import Figures, figures_of
from screen.stages.compare.indices.index_rows import IndexRows, weakest

__all__ = ["REFERENCE_COLUMNS", "Background", "against_background", "background_of", "reference_figures"]

METALS = ["Arsenic", "Cadmium", "Chromium", "Copper", "Lead", "Mercury", "Nickel", "Zinc"]
#: What a metal is normalised by: the first that a sample has. Iron comes after the others, since redox moves it in a
#: core; the fine fraction last, and only against reference stations, since no published background states it.
REFERENCE_ELEMENTS = ["Aluminum", "Lithium", "Iron"]
FINES = "fine fraction"
#: Figures of a background, and how many columns ``reference_figures`` has for them.
COLUMNS = len(METALS) + len(REFERENCE_ELEMENTS) + 1
REFERENCE_COLUMNS = 2 * COLUMNS
#: The setting for the mean of the reference stations.
REFERENCE = "reference"
_AT_LEAST = 3


@dataclass(frozen=True, slots=True)
class Background:
    """Background figures in the order of METALS, REFERENCE_ELEMENTS and FINES, NaN where not known.

    ``own`` says that they are the mean of the reference stations, whose samples then get no index.
    """

    figures: Floats
    label: str
    evidence: str
    own: bool


def reference_figures(source: Source, reference: Flags, fines: Floats, parents: Texts) -> Floats:
    """What the samples of reference stations hold: a row for each, in the columns of Background twice over.

    ``reference`` marks them, ``fines`` is the per cent of fines of each sample, ``parents`` the sample that it is a
    field duplicate of. First come figures, a nondetect at half its limit; then 1 for one that was detected, 0 for one
    that was not. The mean of a pair stands on the first of its rows, and the other is empty.
    """
    own = figures_of(source, [*METALS, *REFERENCE_ELEMENTS])
    figures = np.column_stack([at_half_limit(own.value, own.low, own.high), fines])
    seen = np.column_stack([np.where(own.measured, own.detected, np.nan), np.where(np.isnan(fines), np.nan, 1.0)])
    both = np.where(np.isnan(figures), np.nan, np.stack([figures, seen]))
    rows = np.column_stack(list(both))[reference]
    root = roots(source.samples, parents)[reference]
    out = np.full(rows.shape, np.nan)
    for one in np.unique(root):
        of_pair = np.flatnonzero(root == one)
        known = ~np.isnan(rows[of_pair])
        sums = np.nansum(rows[of_pair], axis=0)
        out[of_pair[0]] = np.where(known.any(axis=0), sums / np.maximum(known.sum(axis=0), 1), np.nan)
    return out


def background_of(own: Floats, chosen: str | None = None) -> Background:
    """The background of a batch: the mean of ``own`` (``reference_figures``), else a published one.

    A metal that no reference sample detected has no background. ``chosen`` is the id of a published background, or
    REFERENCE. Raises SettingsError for a background that is not held.
    """
    if chosen == REFERENCE and not len(own):
        raise SettingsError('background = "reference": the field record gives no station the role reference.')
    if chosen == REFERENCE or (chosen is None and len(own)):
        figures, seen = own[:, :COLUMNS], own[:, COLUMNS:]
        means = np.nansum(figures, axis=0) / np.maximum((~np.isnan(figures)).sum(axis=0), 1)
        known = (means > 0) & (np.nansum(seen, axis=0) > 0)
        return Background(np.where(known, means, np.nan), "mean of the reference stations", "own", own=True)
    try:
        published = published_background(chosen)
    except ValueError as error:
        raise SettingsError(f"background = {chosen!r}: {error}") from error
    wanted = [*METALS, *REFERENCE_ELEMENTS]
    figures = np.array([*(published.figures.get(one, np.nan) for one in wanted), np.nan])
    marks = [published.evidence[one] for one in wanted if one in published.evidence]
    return Background(figures, f"{published.id}: {published.source}", weakest(marks), own=False)


def against_background(source: Source, reference: Flags, fines: Floats, background: Background) -> list[IndexRows]:
    """Contamination factor C/B, igeo log2(C / 1.5 B), enrichment (C/R)/(B/R) and pollution load (geometric mean).

    ``reference`` marks the samples of reference stations, ``fines`` is the per cent of fines of each sample. A metal
    not detected gives no single index; in the load it counts with half its limit, 0 in ``low`` and the limit in
    ``high``.
    """
    all_figures = figures_of(source, [*METALS, *REFERENCE_ELEMENTS])
    width = len(METALS)
    on = ~reference if background.own else np.ones(len(reference), dtype=bool)
    blocks: list[IndexRows] = []
    of_metals = background.figures[:width][None, :]
    factor, low, high = (one[:, :width] / of_metals for one in (all_figures.value, all_figures.low, all_figures.high))
    for place, metal in enumerate(METALS):
        rows = np.flatnonzero(on & ~np.isnan(factor[:, place]))
        if not len(rows):
            continue
        figures = factor[rows, place], low[rows, place], high[rows, place]
        blocks.append(_row(rows, "contamination", metal, figures, background, metal, ""))
        with np.errstate(divide="ignore"):
            igeo = [np.log2(one / 1.5) for one in figures]
        igeo = [np.where(np.isinf(one), np.nan, one) for one in igeo]
        blocks.append(_row(rows, "igeo", metal, (igeo[0], igeo[1], igeo[2]), background, metal, ""))
    normaliser = np.column_stack([all_figures.value[:, width:], fines]) / background.figures[width:][None, :]
    blocks += _enrichment((factor, low, high), normaliser, on, background)
    blocks += _load(all_figures, factor, high, on, background)
    return blocks


def _row(
    rows: Codes,
    index: str,
    metal: str,
    figures: tuple[Floats, Floats, Floats],
    background: Background,
    members: str | Texts,
    note: str | Texts,
) -> IndexRows:
    value, low, high = figures
    return IndexRows(
        rows, index, metal, value, low, high, "1", background.label, members, note, evidence=background.evidence
    )


def _enrichment(
    factors: tuple[Floats, Floats, Floats], normaliser: Floats, on: Flags, background: Background
) -> list[IndexRows]:
    """By the first of the normalisers that each sample has."""
    by = np.full(len(normaliser), np.nan)
    which = np.zeros(len(normaliser), dtype=np.int64)
    for place in range(normaliser.shape[1]):
        take = np.isnan(by) & (normaliser[:, place] > 0)
        by[take], which[take] = normaliser[take, place], place
    blocks = []
    names = np.array([*REFERENCE_ELEMENTS, FINES], dtype=object)
    words = [f"by {one.lower()}; both from one digestion" for one in REFERENCE_ELEMENTS]
    notes = np.array([*words, "by the fine fraction"], dtype=object)
    for place, metal in enumerate(METALS):
        rows = np.flatnonzero(on & ~np.isnan(factors[0][:, place] / by))
        if len(rows):
            value, low, high = (one[rows, place] / by[rows] for one in factors)
            by_what = which[rows]
            blocks.append(
                _row(rows, "enrichment", metal, (value, low, high), background, names[by_what], notes[by_what])
            )
    return blocks


def _load(figures: Figures, factor: Floats, high: Floats, on: Flags, background: Background) -> list[IndexRows]:
    width = len(METALS)
    known = ~np.isnan(background.figures[:width])[None, :]
    usable = figures.measured[:, :width] & ~np.isnan(high) & known
    count = usable.sum(axis=1)
    rows = np.flatnonzero(on & (count >= _AT_LEAST))
    if not len(rows):
        return []
    undetected = usable & np.isnan(factor)
    own = np.where(undetected, high / 2.0, factor)

    def geometric(values: Floats) -> Floats:
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.exp(np.where(usable, np.log(values), 0.0).sum(axis=1) / np.maximum(count, 1))[rows])

    value = geometric(own)
    none_left_out = ~undetected[rows].any(axis=1)
    low = np.where(none_left_out, value, 0.0)
    top = np.where(none_left_out, value, geometric(np.where(undetected, high, own)))
    alike, distinct = patterns(np.column_stack([usable[rows], undetected[rows]]))
    metals = np.array(METALS, dtype=object)
    members = np.array([";".join(metals[one[:width]]) for one in distinct], dtype=object)
    notes = np.array([_load_note(int(one[:width].sum()), int(one[width:].sum())) for one in distinct], dtype=object)
    return [_row(rows, "pollution-load", "", (value, low, top), background, members[alike], notes[alike])]


def _load_note(metals: int, undetected: int) -> str:
    return f"{metals} metals" + (f", {undetected} of them not detected at half the limit" if undetected else "")
