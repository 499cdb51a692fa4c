"""One small invented batch in every file format that is read: nothing in, name and bytes of whole files out."""

from __future__ import annotations

import csv
import importlib.util
import io
import tempfile
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

DEMO = Path(__file__).parents[2] / "demo_data"
_SUFFIXES = (".xlsx", ".xlsm", ".xls", ".ods", ".csv", ".tsv", ".txt", ".parquet")

__all__ = ["LONG", "WIDE", "Sheets", "ods_of", "seed_files", "whole_files", "xls_of"]

#: The rows of each sheet by its name.
Sheets = Mapping[str, Sequence[Sequence[Any]]]
LONG: list[list[Any]] = [
    ["Invented estuary, batch 7", None, None, None, None, None],
    ["Sample", "Analyte", "CAS No.", "Result", "Qualifier", "Units", "RL", "Collected"],
    *(
        [sample, name, cas, value, flag, unit, limit, "2026-03-04"]
        for sample in ("QE-01", "QE-02", "QE-03")
        for name, cas, value, flag, unit, limit in (
            ("Percent solids", None, 61.5, None, "%", None),
            ("Total organic carbon", None, 2.25, None, "% dry", None),
            ("Lead", "7439-92-1", 36.5, None, "mg/kg dry", 0.5),
            ("Zinc", "7440-66-6", "<12", "U", "mg/kg dry", 12),
            ("Mercury", "7439-97-6", 0.151, "J", "mg/kg wet", 0.01),
            ("Benzo(a)pyrene", "50-32-8", "430", None, "µg/kg dry", 5),
            ("PCB-118", None, "1.5 J", None, "ng/g dry", 0.2),
            ("PCB-90/101/113", None, 4.25, None, "ng/g dry", 0.2),
            ("Aroclor 1254", None, "ND", None, "ug/kg dry", 33),
            ("4,4'-DDE", "72-55-9", 2.75, None, "ug/kg dry", 0.5),
        )
    ),
    ["J: estimated; U: not detected", None],
]
WIDE: list[list[Any]] = [
    ["Substance", "Unit", "QE-01", "QE-02", "QE-03"],
    ["Copper", "mg/kg dry", 18.25, "<5", 21],
    ["Nickel", "mg/kg dry", 9, 12.5, "ND"],
    ["Pyrene", "ug/kg dry", 210, 35.5, "40 J"],
]
_SHEETS: Sheets = {"Results": LONG, "Wide": WIDE}


@cache
def whole_files() -> dict[str, bytes]:
    """The batch as name -> content; the .parquet only where pyarrow is installed."""
    files = {
        "lab.xlsx": _xlsx(),
        "lab.xls": xls_of(_SHEETS),
        "lab.ods": ods_of(_SHEETS),
        "lab.csv": _text(",").encode(),
        "semicolons.csv": _text(";").encode("cp1252"),
        "wide.csv": _text(",", WIDE).encode("utf-8-sig"),
        "lab.tsv": _text("\t").encode("utf-16"),
    }
    if importlib.util.find_spec("pyarrow"):
        files["lab.parquet"] = _parquet()
    return files


def seed_files(more: Path | None = None) -> dict[str, bytes]:
    """``whole_files``, the sheets of the demo, one of them in the other formats too, and all sheets below ``more``."""
    files = dict(whole_files())
    found = [DEMO / "lab_sheets" / "lab_a_metals.xlsx", DEMO / "field_record.xlsx"]
    found += [one for one in sorted(more.rglob("*")) if one.suffix in _SUFFIXES] if more else []
    files |= {one.name: one.read_bytes() for one in found}
    book = openpyxl.load_workbook(found[0], read_only=True)
    rows = {sheet.title: [[_plain(one) for one in row] for row in sheet.iter_rows(values_only=True)] for sheet in book}
    files["metals.xls"], files["metals.ods"] = xls_of(rows), ods_of(rows)
    lines = (DEMO / "lab_sheets" / "lab_b_organics.csv").read_bytes().splitlines(keepends=True)
    files["organics.csv"] = b"".join(lines[:150])
    return files


def _plain(value: Any) -> Any:
    return value if value is None or isinstance(value, (int, float)) else str(value)


def _xlsx() -> bytes:
    book = openpyxl.Workbook()
    first = book.active
    first.title = "Results"
    for row in LONG:
        first.append(row)
    first["K3"] = "=D3*2"
    first["D5"].number_format = "0.0%"
    first.row_dimensions[6].hidden = True
    second = book.create_sheet("Wide")
    for row in WIDE:
        second.append(row)
    second.merge_cells("A7:C7")
    book.create_sheet("Hidden").sheet_state = "hidden"
    book["Hidden"]["A1"] = "draft"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def xls_of(sheets: Sheets) -> bytes:
    """An old binary workbook with these sheets."""
    book = xlwt.Workbook()
    for name, rows in sheets.items():
        sheet = book.add_sheet(name)
        for place, row in enumerate(rows):
            for column, value in enumerate(row):
                if value is not None:
                    sheet.write(place, column, value)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def ods_of(sheets: Sheets) -> bytes:
    """An open document with these sheets."""
    book = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for value in row:
                number = isinstance(value, (int, float))
                kind = {"valuetype": "float", "value": str(value)} if number else {"valuetype": "string"}
                cell = TableCell(**kind) if value is not None else TableCell()
                if value is not None:
                    cell.addElement(P(text=str(value)))
                line.addElement(cell)
            table.addElement(line)
        book.spreadsheet.addElement(table)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "lab.ods")
        book.save(path)
        return path.read_bytes()


def _text(delimiter: str, rows: Sequence[Sequence[Any]] = LONG) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter, lineterminator="\n")
    writer.writerows([["" if one is None else one for one in row] for row in rows])
    return stream.getvalue()


def _parquet() -> bytes:
    import pyarrow as pa
    from pyarrow import parquet

    head, *rows = LONG[1:-1]
    columns = {name: [None if row[i] is None else str(row[i]) for row in rows] for i, name in enumerate(head)}
    stream = io.BytesIO()
    parquet.write_table(pa.table(columns), stream)
    return stream.getvalue()
