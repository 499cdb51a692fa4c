"""Indices of each sample: in go a normalised batch, its totals and the sets in use, out comes the table INDICES.

What each index is, and which are switched off and why, stands in `guidelines/coefficients/indices.toml`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import Flags, texts_of
from screen.model import Batch
from screen.reference.rules import sum_rules
from screen.stages.compare.findings.source import source_of
from screen.stages.compare.indices.background import Background, against_background, background_of, reference_figures
from screen.stages.compare.indices.homologs import homolog_shares
from screen.stages.compare.indices.index_rows import as_frame
from screen.stages.compare.indices.logistic import logistic
from screen.stages.compare.indices.mean_quotients import mean_quotients
from screen.stages.compare.indices.mixtures import pah_ratios, sem_minus_avs
from screen.stages.compare.indices.tissue import tissue_potential
from screen.stages.compare.indices.toxic_units import pah_toxic_units

if TYPE_CHECKING:
    from screen.reference.sets import GuidelineSet
    from screen.settings import Settings

__all__ = ["indices"]

#: The set each mean quotient rests on, and the waters it is made for.
_MEANS = {
    "mean-pec-quotient": ("consensus-2000-fresh", ("fresh", "")),
    "mean-erm-quotient": ("long-1995-marine", ("marine", "estuarine", "")),
    "mean-pel-quotient": ("macdonald-1996-marine", ("marine", "estuarine", "")),
}


def indices(
    batch: Batch,
    totals: pd.DataFrame,
    sets: Sequence[GuidelineSet],
    settings: Settings,
    background: Background | None = None,
) -> pd.DataFrame:
    """Every index that the data of a sample allow: columns INDICES, by sample.

    Mean quotients are made for the waters that they were derived for (all where none is stated), and for every sample
    when their set was asked for by name. ``background`` is that of the whole batch where ``batch`` is a part of it.
    Raises SettingsError for a background that is not held.
    """
    samples = batch.samples
    names = texts_of(samples["sample"])
    rules = sum_rules()
    source = source_of(batch.results, totals, None, names, rules)
    carbon = samples["toc_pct"].to_numpy(dtype=np.float64)
    water = np.array([one or settings.water or "" for one in texts_of(samples["water"])], dtype=object)
    asked = set(settings.guidelines)
    wanted: dict[str, Flags] = {
        index: np.isin(water, waters) | (name in asked) for index, (name, waters) in _MEANS.items()
    }
    reference = np.asarray(texts_of(samples["role"]) == "reference", dtype=bool)
    fines = samples["fines_pct"].to_numpy(dtype=np.float64)
    if background is None:
        own = reference_figures(source, reference, fines, texts_of(samples["parent"]))
        background = background_of(own, settings.background)
    blocks = [
        *mean_quotients(source, wanted),
        *pah_toxic_units(source, carbon),
        *sem_minus_avs(source, carbon),
        *against_background(source, reference, fines, background),
        *tissue_potential(source, carbon),
        *pah_ratios(source),
        *homolog_shares(source),
        *logistic(source),
    ]
    return as_frame(blocks, names, texts_of(samples["station"]))
