"""The four example sheets of the intake handbook: their cells, counted by openpyxl and by the csv module.

The sheets are not part of the repository; they lie beside the open data, where there are any.
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

import pytest
from sheets_by_hand import second_count

from screen.settings import Settings
from screen.stages.read.batch import read

FOLDER = Path(os.environ.get("SILTMARK_OPEN_DATA", "open_data")).parent / "lab_sheets" / "examples"
SHEETS = ("e01_long.xlsx", "e02_wide.xlsx", "e03_semicolon.csv", "e04_congeners_and_moisture_sheet.xlsx")


@pytest.mark.skipif(not FOLDER.is_dir(), reason="the example sheets of the intake handbook are not here")
@pytest.mark.parametrize("name", SHEETS)
def test_every_cell_of_an_example_sheet_is_accounted_for(name: str) -> None:
    path = FOLDER / name
    if path.suffix == ".csv":
        rows = csv.reader(path.read_text(encoding="cp1252").splitlines(), delimiter=";")
        count = sum(1 for row in rows for cell in row if cell.strip())
    else:
        count = second_count(path)
    batch = read([path], Settings())
    assert int(batch.ledger["cells"].sum()) == batch.cells == count
