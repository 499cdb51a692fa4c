"""Old binary workbooks and open documents: the same cells and facts as an .xlsx gives."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from screen.stages.read.cells.grid import BOOLEAN, DATE, ERROR, NO_VALUE, NUMBER
from screen.stages.read.cells.package_xml import LIMITS, PackageError
from screen.stages.read.cells.spreadsheet import read_spreadsheet


@pytest.fixture
def old_book(tmp_path: Path) -> Path:
    xlwt = pytest.importorskip("xlwt")
    book = xlwt.Workbook()
    sheet = book.add_sheet("Metals")
    sheet.write(0, 0, 12.5)
    sheet.write(1, 0, True)
    sheet.write(2, 0, dt.date(2026, 4, 8), xlwt.easyxf(num_format_str="YYYY-MM-DD"))
    sheet.write(3, 0, xlwt.Formula("1+1"))
    sheet.row(4).set_cell_error(0, 0x2A)
    sheet.write(5, 1, "µg/kg")
    sheet.row(1).hidden = True
    sheet.col(1).hidden = True
    book.add_sheet("old").visibility = 1
    book.save(str(tmp_path / "lab.xls"))
    return tmp_path / "lab.xls"


def test_an_old_workbook_keeps_its_cells_and_kinds(old_book):
    (grid, _), _ = read_spreadsheet(old_book, "lab.xls", "xls")
    column = grid.columns[0]
    assert [column.texts[code] for code in column.codes] == ["12.5", "TRUE", "2026-04-08", "=?", "#N/A", ""]
    assert list(column.kinds[column.codes[:5]]) == [NUMBER, BOOLEAN, DATE, NO_VALUE, ERROR]
    assert grid.cell(5, 1) == "µg/kg"


def test_an_old_workbook_tells_what_is_hidden(old_book):
    grids, _ = read_spreadsheet(old_book, "lab.xls", "xls")
    assert [grid.hidden for grid in grids] == [False, True]
    assert grids[0].hidden_rows == {1}
    assert grids[0].hidden_columns == {1}


def test_a_cut_off_old_workbook_is_refused(old_book):
    old_book.write_bytes(old_book.read_bytes()[:1500])
    with pytest.raises(PackageError):
        read_spreadsheet(old_book, "lab.xls", "xls")


def open_document(folder: Path, rows: list[tuple[list[float | str | None], dict[str, object]]]) -> Path:
    pytest.importorskip("odf")
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    document = OpenDocumentSpreadsheet()
    table = Table(name="Metals")
    for values, options in rows:
        row = TableRow(**options)
        for value in values:
            cell = TableCell()
            if isinstance(value, float):
                cell = TableCell(valuetype="float", value=value)
            elif value is not None:
                cell = TableCell(valuetype="string")
            if value is not None:
                cell.addElement(P(text=str(value)))
            row.addElement(cell)
        table.addElement(row)
    document.spreadsheet.addElement(table)
    document.save(str(folder / "lab.ods"))
    return folder / "lab.ods"


def test_an_open_document_keeps_addresses_over_repeated_rows(tmp_path):
    path = open_document(
        tmp_path,
        [(["Sample", "Lead"], {}), ([None], {"numberrowsrepeated": 3}), (["QE-2", 3.0], {"visibility": "collapse"})],
    )
    (grid,), codes = read_spreadsheet(path, "lab.ods", "ods")
    assert (grid.rows, grid.cell(4, 0), grid.cell(4, 1)) == (5, "QE-2", "3")
    assert grid.hidden_rows == {4}
    assert [problem.code for problem in codes] == ["hidden-rows"]


def test_a_run_of_repeated_cells_beyond_the_bound_is_refused(tmp_path):
    path = open_document(tmp_path, [(["x"] * 70, {"numberrowsrepeated": 1_000_000})])
    assert LIMITS.cells < 70_000_000
    grids, problems = read_spreadsheet(path, "lab.ods", "ods")
    assert not grids
    assert [problem.code for problem in problems] == ["sheet-too-large"]
