"""Spreadsheets: every kind of cell at its address, and what only the package of the file tells."""

from __future__ import annotations

import datetime as dt
import zipfile
from pathlib import Path

import openpyxl
import pytest
from openpyxl.styles import Font
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from screen.letters import column_letter
from screen.stages.read.cells.grid import BOOLEAN, DATE, ERROR, NO_VALUE, NUMBER, TEXT, Grid, number_text
from screen.stages.read.cells.package_xml import LIMITS, PackageError, shown_text
from screen.stages.read.cells.spreadsheet import read_spreadsheet


@pytest.fixture
def book() -> openpyxl.Workbook:
    return openpyxl.Workbook()


def read(book: openpyxl.Workbook, folder: Path) -> tuple[list[Grid], list[str]]:
    path = folder / "lab.xlsx"
    book.save(path)
    grids, problems = read_spreadsheet(path, "lab.xlsx", "xlsx")
    return grids, [problem.code for problem in problems]


def kind(grid: Grid, row: int, column: int) -> int:
    one = grid.columns[column]
    return int(one.kinds[one.codes[row]])


@pytest.mark.parametrize(
    ("value", "text", "wanted"),
    [
        ("QE-1", "QE-1", TEXT),
        (15, "15", NUMBER),
        (121.4, "121.4", NUMBER),
        (1e-7, "1e-07", NUMBER),
        (-0.03, "-0.03", NUMBER),
        (True, "TRUE", BOOLEAN),
        (dt.date(2026, 4, 8), "2026-04-08", DATE),
        ("#N/A", "#N/A", ERROR),
        ("=1+1", "=1+1", NO_VALUE),
        ("15", "15", TEXT),
    ],
)
def test_a_cell_keeps_its_kind_and_its_address(tmp_path, book, value, text, wanted):
    book.active["C4"] = value
    (grid,), _ = read(book, tmp_path)
    assert (grid.rows, len(grid.columns), grid.cells) == (4, 3, 1)
    assert grid.cell(3, 2) == text
    assert kind(grid, 3, 2) == wanted


def test_true_and_1_in_one_column_stay_apart(tmp_path, book):
    for row, value in enumerate([1, True, 0, False], 1):
        book.active.cell(row, 1, value)
    (grid,), _ = read(book, tmp_path)
    assert [grid.cell(row, 0) for row in range(4)] == ["1", "TRUE", "0", "FALSE"]


def test_blank_cells_are_empty(tmp_path, book):
    book.active["A1"], book.active["A2"] = "x", "  "
    (grid,), _ = read(book, tmp_path)
    assert (grid.rows, grid.cells) == (1, 1)


def test_formatting_far_below_the_table_adds_no_rows(tmp_path, book):
    book.active["A1"] = "x"
    book.active["XFD1048576"].number_format = "0.00"
    book.active.row_dimensions[1048570].height = 20
    (grid,), _ = read(book, tmp_path)
    assert (grid.rows, len(grid.columns)) == (1, 1)


def test_a_sheet_with_stray_cells_at_its_far_corner_is_refused_and_the_rest_read(tmp_path, book):
    book.active["A1"] = "x"
    book.active["XFD1048576"] = "y"
    book.create_sheet("Metals")["A1"] = "z"
    grids, codes = read(book, tmp_path)
    assert [grid.sheet for grid in grids] == ["Metals"]
    assert codes == ["sheet-too-large"]


def test_hidden_rows_columns_and_sheets_are_told(tmp_path, book):
    for row in range(1, 5):
        for column in range(1, 5):
            book.active.cell(row, column, row)
    book.active.row_dimensions[2].hidden = True
    book.active.column_dimensions["C"].hidden = True
    book.create_sheet("old")["A1"] = 1
    book["old"].sheet_state = "hidden"
    grids, codes = read(book, tmp_path)
    assert [grid.hidden for grid in grids] == [False, True]
    assert grids[0].hidden_rows == {1}
    assert grids[0].hidden_columns == {2}
    assert sorted(codes) == ["hidden-columns", "hidden-rows"]


def test_what_a_number_format_shows_is_kept_beside_what_is_stored(tmp_path, book):
    sheet = book.active
    for row, (value, form) in enumerate([(42, "0000"), (42, "General"), (0.021, "0.0%"), (121.4, "0")], 1):
        sheet.cell(row, 1, value).number_format = form
    (grid,), codes = read(book, tmp_path)
    column = grid.columns[0]
    assert [column.texts[code] for code in column.codes] == ["42", "42", "0.021", "121.4"]
    assert column.shown is not None
    assert [column.shown[code] for code in column.codes] == ["0042", "", "2.1%", ""]
    assert codes == ["format-shows", "format-shows"]


@pytest.mark.parametrize(
    ("form", "number", "shown"),
    [
        ("0000", 42, "0042"),
        ('"QE-"00', 7, "QE-07"),
        ("0%", 0.15, "15%"),
        ("0.00", 3, ""),
        ("General", 3, ""),
        ("#,##0", 3, ""),
        ("0000", 4.2, ""),
    ],
)
def test_formats_that_show_other_than_stored(form, number, shown):
    assert shown_text(form, number) == shown


