"""Small sheets written by hand, read as a batch: rows in, a Batch out, and a second count of the cells."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl

from screen.model import Batch
from screen.settings import Settings
from screen.stages.read.batch import read

__all__ = ["Rows", "figures", "read_sheets", "second_count", "write_book", "write_text"]

Rows = Sequence[Sequence[Any]]


def write_book(path: Path, sheets: Mapping[str, Rows], merged: Sequence[str] = (), hidden: Sequence[str] = ()) -> Path:
    """A workbook with the rows of each sheet; ``merged`` ranges go to the first sheet."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
        if name in hidden:
            sheet.sheet_state = "hidden"
    for one in merged:
        book.worksheets[0].merge_cells(one)
    book.save(path)
    return path


def write_text(path: Path, rows: Rows, delimiter: str = ",") -> Path:
    """The rows as delimited text."""
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, delimiter=delimiter).writerows([["" if one is None else one for one in row] for row in rows])
    return path


def read_sheets(folder: Path, *tables: Rows, settings: Settings | None = None, **sheets: Rows) -> Batch:
    """The batch of one workbook with these sheets."""
    named = {f"Sheet{number}": rows for number, rows in enumerate(tables, 1)} | sheets
    batch = read([write_book(folder / "lab.xlsx", named)], settings or Settings())
    assert int(batch.ledger["cells"].sum()) == batch.cells == second_count(folder / "lab.xlsx")
    assert (batch.ledger["became"] == "result").sum() == len(batch.results)
    return batch


def second_count(path: Path) -> int:
    """Non-empty cells of the visible sheets, counted by openpyxl or csv."""
    if path.suffix == ".xlsx":
        book = openpyxl.load_workbook(path)
        shown = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
        cells = [cell for sheet in shown for row in sheet.iter_rows(values_only=True) for cell in row]
        return sum(1 for cell in cells if cell is not None and str(cell).strip())
    with path.open(encoding="utf-8", newline="") as stream:
        return sum(1 for row in csv.reader(stream) for cell in row if cell.strip())


def figures(batch: Batch) -> dict[tuple[str, str], float | str]:
    """(sample, substance) -> the number in the standard unit, ``<limit`` for a nondetect."""
    found: dict[tuple[str, str], float | str] = {}
    for row in batch.results.astype(object).to_dict("records"):
        number = row["read_value"] * row["factor"]
        found[row["sample"], row["substance"]] = (
            number if row["detected"] else f"<{row['read_limit'] * row['factor']:g}"
        )
    return found
