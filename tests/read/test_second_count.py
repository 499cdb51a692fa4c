"""The ledger's cells against a count by other readers: openpyxl, the csv module, the XML of an open document, and the
cells as they were written to an old binary workbook (issue: cells are counted by a second reader, not by ours)."""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import pytest
from sheets_by_hand import Rows, second_count, write_book

from screen.stages.read.batch import read

N = None
LONG: Rows = [
    ["Report 7", N, "Page 1"],
    [],
    ["Sample ID", "Analyte", "Result", "Q", "RL", "Units", "Remark"],
    ["ME-1", "Lead", 7, "J", 0.5, "mg/kg dry", N],
    ["ME-1", "Zinc", "ND", N, 2, "mg/kg dry", "see note"],
    ["MB", "Zinc", 0.1, "U", 2, "mg/kg dry", N],
    ["Page 2"],
    ["Sample ID", "Analyte", "Result", "Q", "RL", "Units", "Remark"],
    ["ME-2", "Zorks", 5, N, 2, "mg/kg dry", N],
    [N, "Lead", 5, N, 2, "mg/kg dry", N],
    [],
    ["U = not detected", " "],
    ["Approved by:", "A. Person", N, N, N, N, N, 12.5],
]
WIDE: Rows = [
    ["Metals, dry weight"],
    ["Analyte", "CAS", "Units", "ME-1", N, "ME-2", N, "TEC", "Mean"],
    [N, N, N, "Result", "Q", "Result", "Q"],
    ["Metals"],
    ["Lead", "7439-92-1", "mg/kg", 7, "J", "<5", "U", 35.8, 6],
    ["Zorks", N, "mg/kg", 7, N, 8, N, N, N],
    ["PAHs"],
    ["Pyrene", "129-00-0", "ug/kg", "--", N, 80, N, 195, N],
    ["stray", N, N, N, N, N, N, N, N, N, 3],
    ["Checked", "A. P."],
]
ACROSS: Rows = [
    ["Sample", "Lead", N, "Zinc", N],
    [N, "Result", "Q", "Result", "Q"],
    ["Units", "mg/kg dry", N, "mg/kg dry"],
    ["ME-1", 5, N, 6, "U"],
    ["TEC", 35.8, N, 121],
    ["RL", 1, N, 2],
    ["Approved by:", "A. Person", N, "Date:", "1 May"],
]
SIDES: Rows = [["Analyte", "Units", "ME-1", N, "Analyte", "Units", "ME-2"], ["Lead", "mg/kg dry", 1, N, "Lead", N, 2]]
TABLES = {"long": LONG, "wide": WIDE, "across": ACROSS, "sides": SIDES}


def _text(delimiter: str, encoding: str) -> Callable[[Path, Rows], tuple[Path, int]]:
    def write(folder: Path, rows: Rows) -> tuple[Path, int]:
        path = folder / "lab.txt"
        with path.open("w", encoding=encoding, newline="") as stream:
            csv.writer(stream, delimiter=delimiter).writerows([["" if one is None else one for one in r] for r in rows])
        with path.open(encoding=encoding, newline="") as stream:
            return path, sum(bool(one.strip()) for row in csv.reader(stream, delimiter=delimiter) for one in row)

    return write


def _xlsx(folder: Path, rows: Rows) -> tuple[Path, int]:
    path = write_book(folder / "lab.xlsx", {"A": rows, "Cover": [["dry weight", 5]]})
    return path, second_count(path)


def _xls(folder: Path, rows: Rows) -> tuple[Path, int]:
    book = pytest.importorskip("xlwt").Workbook()
    sheet = book.add_sheet("A")
    cells = [(row, at, one) for row, line in enumerate(rows) for at, one in enumerate(line) if one is not None]
    for cell in cells:
        sheet.write(*cell)
    book.save(str(folder / "lab.xls"))
    return folder / "lab.xls", sum(bool(str(one).strip()) for *_, one in cells)


def _ods(folder: Path, rows: Rows) -> tuple[Path, int]:
    pytest.importorskip("odf")
    import pandas as pd

    path = folder / "lab.ods"
    width = max(map(len, rows))
    pd.DataFrame([[*row, *[N] * (width - len(row))] for row in rows]).to_excel(
        path, engine="odf", header=False, index=False
    )
    table = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
    with zipfile.ZipFile(path) as package:
        root = ElementTree.fromstring(package.read("content.xml"))
    cells = root.iter(f"{table}table-cell")
    count = sum(
        int(cell.get(f"{table}number-columns-repeated", "1")) for cell in cells if "".join(cell.itertext()).strip()
    )
    return path, count


FORMATS: dict[str, Callable[[Path, Rows], tuple[Path, int]]] = {
    "xlsx": _xlsx, "xls": _xls, "ods": _ods, "csv": _text(",", "utf-8"), "semicolon": _text(";", "cp1252"),
    "tab": _text("\t", "utf-16"), "bar": _text("|", "utf-8-sig"),
}  # fmt: skip


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("table", TABLES)
def test_every_cell_is_accounted_for(table: str, kind: str, tmp_path: Path) -> None:
    path, counted = FORMATS[kind](tmp_path, TABLES[table])
    batch = read([path])
    assert int(batch.ledger["cells"].sum()) == batch.cells == counted
