"""Figures beyond what a unit can mean, and units about a thousand times off (intake handbook 4, range check)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest
from sheets_by_hand import figures, read_sheets

from screen.model import Batch
from screen.settings import Settings
from screen.stages.read.batch import read

HEAD = ["Sample", "Analyte", "Result", "Units"]


def batch_of(folder: Path, *rows: list[Any], settings: Settings | None = None) -> Batch:
    return read_sheets(folder, [HEAD, *rows], settings=settings)


def warned(batch: Batch) -> list[tuple[str, int | None]]:
    return [(one.code, one.row) for one in batch.problems]


@pytest.mark.parametrize(
    ("name", "unit", "most"), [("Lead", "mg/kg dry", 1e6), ("Pyrene", "ug/kg dry", 1e9), ("Sand", "%", 100)]
)
def test_more_than_the_whole_is_refused(name: str, unit: str, most: float, tmp_path: Path) -> None:
    assert warned(batch_of(tmp_path, ["AB-1", name, most * 1.01, unit]))[0] == ("impossible-value", 2)


@pytest.mark.parametrize(("name", "unit", "value"), [("Pyrene", "ug/kg dry", 2e8), ("TOC", "%", 61)])
def test_hardly_believable_is_warned_of_and_used(name: str, unit: str, value: float, tmp_path: Path) -> None:
    batch = batch_of(tmp_path, ["AB-1", name, value, unit])
    assert len(batch.results) == 1
    assert ("unit-suspect", 2) in warned(batch)


@pytest.mark.parametrize("factor", [1000, 0.001])
def test_a_metal_a_thousand_times_off_for_its_batch_is_warned_of(factor: float, tmp_path: Path) -> None:
    rows = [[f"AB-{place}", "Lead", 20 + place, "mg/kg dry"] for place in range(6)]
    batch = batch_of(tmp_path, *rows, ["AB-9", "Lead", 25 * factor, "mg/kg dry"])
    assert ("unit-suspect", 8) in warned(batch)
    assert figures(batch)["AB-9", "Lead"] == 25 * factor


def test_a_hot_spot_of_a_hundred_times_is_not(tmp_path: Path) -> None:
    rows = [[f"AB-{place}", "Lead", 20 + place, "mg/kg dry"] for place in range(6)]
    assert not batch_of(tmp_path, *rows, ["AB-9", "Lead", 2500, "mg/kg dry"]).problems


def test_moisture_above_100_is_asked_about_until_answered(tmp_path: Path) -> None:
    row = ["AB-1", "Percent moisture", 130, "%"]
    assert [one["code"] for one in batch_of(tmp_path, row).questions] == ["moisture-above-100"]
    assert not batch_of(tmp_path, row, settings=Settings(water_content="use")).questions


def test_a_share_shown_in_per_cent_under_per_cent_is_read_as_shown(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["Sample", "TOC (%)", "Lead (mg/kg dry)"], ["AB-1", 0.021, 0.15]):
        sheet.append(row)
    sheet["B2"].number_format = sheet["C2"].number_format = "0.0%"
    book.save(tmp_path / "lab.xlsx")
    batch = read([tmp_path / "lab.xlsx"])
    assert figures(batch) == {("AB-1", "Total organic carbon"): pytest.approx(2.1), ("AB-1", "Lead"): 0.15}
    assert {"percent-format", "format-shows"} <= {one.code for one in batch.problems}
