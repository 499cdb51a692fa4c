"""The chain of one finding: from the cells in the laboratory's sheet, step by step, to the word in the report.

Takes the tables of a run (in memory or read back from its folder); gives one plain dict per finding. Every step says
what it started from, by what it was changed and how (``operation``), and what came out; doing the steps again gives the
figures of findings.csv within 1e-9.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screen.explain.tables import Tables
from screen.reference.rules import sum_rules
from screen.reference.sets import GuidelineSet, read_basis_word
from screen.reference.substances import describe
from screen.reference.units import factor as unit_factor
from screen.reference.units import scaled

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["chains", "results_summed"]

_ROOT2 = math.sqrt(2.0)
_CARBON = "Total organic carbon"
_Summed = tuple[dict[str, Any], float]
_OF_RESULTS = (
    *(
        "result_id",
        "sample",
        "substance",
        "reported",
        "qualifier",
        "reported_unit",
        "reported_basis",
        "kind",
        "value",
        "limit",
    ),
    *("low", "high", "unit", "used", "file", "sheet", "row", "column"),
    *("read_value", "read_limit", "factor", "solids_pct"),
)
_Told = tuple[list[dict[str, Any]], list[dict[str, Any]]]


def chains(tables: Tables, findings: pd.DataFrame) -> list[dict[str, Any]]:
    """One chain for each row of ``findings`` (rows of ``tables.findings``), in their order.

    Each is ``{sample, substance, total, set, cells, steps, finding}``; a step is ``{step, from, by, operation, to,
    unit, source}`` with ``step`` one of read, unit, dry-weight, carbon, sum, duplicates, level, quotient.
    """
    book = _Book(tables, findings)
    return [book.chain(row) for row in _records(findings)]


def results_summed(tables: Tables, samples: pd.Series, totals: Sequence[str]) -> dict[tuple[str, str], list[_Summed]]:
    """The results that make each of ``totals`` in each of ``samples``, in order: the row and the member's weight."""
    book = _Book(tables, samples.to_frame("sample"))
    return {(sample, total): list(book.summed(sample, total)) for sample in book.by_sample for total in totals}


def _records(frame: pd.DataFrame, columns: Sequence[str] | None = None) -> list[dict[str, Any]]:
    """The rows of ``frame`` as plain dicts, of all columns or of those named."""
    names = list(frame.columns if columns is None else columns)
    return [dict(zip(names, row, strict=True)) for row in zip(*(frame[name].tolist() for name in names), strict=True)]


def _blank(value: object) -> bool:
    if isinstance(value, str):
        return value in ("", "nan", "<NA>")
    if isinstance(value, float):
        return math.isnan(value)
    return value is None or str(value) == "<NA>"


def _number(value: object) -> float | None:
    return None if _blank(value) else float(value)  # type: ignore[arg-type]


def _text(value: object) -> str:
    return "" if _blank(value) else str(value)


def _step(
    step: str, start: object, by: object, operation: str, to: object, unit: str, source: str, **more: object
) -> dict[str, Any]:
    return {
        "step": step,
        "from": start,
        "by": by,
        "operation": operation,
        "to": to,
        "unit": unit,
        "source": source,
    } | more


