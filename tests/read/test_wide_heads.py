"""Heads of wide tables: names that span several columns, rows of limits, dates and number formats (all invented)."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
from sheets_by_hand import Rows, figures, read_sheets

from screen.stages.read.batch import read

N = None
LEAD, COPPER = 7.0, "<0.5"


def test_a_row_that_says_what_stands_under_each_substance(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample ID", "Lead", N, N, "Copper", N, N],
        [N, *["Result", "Qual", "MDL"] * 2],
        ["Units", "mg/kg dw", N, N, "mg/kg dw"],
        ["CAS", "7439-92-1", N, N, "7440-50-8"],
        ["ME-1", 7, N, 0.1, "ND", N, 0.5],
        ["ME-2", "ND", "U", 0.2, 0.6, "J", 0.5],
    ]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {
        ("ME-1", "Lead"): LEAD, ("ME-1", "Copper"): COPPER, ("ME-2", "Lead"): "<0.2", ("ME-2", "Copper"): 0.6,
    }  # fmt: skip
    assert batch.results["qualifier"].astype(object).fillna("").tolist()[-1] == "J"


def test_what_stands_in_front_of_the_result_under_its_substance(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample ID", "Lead (mg/kg dry)", N, N, "Copper (mg/kg dry)", N, N],
        [N, *["Qual", "RL", "Result"] * 2],
        ["ME-1", N, 0.1, 7, "U", 0.5, N],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {("ME-1", "Lead"): LEAD, ("ME-1", "Copper"): COPPER}


def test_flags_without_a_header_behind_the_last_substance(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample ID", "Lead (mg/kg dry)", N, "Copper (mg/kg dry)"],
        ["ME-1", 7, "J", 0.5, "U"],
        ["ME-2", 8, N, 0.6, N],
    ]
    assert figures(read_sheets(tmp_path, rows))["ME-1", "Copper"] == COPPER


@pytest.mark.parametrize("label", ["Reporting limit", "RL", "MDL", "Detection Limit:"])
def test_a_row_of_limits_under_the_samples_is_no_sample(label: str, tmp_path: Path) -> None:
    rows: Rows = [["Sample ID", "Lead (mg/kg dry)", "Copper (mg/kg dry)"], ["ME-1", 7, "ND"], [label, 0.1, 0.5]]
    assert figures(read_sheets(tmp_path, rows)) == {("ME-1", "Lead"): LEAD, ("ME-1", "Copper"): COPPER}


def test_rows_of_limits_that_differ_are_used_for_no_sample(tmp_path: Path) -> None:
    heads = ["Sample ID", "Lead (mg/kg dry)", "Copper (mg/kg dry)"]
    rows: Rows = [heads, ["RL", 0.1, 0.5], ["ME-1", 7, "ND"], ["RL", 0.2, 0.9], ["ME-2", 6, "ND"]]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch)["ME-1", "Copper"] == "<nan"
    assert any(one.code == "row-left-out" and one.row == 4 for one in batch.problems)


def test_rows_of_limits_that_agree_are_one(tmp_path: Path) -> None:
    heads = ["Sample ID", "Lead (mg/kg dry)", "Copper (mg/kg dry)"]
    rows: Rows = [heads, ["RL", 0.1, 0.5], ["ME-1", 7, "ND"], ["RL", 0.1, 0.5], ["ME-2", 6, "ND"]]
    assert figures(read_sheets(tmp_path, rows))["ME-2", "Copper"] == COPPER


def test_rows_that_are_no_samples_are_named(tmp_path: Path) -> None:
    rows: Rows = [["Sample ID", "Lead (mg/kg dry)", "Copper (mg/kg dry)"], ["ME-1", 7, 8], ["TEC", 35.8, 31.6]]
    batch = read_sheets(tmp_path, rows)
    assert [one.message for one in batch.problems if one.code == "row-left-out"] == [
        "rows that hold no results of a sample were left out: 'TEC' (criterion)."
    ]


def test_a_date_above_a_column_is_no_sample_id(tmp_path: Path) -> None:
    rows: Rows = [["Analyte", "Units", "ME-1", datetime(2026, 4, 7)], ["Lead", "mg/kg dry", 7, 9]]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {("ME-1", "Lead"): LEAD}
    assert "date-for-id" in {one.code for one in batch.problems}


@pytest.mark.parametrize("label", [True, False])
def test_an_id_in_a_head_or_label_is_taken_as_shown(label: bool, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    if label:
        rows: Rows = [["Sample ID:", 42], ["Analyte", "Result", "Units"], ["Lead", 7, "mg/kg dry"]]
    else:
        rows = [["Analyte", 42, "Units"], ["Lead", 7, "mg/kg dry"], ["Zinc", 7, "mg/kg dry"]]
    for row in rows:
        sheet.append(row)
    sheet["B1"].number_format = "0000"
    book.save(tmp_path / "lab.xlsx")
    assert set(read([tmp_path / "lab.xlsx"]).results["sample"]) == {"0042"}


@pytest.mark.parametrize("head", ["Hg (ug/g (dry))", "Hg [mg/kg (dw)]", "Mercury (mg/kg (dry weight))"])
def test_brackets_inside_the_brackets_of_a_unit(head: str, tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, [["Sample ID", head, "Lead (mg/kg dry)"], ["ME-1", 0.25, 7]])
    assert figures(batch)["ME-1", "Mercury"] == 0.25
    assert set(batch.results["reported_basis"]) == {"dry"}


def test_a_signature_under_the_footnotes_is_no_row_of_results(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample ID", "Analyte", "Result", "Flag", "Unit"],
        ["ME-1", "Lead", 7, "N", "mg/kg dry"],
        [],
        ["N = spike recovery outside limits"],
        ["Approved by:", "A. Person", "Date:", "2026-06-02"],
    ]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {("ME-1", "Lead"): LEAD}
    assert batch.results["why_not"].isna().all()
    assert set(batch.ledger["became"]) == {"result", "context"}
