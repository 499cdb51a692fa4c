"""The workbook: one sheet per table, the same cells as the frames, nothing that runs, the same bytes each time."""

from __future__ import annotations

import dataclasses

import openpyxl
import pandas as pd
import pytest

from screen.stages.report.tables import frames
from screen.stages.report.workbook import workbook
from screen.stages.report.workbook.workbook import write_workbook


@pytest.fixture(scope="module")
def written(run, tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "workbook.xlsx"
    write_workbook(run, path)
    return path


@pytest.fixture(scope="module")
def book(written):
    return openpyxl.load_workbook(written)


def test_one_sheet_per_table_and_a_cover(run, book):
    assert book.sheetnames == ["cover", *frames(run)]


def test_same_bytes_each_time(run, written, tmp_path):
    again = tmp_path / "again.xlsx"
    write_workbook(run, again)
    assert again.read_bytes() == written.read_bytes()


@pytest.mark.parametrize("name", ["findings", "totals", "results", "ledger", "samples"])
def test_cells_are_those_of_the_frame(run, book, name):
    frame = frames(run)[name]
    rows = list(book[name].iter_rows(values_only=True))
    assert list(rows[0][: len(frame.columns)]) == list(frame.columns)
    assert all(head.startswith("check_") for head in rows[0][len(frame.columns) :])
    assert len(rows) == len(frame) + 1
    for column, values in zip(frame.columns, list(zip(*rows[1:], strict=True))[: len(frame.columns)], strict=True):
        expected = [None if pd.isna(value) else value for value in frame[column].astype(object)]
        assert list(values) == expected, column


def test_heads_are_frozen_and_filtered(book):
    sheet = book["findings"]
    assert sheet.freeze_panes == "C2"
    assert sheet.auto_filter.ref.startswith("A1:")
    assert sheet.print_title_rows == "$1:$1"


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-cmd", "@sum", "\tx"])
def test_text_from_outside_is_guarded_text(run, tmp_path, text):
    samples = run.batch.samples.copy()
    samples["note"] = pd.Categorical([text, *[None] * (len(samples) - 1)])
    hostile = dataclasses.replace(run, batch=dataclasses.replace(run.batch, samples=samples))
    path = tmp_path / "hostile.xlsx"
    write_workbook(hostile, path)
    sheet = openpyxl.load_workbook(path)["samples"]
    cell = sheet.cell(2, list(samples.columns).index("note") + 1)
    assert (cell.value, cell.data_type) == ("'" + text, "s")


def test_a_long_table_stays_a_file_and_the_cover_says_so(run, tmp_path, monkeypatch):
    monkeypatch.setattr(workbook, "MOST_ROWS", 200)
    path = tmp_path / "long.xlsx"
    write_workbook(run, path)
    book = openpyxl.load_workbook(path)
    assert "findings" not in book.sheetnames
    cover = [cell for row in book["cover"].iter_rows(values_only=True) for cell in row if cell]
    assert any("tables/findings.csv" in str(text) for text in cover)


def test_figures_show_three_significant_digits(book):
    sheet = book["findings"]
    column = [cell.value for cell in sheet[1]].index("value") + 1
    shown = {sheet.cell(row, column).number_format for row in range(2, 60) if sheet.cell(row, column).value is not None}
    assert shown <= {"0.00000", "0.0000", "0.000", "0.00", "0.0", "#,##0"}
    assert len(shown) > 1
