"""The stages over frames that a person made: in go frames with what is known, out come the tables of the stages.

A column that is left out means what the contract says of it: a result is detected and exact where it has a value, used,
on dry weight and in its standard unit, and its station is its sample. Figures in another unit are converted.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from screen.model import Batch
from screen.notebook.results import results_of
from screen.notebook.tables import samples_of, totals_of
from screen.reference.rules import SumRules
from screen.reference.sets import GuidelineSet, load_set
from screen.stages import sums
from screen.stages.compare.findings import findings
from screen.stages.compare.places.stations import summarise_stations

__all__ = ["compare", "stations", "total"]


def total(
    results: pd.DataFrame,
    rules: SumRules | None = None,
    nondetects: Sequence[str] | str = ("zero",),
    *,
    lab_totals: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Every total of every sample that has a part of it: columns TOTALS, by sample, total and rule.

    ``results`` needs the columns ``sample``, ``substance`` (canonical names) and ``value`` or ``limit``; others of
    RESULTS are taken where they are there. Figures are on dry weight, in the unit of ``unit``. ``rules`` are the
    built-in lists unless given; ``nondetects`` are rules among zero, half, root2, full, km. ``lab_totals`` (columns as
    of ``results``) stand beside ours and are never added. Raises ValueError for what cannot be understood.
    """
    asked = [nondetects] if isinstance(nondetects, str) else list(nondetects)
    own = None if lab_totals is None else results_of(lab_totals)
    return sums.total(results_of(results), rules, asked, lab_totals=own)


def compare(
    results: pd.DataFrame,
    totals: pd.DataFrame | None = None,
    sets: Sequence[GuidelineSet | Path | str] | GuidelineSet | Path | str = (),
    *,
    samples: pd.DataFrame | None = None,
    assigned: pd.DataFrame | None = None,
    refused: pd.DataFrame | None = None,
    duplicates: str = "higher",
    nondetects: str = "stated",
) -> pd.DataFrame:
    """Compare results and totals with the levels of ``sets``: columns FINDINGS, by sample, set and substance.

    ``results`` as for ``total``. ``totals`` is what ``total`` gave; without it, or for a set whose rule for non-detects
    is not among its rules, the sums are made here. A set is one of the built-in ids or the path of one's own files.
    ``samples`` (``sample`` and what is known of SAMPLES) tells station, depth, parent and carbon; without it the
    results do. ``assigned`` (sample, set) says which sets are compared for which sample; ``refused`` (sample,
    substance, reason) become ``not-assessed``; ``duplicates`` is ``higher``, ``mean`` or ``separate``; ``nondetects``
    ``stated`` or one rule for every set. Raises ValueError for what cannot be understood.
    """
    rows = results_of(results)
    given = [sets] if isinstance(sets, (GuidelineSet, Path, str)) else list(sets)
    chosen = [one if isinstance(one, GuidelineSet) else load_set(one) for one in given]
    wanted = [nondetects if nondetects != "stated" else (one.nondetects or "zero") for one in chosen]
    return findings.compare(
        rows,
        totals_of(rows, totals, dict.fromkeys(wanted)),
        chosen,
        samples=None if samples is None else samples_of(samples, rows),
        assigned=assigned,
        refused=refused,
        duplicates=duplicates,
        nondetects=nondetects,
    )


def stations(
    batch: Batch | pd.DataFrame, totals: pd.DataFrame | None = None, *, samples: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Columns STATIONS: one row per station, layer and substance or total; a pair of field duplicates counts once.

    ``batch`` is a batch on dry weight, or results as for ``total`` with ``samples`` as for ``compare``. ``totals`` is
    what ``total`` gave; without it the sums are made here, non-detects as zero.
    """
    if isinstance(batch, Batch):
        rows, about = results_of(batch.results), batch.samples
    else:
        rows = results_of(batch)
        about = samples_of(rows.drop_duplicates("sample") if samples is None else samples, rows)
        nothing = pd.DataFrame()
        batch = Batch(rows, rows.iloc[:0], rows.iloc[:0], nothing, about, nothing, nothing, nothing)
    return summarise_stations(
        dataclasses.replace(batch, results=rows, samples=about), totals_of(rows, totals, ["zero"])
    )
