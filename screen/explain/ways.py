"""The way of one sample towards a finding: its measurement or its sum, brought to the set's basis and unit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from screen.explain.measured import CARBON, Measured
from screen.explain.rows import number, records, step_of, text, times
from screen.explain.tables import Tables
from screen.reference.sets import read_basis_word
from screen.reference.units import factor as unit_factor
from screen.stages.sums.lab_totals import LAB_SUFFIX

__all__ = ["Way", "Ways"]

_ROOT2 = math.sqrt(2.0)


@dataclass(frozen=True, slots=True)
class Way:
    """The steps of one sample towards a finding, and the figures that they end in."""

    steps: list[dict[str, Any]]
    cells: list[dict[str, Any]]
    value: float | None
    high: float | None
    limit: float | None

    @property
    def mean_figure(self) -> float | None:
        """What it brings to the mean of a pair: its value, or half its limit."""
        if self.value is not None:
            return self.value
        return None if self.limit is None else self.limit / 2.0


class Ways:
    """The measurements and totals of the samples ``wanted``, as steps."""

    def __init__(self, tables: Tables, measured: Measured, wanted: set[str]) -> None:
        self.measured = measured
        self.sets = tables.sets
        self.totals: dict[tuple[str, str], dict[str, dict[str, Any]]] = {}
        for row in records(tables.totals[tables.totals["sample"].isin(wanted)]):
            self.totals.setdefault((str(row["sample"]), str(row["total"])), {})[str(row["rule"])] = row

    def way(self, finding: Mapping[str, Any], sample: str) -> Way:
        """The way of ``sample`` towards ``finding``; without steps where the sample has no result for it."""
        total = text(finding["total"])
        if total:
            return self._total_way(finding, sample, total)
        substance = str(finding["substance"])
        for row in self.measured.by_sample.get(sample, []):
            name = str(row["substance"])
            its_own = substance in (name, self.measured.stands_for[name])
            if its_own or substance in self.measured.members[name]:
                steps, cells = self.measured.measurement(row, sample)
                value, high = number(row["value"]), number(row["high"])
                way = Way(steps, cells, value if its_own else None, high, number(row["limit"]))
                return self._on_basis(finding, sample, way, text(row["unit"]))
        return Way([], [], None, None, None)

    def _total_way(self, finding: Mapping[str, Any], sample: str, total: str) -> Way:
        row = self._total_row(finding, sample, total)
        if row is None:
            return Way([], [], None, None, None)
        if total.endswith(LAB_SUFFIX):
            return self._on_basis(finding, sample, _laboratorys(row), text(row["unit"]))
        steps: list[dict[str, Any]] = []
        cells: list[dict[str, Any]] = []
        figures: dict[str, list[float | None]] = {"value": [], "low": [], "high": []}
        weights: list[float] = []
        names: list[str] = []
        rule = str(row["rule"])
        for member, weight in self.measured.summed(sample, total):
            member_steps, member_cells = self.measured.measurement(member, sample)
            steps += member_steps
            cells += member_cells
            by = unit_factor(text(member["unit"]), text(row["unit"]))
            by = 1.0 if by is None else by
            name = str(member["substance"])
            scaled: dict[str, float | None] = {}
            for quantity in ("value", "low", "high", "limit"):
                scaled[quantity] = times(number(member[quantity]), by)
            if by != 1.0:
                shown = "value" if scaled["value"] is not None else "limit"
                steps.append(
                    step_of(
                        "unit", number(member[shown]), by, "×", scaled[shown], text(row["unit"]), "", substance=name
                    )
                )
            names.append(name)
            weights.append(weight)
            figures["value"].append(_by_rule(rule, member, scaled))
            figures["low"].append(scaled["low"])
            figures["high"].append(scaled["high"])
        by = number(row["factor"]) or 1.0
        unit = text(row["unit"])
        source = f"{total}: {text(row['measured'])} of {text(row['members'])} members measured; non-detects by {rule}"
        for quantity in ("value", "low", "high"):
            if (to := number(row[quantity])) is not None:
                steps.append(
                    step_of("sum", figures[quantity], by, "Σ weight × from, × by", to, unit, source)
                    | {"quantity": quantity, "substances": names, "weights": weights}
                )
        if number(row["value"]) is None and (limit := number(row["limit"])) is not None:
            limits = [one for one in figures["high"] if one is not None]
            steps.append(
                step_of("sum", limits, by, "highest of weight × from, × by", limit, unit, source)
                | {"quantity": "limit", "substances": names, "weights": weights}
            )
        way = Way(steps, cells, number(row["value"]), number(row["high"]), number(row["limit"]))
        return self._on_basis(finding, sample, way, unit)

    def _total_row(self, finding: Mapping[str, Any], sample: str, total: str) -> Mapping[str, Any] | None:
        rows = self.totals.get((sample, total), {})
        chosen = self.sets.get(str(finding["set"]))
        stated = chosen.nondetects if chosen is not None else None
        return rows.get(stated or "") or next(iter(rows.values()), None)

    def _on_basis(self, finding: Mapping[str, Any], sample: str, way: Way, unit: str) -> Way:
        """The way with its last figures brought to the finding's basis and unit."""
        basis, wanted = text(finding["basis"]), text(finding["unit"])
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
            own = number(self.measured.samples[sample]["toc_pct"])
            cells = self.measured.cells_of(sample, {CARBON: own} if kind == "oc" and own is not None else {})
            aluminium = self.measured.aluminium(sample)
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
                    steps.append(step_of(label, start, by, "×", start * by, wanted, source, quantity=quantity))
                    told.add(start)
        return Way(steps, way.cells + cells, times(way.value, by), times(way.high, by), times(way.limit, by))

    def _carbon(self, finding: Mapping[str, Any], sample: str) -> float | None:
        """Organic carbon in per cent, at the nearer end of its range where the set says so."""
        found = number(self.measured.samples[sample]["toc_pct"])
        chosen = self.sets.get(str(finding["set"]))
        if found is None or chosen is None or chosen.toc_range is None or chosen.toc_outside != "clamp":
            return found
        return min(max(found, chosen.toc_range[0]), chosen.toc_range[1])


def _laboratorys(row: Mapping[str, Any]) -> Way:
    """The way of a total that the laboratory made itself: its figure on dry weight, no part of which was measured."""
    value, high, limit = (number(row[name]) for name in ("value", "high", "limit"))
    name, figure = ("value", value) if value is not None else ("limit", limit)
    source = "the laboratory's own total on dry weight, summing rule unknown; its cell is in the ledger as lab-total"
    steps = []
    if figure is not None:
        steps.append(step_of("read", text(row[name]), None, "read", figure, text(row["unit"]), source, quantity=name))
    return Way(steps, [], value, high, limit)


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
