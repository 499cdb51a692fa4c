"""From the cells in the laboratory's sheet to figures on dry weight: the steps of each measurement of the samples."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from screen.explain.rows import blank, near, number, place_of, records, step_of, text
from screen.explain.tables import Tables
from screen.reference.rules import sum_rules
from screen.reference.substances import describe
from screen.reference.units import scaled

__all__ = ["CARBON", "Measured", "Summed", "Told"]

CARBON = "Total organic carbon"
#: A row of results.csv and the weight that a sum gives it.
Summed = tuple[dict[str, Any], float]
#: Steps, and the cells that they start from.
Told = tuple[list[dict[str, Any]], list[dict[str, Any]]]
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


class Measured:
    """The results of the samples ``wanted``, each with its way from the cell to dry weight."""

    def __init__(self, tables: Tables, wanted: set[str]) -> None:
        self.samples = {str(row["sample"]): row for row in records(tables.samples)}
        self.by_sample: dict[str, list[dict[str, Any]]] = {}
        results = tables.results
        for row in records(results[results["sample"].isin(wanted)], _OF_RESULTS):
            self.by_sample.setdefault(str(row["sample"]), []).append(row)
        names = sorted({str(row["substance"]) for rows in self.by_sample.values() for row in rows})
        described = describe(names)
        self.members = dict(zip(names, described["members"], strict=True))
        stands = described["stands_for"] if "stands_for" in described else [""] * len(names)
        self.stands_for = {name: text(one) for name, one in zip(names, stands, strict=True)}
        self.weights = {
            str(total): dict(zip(part["substance"].astype(str), part["weight"].astype(float), strict=True))
            for total, part in sum_rules().members.groupby("total")
        }
        self._told: dict[int, Told] = {}

    def summed(self, sample: str, total: str) -> Iterator[Summed]:
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

    def measurement(self, row: Mapping[str, Any], sample: str) -> Told:
        """The steps from the cell to the figure on dry weight in the standard unit, and the cell; told once a row."""
        if id(row) not in self._told:
            self._told[id(row)] = self._steps_of(row, sample)
        steps, cells = self._told[id(row)]
        return list(steps), list(cells)

    def _steps_of(self, row: Mapping[str, Any], sample: str) -> Told:
        name, place = str(row["substance"]), place_of(row)
        cells = [place | {"text": text(row["reported"])}]
        quantity = "value" if number(row["value"]) is not None else "limit"
        read = number(row["read_value"] if quantity == "value" else row["read_limit"])
        where = ", ".join(
            str(part) for part in (place["file"], place["sheet"], f"{place['column']}{place['row']}") if part
        )
        reported = f"{text(row['reported'])} {text(row['qualifier'])}".strip()
        about = {"substance": name, "quantity": quantity}
        steps = [step_of("read", reported, None, "read", read, text(row["reported_unit"]), where, **about)]
        if read is None or blank(row["unit"]):
            return steps, cells
        by = number(row["factor"]) or 1.0
        now, unit = read, text(row["unit"])
        if by != 1.0:
            in_unit = float(scaled(np.array([now]), np.array([by]))[0])
            steps.append(step_of("unit", now, by, "×", in_unit, unit, "", **about))
            now = in_unit
        figure = number(row[quantity])
        if text(row["reported_basis"]) == "wet" and figure is not None:
            percent = number(row["solids_pct"]) or math.nan
            solids, source = percent / 100.0, f"solids {percent:.12g} % of sample {sample}"
            cells += self.cells_of(sample, {"Percent solids": percent, "Percent moisture": 100.0 - percent})
            steps.append(step_of("dry-weight", now, solids, "÷", figure, unit, source, **about))
        elif text(row["reported_basis"]) == "oc" and figure is not None:
            carbon = (number(self.samples[sample]["toc_pct"]) or math.nan) / 100.0
            source = f"organic carbon {text(self.samples[sample]['toc_pct'])} % of sample {sample}"
            cells += self.cells_of(sample, {CARBON: carbon * 100.0})
            steps.append(step_of("carbon", now, carbon, "×", figure, unit, source, **about))
        return steps, cells

    def cells_of(self, sample: str, figures: Mapping[str, float]) -> list[dict[str, Any]]:
        """The cells of the sample's results that gave one of ``figures`` (by substance, in the standard unit)."""
        rows = self.by_sample.get(sample, [])
        return [
            place_of(row) | {"text": text(row["reported"])}
            for row in rows
            if str(row["substance"]) in figures and near(number(row["value"]), figures[str(row["substance"])])
        ]

    def aluminium(self, sample: str) -> float | None:
        """Aluminium in per cent of dry weight."""
        for row in self.by_sample.get(sample, []):
            if str(row["substance"]) == "Aluminum" and row["used"] and (value := number(row["value"])) is not None:
                return value / 10000.0
        return None
