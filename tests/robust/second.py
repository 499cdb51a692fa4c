"""A second reader of each sort of file: a path in, the number of its filled cells out, or None where it cannot read it.

Text by the csv module, .xlsx by openpyxl, .xls by xlrd, .ods by the XML parser of the standard library: none of them is
what Siltmark reads with. Hidden sheets are left out, as they are in the ledger; blank texts are no cells.
"""

from __future__ import annotations

import csv
import warnings
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import openpyxl
import xlrd

from screen.stages.read.cells.textfile import text_form

__all__ = ["count_cells"]

_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


def count_cells(path: Path, kind: str) -> int | None:
    """Filled cells of the file; ``kind`` is xlsx, xls, ods or text (None for any other)."""
    readers = {"text": _text, "xlsx": _xlsx, "xls": _xls, "ods": _ods}
    if kind not in readers:
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return readers[kind](path)
    except Exception:  # a file damaged beyond this reader is no witness
        return None


def _text(path: Path) -> int:
    form = text_form(path)
    csv.field_size_limit(10_000_000)
    with path.open(encoding=form.encoding, newline="") as stream:
        return sum(bool(one.strip()) for row in csv.reader(stream, delimiter=form.delimiter) for one in row)


def _xlsx(path: Path) -> int:
    stored = openpyxl.load_workbook(path, data_only=False)
    return sum(
        _filled(cell)
        for sheet in stored.worksheets
        if sheet.sheet_state == "visible"
        for row in sheet.iter_rows(values_only=True)
        for cell in row
    )


def _xls(path: Path) -> int:
    book = xlrd.open_workbook(path, logfile=None)
    return sum(
        cell.ctype not in (xlrd.XL_CELL_EMPTY, xlrd.XL_CELL_BLANK) and _filled(cell.value)
        for sheet in book.sheets()
        if sheet.visibility == 0
        for row in sheet.get_rows()
        for cell in row
    )


def _ods(path: Path) -> int:
    with zipfile.ZipFile(path) as package:
        root = ElementTree.fromstring(package.read("content.xml"))
    count = 0
    for row in root.iter(f"{_TABLE}table-row"):
        times = int(row.get(f"{_TABLE}number-rows-repeated", "1"))
        for cell in row:
            kind = cell.get(f"{_OFFICE}value-type")
            text = "".join("".join(one.itertext()) for one in cell.iter(f"{_TEXT}p"))
            filled = bool(text.strip()) if kind in ("string", None) else True
            count += filled * times * int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
    return count


def _filled(value: object) -> bool:
    return value is not None and (not isinstance(value, str) or bool(value.strip()))