class _Book:
    """Look-ups over the tables, built once for many chains."""

    def __init__(self, tables: Tables, findings: pd.DataFrame) -> None:
        self.tables = tables
        self.printed: dict[str, dict[tuple[str, str], tuple[float, str, str]]] = {}
        self.samples = {str(row["sample"]): row for row in _records(tables.samples)}
        self.duplicates: dict[str, list[str]] = {}
        for name, row in self.samples.items():
            if not _blank(row["parent"]):
                self.duplicates.setdefault(str(row["parent"]), []).append(name)
        wanted = set(findings["sample"].astype(str).unique())
        wanted |= {name for parent in wanted for name in self.duplicates.get(parent, [])}
        results = tables.results
        self.by_sample: dict[str, list[dict[str, Any]]] = {}
        for row in _records(results[results["sample"].isin(wanted)], _OF_RESULTS):
            self.by_sample.setdefault(str(row["sample"]), []).append(row)
        names = sorted({str(row["substance"]) for rows in self.by_sample.values() for row in rows})
        described = describe(names)
        self.members = dict(zip(names, described["members"], strict=True))
        stands = described["stands_for"] if "stands_for" in described else [""] * len(names)
        self.stands_for = {name: _text(one) for name, one in zip(names, stands, strict=True)}
        self.totals: dict[tuple[str, str], dict[str, dict[str, Any]]] = {}
        for row in _records(tables.totals[tables.totals["sample"].isin(wanted)]):
            self.totals.setdefault((str(row["sample"]), str(row["total"])), {})[str(row["rule"])] = row
        members = sum_rules().members
        self.weights = {
            str(total): dict(zip(part["substance"].astype(str), part["weight"].astype(float), strict=True))
            for total, part in members.groupby("total")
        }
        self.told: dict[int, _Told] = {}

    # -- one finding -------------------------------------------------------------------------------------------------

    def chain(self, finding: Mapping[str, Any]) -> dict[str, Any]:
        sample = str(finding["sample"])
        ways = [self._way(finding, name) for name in (sample, *self.duplicates.get(sample, []))]
        ways = [way for way in ways if way.steps]
        chosen = self._choose(finding, ways)
        steps = list(chosen.steps) if chosen else []
        steps += self._levels(finding)
        return {
            "sample": sample,
            "substance": _text(finding["substance"]),
            "total": _text(finding["total"]),
            "set": _text(finding["set"]),
            "cells": chosen.cells if chosen else [],
            "steps": steps,
            "finding": _text(finding["finding"]),
            "note": _text(finding["note"]),
        }

    def _choose(self, finding: Mapping[str, Any], ways: list[_Way]) -> _Way | None:
        """The way that gives the finding's own figures; with a duplicate averaged in, all ways and their mean."""
        if not ways:
            return None
        value, high = _number(finding["value"]), _number(finding["high"])
        for way in ways:
            if _same(way.value, value) and (value is not None or _same(way.high, high)):
                return way
        if len(ways) > 1 and value is not None:
            figures = [way.mean_figure for way in ways]
            known = [figure for figure in figures if figure is not None]
            if len(known) == len(ways) and _same(sum(known) / len(known), value):
                steps = [step for way in ways for step in way.steps]
                unit = _text(finding["unit"])
                source = "field duplicates averaged; a non-detect at half its limit"
                steps.append(_step("duplicates", known, len(known), "mean", value, unit, source))
                return _Way(steps, [cell for way in ways for cell in way.cells], value, high, None)
        return ways[0]

    def _way(self, finding: Mapping[str, Any], sample: str) -> _Way:
        total = _text(finding["total"])
        if total:
            return self._total_way(finding, sample, total)
        substance = str(finding["substance"])
        for row in self.by_sample.get(sample, []):
            name = str(row["substance"])
            if name == substance or self.stands_for[name] == substance or substance in self.members[name]:
                steps, cells = self._measurement(row, sample)
                peak = name != substance and self.stands_for[name] != substance
                value, high = _number(row["value"]), _number(row["high"])
                way = _Way(steps, cells, None if peak else value, high, _number(row["limit"]))
                return self._on_basis(finding, sample, way, _text(row["unit"]))
        return _Way([], [], None, None, None)

    def _total_way(self, finding: Mapping[str, Any], sample: str, total: str) -> _Way:
        row = self._total_row(finding, sample, total)
        if row is None:
            return _Way([], [], None, None, None)
        steps: list[dict[str, Any]] = []
        cells: list[dict[str, Any]] = []
        figures: dict[str, list[float | None]] = {"value": [], "low": [], "high": []}
        weights: list[float] = []
        names: list[str] = []
        rule = str(row["rule"])
        for member, weight in self.summed(sample, total):
            member_steps, member_cells = self._measurement(member, sample)
            steps += member_steps
            cells += member_cells
            by = unit_factor(_text(member["unit"]), _text(row["unit"]))
            by = 1.0 if by is None else by
            name = str(member["substance"])
            scaled: dict[str, float | None] = {}
            for quantity in ("value", "low", "high", "limit"):
                number = _number(member[quantity])
                scaled[quantity] = None if number is None else number * by
            if by != 1.0:
                shown = "value" if scaled["value"] is not None else "limit"
                steps.append(
                    _step(
                        "unit", _number(member[shown]), by, "×", scaled[shown], _text(row["unit"]), "", substance=name
                    )
                )
            names.append(name)
            weights.append(weight)
            figures["value"].append(_by_rule(rule, member, scaled))
            figures["low"].append(scaled["low"])
            figures["high"].append(scaled["high"])
        by = _number(row["factor"]) or 1.0
        unit = _text(row["unit"])
        source = f"{total}: {_text(row['measured'])} of {_text(row['members'])} members measured; non-detects by {rule}"
        for quantity in ("value", "low", "high"):
            if (to := _number(row[quantity])) is not None:
                steps.append(
                    _step("sum", figures[quantity], by, "Σ weight × from, × by", to, unit, source)
                    | {"quantity": quantity, "substances": names, "weights": weights}
                )
        if _number(row["value"]) is None and (limit := _number(row["limit"])) is not None:
            limits = [one for one in figures["high"] if one is not None]
            steps.append(
                _step("sum", limits, by, "highest of weight × from, × by", limit, unit, source)
                | {"quantity": "limit", "substances": names, "weights": weights}
            )
        way = _Way(steps, cells, _number(row["value"]), _number(row["high"]), _number(row["limit"]))
        return self._on_basis(finding, sample, way, unit)

    def _total_row(self, finding: Mapping[str, Any], sample: str, total: str) -> Mapping[str, Any] | None:
        rows = self.totals.get((sample, total), {})
        chosen = self._set(finding)
        stated = chosen.nondetects if chosen is not None else None
        return rows.get(stated or "") or next(iter(rows.values()), None)

    def summed(self, sample: str, total: str) -> Iterator[_Summed]:
        """The results of ``sample`` that ``total`` adds, each with the weight of its member."""
        weights = self.weights.get(total, {})
        for row in self.by_sample.get(sample, []):
            if not row["used"]:
                continue
            name = str(row["substance"])
            found = [weights[one] for one in self.members[name] if one in weights]
            if name in weights:
                found = [weights[name]]
            elif self.stands_for[name] in weights:
                found = [weights[self.stands_for[name]]]
            if found:
                yield row, max(found)

    def _measurement(self, row: Mapping[str, Any], sample: str) -> _Told:
        """The steps from the cell to the figure on dry weight in the standard unit, and the cell; told once a row."""
        if id(row) not in self.told:
            self.told[id(row)] = self._steps_of(row, sample)
        steps, cells = self.told[id(row)]
        return list(steps), list(cells)

    def _steps_of(self, row: Mapping[str, Any], sample: str) -> _Told:
        name, place = str(row["substance"]), _place(row)
        cells = [place | {"text": _text(row["reported"])}]
        quantity = "value" if _number(row["value"]) is not None else "limit"
        read = _number(row["read_value"] if quantity == "value" else row["read_limit"])
        where = ", ".join(
            str(part) for part in (place["file"], place["sheet"], f"{place['column']}{place['row']}") if part
        )
        reported = f"{_text(row['reported'])} {_text(row['qualifier'])}".strip()
        steps = [
            _step(
                "read",
                reported,
                None,
                "read",
                read,
                _text(row["reported_unit"]),
                where,
                substance=name,
                quantity=quantity,
            )
        ]
        if read is None or _blank(row["unit"]):
            return steps, cells
        by = _number(row["factor"]) or 1.0
        now, unit = read, _text(row["unit"])
        if by != 1.0:
            in_unit = float(scaled(np.array([now]), np.array([by]))[0])
            steps.append(_step("unit", now, by, "×", in_unit, unit, "", substance=name, quantity=quantity))
            now = in_unit
        figure = _number(row[quantity])
        if _text(row["reported_basis"]) == "wet" and figure is not None:
            percent = _number(row["solids_pct"]) or math.nan
            solids, source = percent / 100.0, f"solids {percent:.12g} % of sample {sample}"
            cells += self._cells_of(sample, {"Percent solids": percent, "Percent moisture": 100.0 - percent})
            steps.append(_step("dry-weight", now, solids, "÷", figure, unit, source, substance=name, quantity=quantity))
        elif _text(row["reported_basis"]) == "oc" and figure is not None:
            carbon = (_number(self.samples[sample]["toc_pct"]) or math.nan) / 100.0
            source = f"organic carbon {_text(self.samples[sample]['toc_pct'])} % of sample {sample}"
            cells += self._cells_of(sample, {_CARBON: carbon * 100.0})
            steps.append(_step("carbon", now, carbon, "×", figure, unit, source, substance=name, quantity=quantity))
        return steps, cells

    def _cells_of(self, sample: str, figures: Mapping[str, float]) -> list[dict[str, Any]]:
        """The cells of the sample's results that gave one of ``figures`` (by substance, in the standard unit)."""
        rows = self.by_sample.get(sample, [])
        return [
            _place(row) | {"text": _text(row["reported"])}
            for row in rows
            if str(row["substance"]) in figures and _near(_number(row["value"]), figures[str(row["substance"])])
        ]

    def _on_basis(self, finding: Mapping[str, Any], sample: str, way: _Way, unit: str) -> _Way:
        """The way with its last figures brought to the finding's basis and unit."""
        basis, wanted = _text(finding["basis"]), _text(finding["unit"])
        if not basis:
            return way
        kind, percent = read_basis_word(basis)
        steps, by = list(way.steps), 1.0
        cells: list[dict[str, Any]] = []
        if kind == "dry":
            by = unit_factor(unit, wanted) or 1.0
            label, source = "unit", ""
        else:
            toc = self._carbon(finding, sample)
            own = _number(self.samples[sample]["toc_pct"])
            cells = self._cells_of(sample, {_CARBON: own} if kind == "oc" and own is not None else {})
            aluminium = self._aluminium(sample)
            share = toc if kind == "oc" else aluminium
            if share is None:
                return way
            label = "carbon"
            if kind == "oc" and percent is None:
                to_mg = unit_factor(unit, "mg/kg") or 1.0
                by = to_mg / (share / 100.0)
            else:
                by = (unit_factor(unit, wanted) or 1.0) * (percent or 1.0) / share
            source = f"{'organic carbon' if kind == 'oc' else 'aluminium'} {share} % of sample {sample}"
        if by != 1.0:
            told: set[float] = set()
            for quantity, start in (("value", way.value), ("limit", way.limit), ("high", way.high)):
                if start is not None and start not in told:
                    steps.append(_step(label, start, by, "×", start * by, wanted, source, quantity=quantity))
                    told.add(start)
        return _Way(steps, way.cells + cells, _times(way.value, by), _times(way.high, by), _times(way.limit, by))

    def _carbon(self, finding: Mapping[str, Any], sample: str) -> float | None:
        """Organic carbon in per cent, at the nearer end of its range where the set says so."""
        found = _number(self.samples[sample]["toc_pct"])
        chosen = self._set(finding)
        if found is None or chosen is None or chosen.toc_range is None or chosen.toc_outside != "clamp":
            return found
        return min(max(found, chosen.toc_range[0]), chosen.toc_range[1])

    def _set(self, finding: Mapping[str, Any]) -> GuidelineSet | None:
        return self.tables.sets.get(str(finding["set"]))

    def _aluminium(self, sample: str) -> float | None:
        for row in self.by_sample.get(sample, []):
            if str(row["substance"]) == "Aluminum" and row["used"] and (value := _number(row["value"])) is not None:
                return value / 10000.0
        return None

    def _figures(self, chosen: GuidelineSet | None) -> dict[tuple[str, str], tuple[float, str, str]]:
        if chosen is None:
            return {}
        if chosen.id not in self.printed:
            self.printed[chosen.id] = _printed(chosen)
        return self.printed[chosen.id]

    def _levels(self, finding: Mapping[str, Any]) -> list[dict[str, Any]]:
        chosen = self._set(finding)
        steps = []
        value, unit = _number(finding["value"]), _text(finding["unit"])
        for side in ("lower", "upper"):
            level, name = _number(finding[f"{side}_level"]), _text(finding[f"{side}_name"])
            if level is None:
                continue
            otherwise = (level, unit, chosen.citation if chosen is not None else "")
            start, start_unit, source = self._figures(chosen).get((_text(finding["substance"]), name), otherwise)
            by = level / start if start else 1.0
            steps.append(_step("level", start, by, "×", level, unit, source, level=name, printed_unit=start_unit))
            if value is not None:
                quotient = _number(finding[f"{side}_quotient"])
                steps.append(_step("quotient", value, level, "÷", quotient, "", "", level=name))
        return steps


