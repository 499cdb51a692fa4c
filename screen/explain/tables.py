"""The tables that a chain is made of: taken from a finished run, and one finding looked up in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from screen.reference.sets import GuidelineSet, load_set

if TYPE_CHECKING:
    import pandas as pd

    from screen.model import Run

__all__ = ["Tables", "find", "sets_met", "tables_of"]


@dataclass(frozen=True, slots=True)
class Tables:
    """The tables that a chain is made of, as frames with the contract's columns, and the sets by id."""

    results: pd.DataFrame
    totals: pd.DataFrame
    findings: pd.DataFrame
    samples: pd.DataFrame
    sets: Mapping[str, GuidelineSet]


def tables_of(run: Run) -> Tables:
    """The tables of a finished run."""
    return Tables(run.batch.results, run.totals, run.findings, run.batch.samples, sets_met(run))


def sets_met(run: Run) -> dict[str, GuidelineSet]:
    """The sets that the run names, by id: those asked for, and those that stand in outside a range of carbon."""
    met = {one.id: one for one in run.sets}
    stand_ins = [str(name) for name in run.findings["set"].dropna().unique() if name not in met]
    return met | {name: load_set(name) for name in stand_ins}


def find(findings: pd.DataFrame, sample: str, substance: str, set_id: str | None) -> pd.DataFrame:
    """The findings of one sample and one guideline substance, under one set or all, in table order."""
    chosen = (findings["sample"].astype(str) == sample) & (findings["substance"].astype(str) == substance)
    if set_id is not None:
        chosen &= findings["set"].astype(str) == set_id
    return findings[chosen]
