"""The chain of one finding: from the cells in the laboratory's sheet, step by step, to the word in the report.

Takes the tables of a run (in memory or read back from its folder); gives one plain dict per finding. Every step says
what it started from, by what it was changed and how (``operation``), and what came out; doing the steps again gives the
figures of findings.csv within 1e-9.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from screen.explain.measured import Measured, Summed
from screen.explain.rows import blank, number, records, same, step_of, text
from screen.explain.tables import Tables
from screen.explain.ways import Way, Ways
from screen.reference.sets import GuidelineSet

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["chains", "results_summed"]


def chains(tables: Tables, findings: pd.DataFrame) -> list[dict[str, Any]]:
    """One chain for each row of ``findings`` (rows of ``tables.findings``), in their order.

    Each is ``{sample, substance, total, set, cells, steps, finding}``; a step is ``{step, from, by, operation, to,
    unit, source}`` with ``step`` one of read, unit, dry-weight, carbon, sum, duplicates, level, quotient.
    """
    book = _Book(tables, findings)
    return [book.chain(row) for row in records(findings)]


def results_summed(tables: Tables, samples: pd.Series, totals: Sequence[str]) -> dict[tuple[str, str], list[Summed]]:
    """The results that make each of ``totals`` in each of ``samples``, in order: the row and the member's weight."""
    measured = Measured(tables, _wanted(samples, _duplicates(tables)))
    return {(sample, total): list(measured.summed(sample, total)) for sample in measured.by_sample for total in totals}


def _duplicates(tables: Tables) -> dict[str, list[str]]:
    """The field duplicates of each sample that has some."""
    found: dict[str, list[str]] = {}
    for row in records(tables.samples, ["sample", "parent"]):
        if not blank(row["parent"]):
            found.setdefault(str(row["parent"]), []).append(str(row["sample"]))
    return found


def _wanted(samples: pd.Series, duplicates: Mapping[str, Sequence[str]]) -> set[str]:
    """The samples with their field duplicates."""
    named = set(samples.astype(str).unique())
    return named | {name for parent in named for name in duplicates.get(parent, [])}


class _Book:
    """What the chains of some findings need, looked up once for all of them."""

    def __init__(self, tables: Tables, findings: pd.DataFrame) -> None:
        self.sets = tables.sets
        self.printed: dict[str, dict[tuple[str, str], tuple[float, str, str]]] = {}
        self.duplicates = _duplicates(tables)
        wanted = _wanted(findings["sample"], self.duplicates)
        self.ways = Ways(tables, Measured(tables, wanted), wanted)

    def chain(self, finding: Mapping[str, Any]) -> dict[str, Any]:
        sample = str(finding["sample"])
        ways = [self.ways.way(finding, name) for name in (sample, *self.duplicates.get(sample, []))]
        ways = [way for way in ways if way.steps]
        chosen = self._choose(finding, ways)
        steps = list(chosen.steps) if chosen else []
        steps += self._levels(finding)
        return {
            "sample": sample,
            "substance": text(finding["substance"]),
            "total": text(finding["total"]),
            "set": text(finding["set"]),
            "cells": chosen.cells if chosen else [],
            "steps": steps,
            "finding": text(finding["finding"]),
            "note": text(finding["note"]),
        }

    def _choose(self, finding: Mapping[str, Any], ways: list[Way]) -> Way | None:
        """The way that gives the finding's own figures; with a duplicate averaged in, all ways and their mean."""
        if not ways:
            return None
        value, high = number(finding["value"]), number(finding["high"])
        for way in ways:
            if same(way.value, value) and (value is not None or same(way.high, high)):
                return way
        if len(ways) > 1 and value is not None:
            figures = [way.mean_figure for way in ways]
            known = [figure for figure in figures if figure is not None]
            if len(known) == len(ways) and same(sum(known) / len(known), value):
                steps = [step for way in ways for step in way.steps]
                unit = text(finding["unit"])
                source = "field duplicates averaged; a non-detect at half its limit"
                steps.append(step_of("duplicates", known, len(known), "mean", value, unit, source))
                return Way(steps, [cell for way in ways for cell in way.cells], value, high, None)
        return ways[0]

    def _figures(self, chosen: GuidelineSet | None) -> dict[tuple[str, str], tuple[float, str, str]]:
        if chosen is None:
            return {}
        if chosen.id not in self.printed:
            self.printed[chosen.id] = _printed(chosen)
        return self.printed[chosen.id]

    def _levels(self, finding: Mapping[str, Any]) -> list[dict[str, Any]]:
        chosen = self.sets.get(str(finding["set"]))
        steps = []
        value, unit = number(finding["value"]), text(finding["unit"])
        for side in ("lower", "upper"):
            level, name = number(finding[f"{side}_level"]), text(finding[f"{side}_name"])
            if level is None:
                continue
            otherwise = (level, unit, chosen.citation if chosen is not None else "")
            start, start_unit, source = self._figures(chosen).get((text(finding["substance"]), name), otherwise)
            by = level / start if start else 1.0
            steps.append(step_of("level", start, by, "×", level, unit, source, level=name, printed_unit=start_unit))
            if value is not None:
                quotient = number(finding[f"{side}_quotient"])
                steps.append(step_of("quotient", value, level, "÷", quotient, "", "", level=name))
        return steps


def _printed(chosen: GuidelineSet) -> dict[tuple[str, str], tuple[float, str, str]]:
    """The figures of a set as printed, by substance and level: figure, unit with basis, source with evidence."""
    return {
        (text(one["substance"]), text(one["level"])): (
            float(one["value"]),
            f"{one['unit']} {one['basis']}",
            f"{text(one['source']) or chosen.citation} ({text(one['evidence'])})",
        )
        for one in records(chosen.rows)
    }