def test_merged_cells_and_struck_out_cells_are_told(tmp_path, book):
    book.active["A1"] = "title"
    book.active.merge_cells("A1:D1")
    book.active["B2"] = 7
    book.active["B2"].font = Font(strike=True)
    (grid,), codes = read(book, tmp_path)
    assert grid.merged == ((0, 0, 0, 3),)
    assert codes == ["struck-out"]


def test_dates_from_1904_are_read_as_the_workbook_means_them(tmp_path, book):
    book.epoch = CALENDAR_MAC_1904
    book.active["A1"] = dt.date(2026, 4, 8)
    (grid,), codes = read(book, tmp_path)
    assert grid.cell(0, 0) == "2026-04-08"
    assert codes == ["dates-1904"]


def test_an_empty_text_from_a_formula_is_an_empty_cell(tmp_path):
    xlsxwriter = pytest.importorskip("xlsxwriter")
    book = xlsxwriter.Workbook(str(tmp_path / "f.xlsx"))
    sheet = book.add_worksheet()
    sheet.write(0, 0, "x")
    sheet.write_formula(1, 0, "=1/0", None, "#DIV/0!")
    sheet.write_formula(2, 0, "=2*21", None, 42)
    book.close()
    (grid,), _ = read_spreadsheet(tmp_path / "f.xlsx", "f.xlsx", "xlsx")
    assert [grid.cell(row, 0) for row in range(3)] == ["x", "#DIV/0!", "42"]


def test_the_second_reader_counts_the_same_cells(tmp_path, book):
    """The count of filled cells is that of openpyxl, another reader."""
    for row in range(1, 40):
        for column in range(1, 9):
            if (row * column) % 3:
                book.active.cell(row + 2, column + 1, [row / 7, "a", True, dt.date(2026, 1, 1)][row % 4])
    (grid,), _ = read(book, tmp_path)
    other = openpyxl.load_workbook(tmp_path / "lab.xlsx").active
    assert grid.cells == sum(cell.value is not None for line in other.iter_rows() for cell in line)


def rewritten(source: Path, member: str, change) -> Path:
    target = source.with_name("changed.xlsx")
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name.endswith(member):
                content = change(content)
            if content is not None:
                new.writestr(name, content)
    return target


@pytest.mark.parametrize("member", ["sheet1.xml", "workbook.xml", "sharedStrings.xml", "styles.xml"])
def test_a_document_type_is_refused_in_every_part(tmp_path, book, member):
    book.active["A1"] = "x"
    book.save(tmp_path / "lab.xlsx")
    with zipfile.ZipFile(tmp_path / "lab.xlsx") as package:
        parts = {name: package.read(name) for name in package.namelist()}
    name = next((name for name in parts if name.endswith(member)), f"xl/{member}")
    parts[name] = b"<!DOCTYPE x [<!ENTITY a 'aaaa'>]>" + parts.get(name, b"<sst/>").rpartition(b"?>")[2]
    path = tmp_path / "changed.xlsx"
    with zipfile.ZipFile(path, "w") as package:
        for name, content in parts.items():
            package.writestr(name, content)
    with pytest.raises(PackageError) as error:
        read_spreadsheet(path, "changed.xlsx", "xlsx")
    assert error.value.code == "xml-entities"


@pytest.mark.parametrize("member", ["sheet1.xml", "workbook.xml", "workbook.xml.rels"])
@pytest.mark.parametrize(
    "change", [lambda content: None, lambda content: content[: len(content) // 2], lambda content: b""]
)
def test_a_damaged_package_is_refused_or_read_without_the_part(tmp_path, book, member, change):
    book.active["A1"] = "x"
    book.save(tmp_path / "lab.xlsx")
    path = rewritten(tmp_path / "lab.xlsx", member, change)
    try:
        grids, _ = read_spreadsheet(path, "changed.xlsx", "xlsx")
    except PackageError as error:
        assert error.code in ("cut-off", "not-a-sheet")
    else:
        assert isinstance(grids, list)


def test_a_package_that_unpacks_beyond_the_bound_is_refused(tmp_path):
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        with package.open("xl/worksheets/sheet1.xml", "w") as part:
            for _ in range(LIMITS.unpacked_small // 10_000_000 + 1):
                part.write(b" " * 10_000_000)
        package.writestr("xl/workbook.xml", "<workbook/>")
    with pytest.raises(PackageError) as error:
        read_spreadsheet(path, "bomb.xlsx", "xlsx")
    assert error.value.code == "too-large"


@pytest.mark.parametrize(
    ("column", "letters"), [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA"), (16383, "XFD")]
)
def test_a_column_has_its_spreadsheet_name(column, letters):
    assert column_letter(column) == letters


@pytest.mark.parametrize(
    ("number", "text"), [(15.0, "15"), (0.1, "0.1"), (1e22, "1e+22"), (121.4, "121.4"), (1e15, "1000000000000000")]
)
def test_a_number_has_its_shortest_text(number, text):
    assert number_text(number) == text
