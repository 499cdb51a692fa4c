"""The tables that a chain is made of: taken from a finished run, and one finding looked up in them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from screen.model import FINDING_ORDER
from screen.reference.sets import GuidelineSet, load_set

if TYPE_CHECKING:
    from screen.model import Run

__all__ = ["Tables", "find", "sets_met", "tables_of"]


@dataclass(frozen=True, slots=True)
class Tables:
    """The tables that a chain is made of, as frames with the contract's columns, and the sets by id.

    ``leading`` names the sets in use in the order of the report.
    """

    results: pd.DataFrame
    totals: pd.DataFrame
    findings: pd.DataFrame
    samples: pd.DataFrame
    sets: Mapping[str, GuidelineSet]
    leading: Sequence[str] = ()


def tables_of(run: Run) -> Tables:
    """The tables of a finished run."""
    leading = [one.id for one in run.sets]
    return Tables(run.batch.results, run.totals, run.findings, run.batch.samples, sets_met(run), leading)


def sets_met(run: Run) -> dict[str, GuidelineSet]:
    """The sets that the run names, by id: those asked for, and those that stand in outside a range of carbon."""
    met = {one.id: one for one in run.sets}
    stand_ins = [str(name) for name in run.findings["set"].dropna().unique() if name not in met]
    return met | {name: load_set(name) for name in stand_ins}


def find(
    findings: pd.DataFrame, sample: str, substance: str, set_id: str | None, sets: Sequence[str] = ()
) -> pd.DataFrame:
    """The findings of one sample and one guideline substance or total (by its id), under one set or all.

    By ``sets``, the ids of those in use, the leading one first; of the same set (a sum measured in several ways) the
    gravest finding first.
    """
    names = (findings["substance"].astype(str) == substance) | (findings["total"].astype(str) == substance)
    chosen = (findings["sample"].astype(str) == sample) & names
    if set_id is not None:
        chosen &= findings["set"].astype(str) == set_id
    found = findings[chosen]
    place = {name: at for at, name in enumerate(sets)}
    gravity = {name: -at for at, name in enumerate(FINDING_ORDER)}
    order = pd.DataFrame(
        {
            "set": [place.get(str(name), len(place)) for name in found["set"]],
            "finding": [gravity[str(name)] for name in found["finding"]],
        }
    ).sort_values(["set", "finding"], kind="stable")
    return found.iloc[order.index.to_numpy()]