@dataclass(frozen=True, slots=True)
class _Way:
    """The steps of one sample towards a finding, and the figures that they end in."""

    steps: list[dict[str, Any]]
    cells: list[dict[str, Any]]
    value: float | None
    high: float | None
    limit: float | None

    @property
    def mean_figure(self) -> float | None:
        if self.value is not None:
            return self.value
        return None if self.limit is None else self.limit / 2.0


def _printed(chosen: GuidelineSet) -> dict[tuple[str, str], tuple[float, str, str]]:
    """The figures of a set as printed, by substance and level: figure, unit with basis, source with evidence."""
    return {
        (_text(one["substance"]), _text(one["level"])): (
            float(one["value"]),
            f"{one['unit']} {one['basis']}",
            f"{_text(one['source']) or chosen.citation} ({_text(one['evidence'])})",
        )
        for one in _records(chosen.rows)
    }


def _by_rule(rule: str, member: Mapping[str, Any], scaled: Mapping[str, float | None]) -> float | None:
    """What one member brings to the value of its sum under a non-detect rule."""
    if scaled["value"] is not None:
        return scaled["value"]
    limit = scaled["limit"] if scaled["limit"] is not None else scaled["high"]
    if str(member["kind"]) == "trace" and rule in ("zero", "km"):
        return scaled["low"]
    if limit is None:
        return 0.0
    return {"half": limit / 2.0, "root2": limit / _ROOT2, "full": limit}.get(rule, 0.0)


def _place(row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "file": _text(row["file"]),
        "sheet": _text(row["sheet"]),
        "row": None if _blank(row["row"]) else int(row["row"]),
        "column": _text(row["column"]),
    }


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is None and other is None
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=0.0)


def _near(one: float | None, other: float) -> bool:
    return one is not None and math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)


def _times(value: float | None, by: float) -> float | None:
    return None if value is None else value * by
