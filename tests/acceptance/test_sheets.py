"""Whole small sheets in the layouts that laboratories send, with their answers worked out beside them. All invented.

Levels: TEC and PEC (MacDonald, Ingersoll and Berger 2000).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import Path

import openpyxl
import pytest
from harness import Outcome
from openpyxl import Workbook

Screen = Callable[..., Outcome]


def close(text: str, expected: float) -> bool:
    return text != "" and math.isclose(float(text), expected, rel_tol=1e-12)


def workbook(path: Path, **sheets: Sequence[Sequence[object]]) -> Path:
    book = Workbook()
    book.remove(book["Sheet"])
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
    book.save(path)
    return path


def filled(path: Path) -> int:
    book = openpyxl.load_workbook(path)
    return sum(1 for sheet in book for row in sheet.iter_rows() for cell in row if cell.value not in (None, ""))


def assert_conserved(out: Outcome, path: Path) -> None:
    cells = sum(int(row["cells"] or 0) for row in out.rows("ledger"))
    assert cells == filled(path) == out.record["counts"]["cells"]
    assert out.record["conserved"] is True


# -- one result per row ---------------------------------------------------------------------------------------------


@pytest.fixture
def long_run(tmp_path: Path, screen_files: Screen) -> tuple[Outcome, Path]:
    header = "Sample ID;Sample Type;Parent;Depth (cm);Analyte;CAS;Result;Qualifier;RL;Units;Basis;Dilution".split(";")
    rows: list[Sequence[object]] = [
        ["Marl Estuary survey (invented)"],
        [],
        header,
        ["ME-1", "N", None, "0-10", "Percent Solids", None, 60, None, None, "%", None, 1],
        ["ME-2", "N", None, "0-10", "Percent Solids", None, 35, None, None, "%", None, 1],
        ["ME-1", "N", None, "0-10", "Lead", "7439-92-1", 31, None, 1, "mg/kg", "Dry", 1],
        ["ME-1", "N", None, "0-10", "Cadmium", "7440-43-9", 0.2, "U", 0.2, "mg/kg", "Dry", 1],
        ["ME-1", "N", None, "0-10", "Aroclor 1254", "11097-69-1", 42, None, 6, "ug/kg", "Wet", 1],
        ["ME-2", "N", None, "0-10", "Pyrene", "129-00-0", 1800, "E", 10, "ug/kg", "Dry", 1],
        ["ME-2", "N", None, "0-10", "Pyrene", "129-00-0", 1600, "D", 50, "ug/kg", "Dry", 5],
        ["ME-2", "N", None, "0-10", "Lead", "7439-92-1", 77, "J", 1, "mg/kg", "Dry", 1],
        ["ME-2-FD", "FD", "ME-2", "0-10", "Lead", "7439-92-1", 71, None, 1, "mg/kg", "Dry", 1],
        ["MB-9", "MB", None, None, "Lead", "7439-92-1", 1, "U", 1, "mg/kg", "Dry", 1],
        ["LCS-9", "LCS", None, None, "Lead", "7439-92-1", 98, None, 1, "mg/kg", "Dry", 1],
    ]
    path = workbook(tmp_path / "long.xlsx", Results=rows)
    return screen_files([path], "--water", "fresh"), path


def test_long_sheet_keeps_every_cell(long_run: tuple[Outcome, Path]) -> None:
    assert_conserved(*long_run)


def test_long_sheet_samples(long_run: tuple[Outcome, Path]) -> None:
    out = long_run[0]
    assert [row["sample"] for row in out.rows("samples")] == ["ME-1", "ME-2", "ME-2-FD"]
    assert out.one("samples", sample="ME-2-FD")["parent"] == "ME-2"
    assert close(out.one("samples", sample="ME-2")["solids_pct"], 35)


def test_long_sheet_depths(long_run: tuple[Outcome, Path]) -> None:
    row = long_run[0].one("samples", sample="ME-1")
    assert (float(row["depth_top_cm"]), float(row["depth_bottom_cm"])) == (0, 10)


def test_long_sheet_findings(long_run: tuple[Outcome, Path]) -> None:
    out = long_run[0]
    assert out.one("findings", sample="ME-1", substance="Lead")["finding"] == "below"
    assert out.one("findings", sample="ME-1", substance="Cadmium")["finding"] == "below"
    assert out.one("findings", sample="ME-2", substance="Pyrene")["finding"] == "above"
    assert out.one("findings", sample="ME-2", substance="Lead")["finding"] == "between"
    pcbs = out.one("findings", sample="ME-1", substance="Total PCBs")
    assert close(pcbs["value"], 70.0)
    assert pcbs["finding"] == "between"


def test_long_sheet_quality_rows(long_run: tuple[Outcome, Path]) -> None:
    out = long_run[0]
    assert sorted(row["row"] for row in out.rows("ledger", became="qc")) == ["13", "14"]
    assert [row["row"] for row in out.rows("ledger", became="superseded")] == ["9"]


# -- analytes down, samples across ----------------------------------------------------------------------------------


@pytest.fixture
def wide_run(tmp_path: Path, screen_files: Screen) -> tuple[Outcome, Path]:
    rows: list[Sequence[object]] = [
        ["Table 1. Marl Estuary (invented), dry weight"],
        [],
        ["Analyte", "CAS", "Units", "ME-11", "ME-12", "ME-13"],
        ["Depth", None, "cm", "0-10", "10-20", "20-40"],
        ["Metals"],
        ["Copper", "7440-50-8", "mg/kg", 25.5, "162", "<2.0"],
        ["Zinc", "7440-66-6", "mg/kg", "1,020", 118, "96 J"],
        ["PAHs"],
        ["Fluoranthene", "206-44-0", "\u00b5g/kg", 510, "2.6E+03", "ND(8)"],
        ["Benzo[a]pyrene", "50-32-8", "\u00b5g/kg", 140, 900, "--"],
        ["Total PAHs", None, "\u00b5g/kg", 650, 3500, None],
        [],
        ["-- not analysed; J estimated; ND(x) not detected at x"],
    ]
    path = workbook(tmp_path / "wide.xlsx", **{"Table 1": rows})
    return screen_files([path], "--water", "fresh"), path


def test_wide_sheet_keeps_every_cell(wide_run: tuple[Outcome, Path]) -> None:
    assert_conserved(*wide_run)


def test_wide_sheet_figures(wide_run: tuple[Outcome, Path]) -> None:
    """1,020 is a thousand and twenty: 2.0 elsewhere in the column proves the point."""
    out = wide_run[0]
    figures = {(r["sample"], r["substance"]): (r["value"], r["limit"]) for r in out.rows("results")}
    wanted = {
        ("ME-11", "Copper"): (25.5, None), ("ME-12", "Copper"): (162.0, None), ("ME-13", "Copper"): (None, 2.0),
        ("ME-11", "Zinc"): (1020.0, None), ("ME-12", "Zinc"): (118.0, None), ("ME-13", "Zinc"): (96.0, None),
        ("ME-11", "Fluoranthene"): (510.0, None), ("ME-12", "Fluoranthene"): (2600.0, None),
        ("ME-13", "Fluoranthene"): (None, 8.0), ("ME-11", "Benzo(a)pyrene"): (140.0, None),
        ("ME-12", "Benzo(a)pyrene"): (900.0, None),
    }  # fmt: skip
    got = {k: (float(v) if v else None, float(limit) if limit else None) for k, (v, limit) in figures.items()}
    assert got == wanted


def test_wide_sheet_depths_come_from_their_row(wide_run: tuple[Outcome, Path]) -> None:
    row = wide_run[0].one("samples", sample="ME-13")
    assert (float(row["depth_top_cm"]), float(row["depth_bottom_cm"])) == (20, 40)


def test_wide_sheet_findings(wide_run: tuple[Outcome, Path]) -> None:
    out = wide_run[0]
    wanted = {
        ("ME-11", "Copper"): "below", ("ME-12", "Copper"): "above", ("ME-13", "Copper"): "below",
        ("ME-11", "Zinc"): "above", ("ME-12", "Zinc"): "below", ("ME-11", "Fluoranthene"): "between",
        ("ME-12", "Fluoranthene"): "above", ("ME-13", "Fluoranthene"): "below", ("ME-11", "Benzo(a)pyrene"): "below",
    }  # fmt: skip
    got = {(sample, name): out.one("findings", sample=sample, substance=name)["finding"] for sample, name in wanted}
    assert got == wanted


def test_wide_sheet_total_and_dashes(wide_run: tuple[Outcome, Path]) -> None:
    out = wide_run[0]
    assert len(out.rows("ledger", became="lab-total")) == 2
    assert "'--" in [row["text"] for row in out.rows("ledger", became="ignored")]


# -- congeners on wet weight, moisture on another sheet -------------------------------------------------------------


@pytest.fixture
def congener_run(tmp_path: Path, screen_files: Screen) -> tuple[Outcome, Path]:
    congeners: list[Sequence[object]] = [
        ["ng/g wet weight"],
        ["Congener", "ME-31", "Flag", "ME-32", "Flag"],
        ["PCB-28", 1, None, 4, None],
        ["PCB-52", 2, None, 9, None],
        ["PCB-90/101/113", 3, "C", 12, "C"],
        ["PCB-118", 1.5, None, 6, None],
        ["PCB-129/138/163", 4, "C", 15, "C"],
        ["PCB-180/193", 0.5, "U", 5, "C"],
        ["Total PCBs", 11.5, None, 51, None],
    ]
    moisture = [["Sample", "% Moisture"], ["ME-31", 50], ["ME-32", 40]]
    path = workbook(tmp_path / "congeners.xlsx", Congeners=congeners, Moisture=moisture)
    return screen_files([path], "--water", "fresh"), path


def test_congener_sheet_keeps_every_cell(congener_run: tuple[Outcome, Path]) -> None:
    assert_conserved(*congener_run)


def test_congener_sheet_figures_on_dry_weight(congener_run: tuple[Outcome, Path]) -> None:
    """At 50 % moisture a figure doubles; at 40 % it is divided by 0.6."""
    out = congener_run[0]
    assert close(out.one("results", sample="ME-31", substance="PCB-90/101/113")["value"], 6.0)
    assert close(out.one("results", sample="ME-31", substance="PCB-180/193")["limit"], 1.0)
    assert close(out.one("results", sample="ME-32", substance="PCB-28")["value"], 4 / 0.6)


def test_congener_sheet_sums(congener_run: tuple[Outcome, Path]) -> None:
    """ME-31: 2 + 4 + 6 + 3 + 8 = 23, with the limit 24. ME-32: 51 / 0.6 = 85."""
    out = congener_run[0]
    row = out.one("totals", sample="ME-31", total="pcb-congeners")
    assert close(row["value"], 23.0)
    assert close(row["high"], 24.0)
    assert close(out.one("totals", sample="ME-32", total="pcb-congeners")["value"], 85.0)


def test_congener_sheet_findings(congener_run: tuple[Outcome, Path]) -> None:
    """A part of 23 does not show that the total is under 59.8; a part of 85 shows that it is over."""
    out = congener_run[0]
    assert out.one("findings", sample="ME-31", substance="Total PCBs")["finding"] == "undetermined"
    assert out.one("findings", sample="ME-32", substance="Total PCBs")["finding"] == "between"


# -- samples down, analytes across ----------------------------------------------------------------------------------


def test_samples_down_with_units_in_the_header(tmp_path: Path, screen_files: Screen) -> None:
    rows = [
        ["Sample ID", "Lead (mg/kg dry)", "Pyrene (ug/kg dry)", "TOC (%)"],
        ["ME-1", 40, "<5", 2.5],
        ["ME-2", 20, 1600, 1.5],
    ]
    path = workbook(tmp_path / "down.xlsx", Data=rows)
    out = screen_files([path], "--water", "fresh")
    assert_conserved(out, path)
    assert out.one("findings", sample="ME-1", substance="Lead")["finding"] == "between"
    assert out.one("findings", sample="ME-2", substance="Pyrene")["finding"] == "above"
    assert close(out.one("results", sample="ME-2", substance="Pyrene")["oc_value"], 1.6 / 0.015)


def test_samples_down_with_a_row_of_units(tmp_path: Path, screen_files: Screen) -> None:
    rows = [
        ["Sample", "Lead", "Pyrene"],
        ["CAS", "7439-92-1", "129-00-0"],
        ["Units", "mg/kg dw", "ug/kg dw"],
        ["ME-1", 40, "<5"],
        ["ME-2", 20, 1600],
    ]
    path = workbook(tmp_path / "down.xlsx", Data=rows)
    out = screen_files([path], "--water", "fresh")
    assert_conserved(out, path)
    assert len(out.rows("results")) == 4
    assert out.one("findings", sample="ME-2", substance="Pyrene")["finding"] == "above"


# -- a number stored as a number, a date where a number should be, hidden things ------------------------------------


def test_a_sample_id_stored_as_a_number_stays_whole(tmp_path: Path, screen_files: Screen) -> None:
    rows = [["Sample", "Analyte", "Result", "Unit", "Basis"], [15, "Lead", 40, "mg/kg", "dry"]]
    out = screen_files([workbook(tmp_path / "lab.xlsx", Data=rows)], "--water", "fresh")
    assert out.one("results")["sample"] == "15"


def test_a_shown_number_is_not_the_stored_one(tmp_path: Path, screen_files: Screen) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["Sample", "Analyte", "Result", "Unit", "Basis"], ["S1", "Zinc", 121.4, "mg/kg", "dry"]):
        sheet.append(row)
    sheet["C2"].number_format = "0"
    book.save(tmp_path / "lab.xlsx")
    out = screen_files([tmp_path / "lab.xlsx"], "--water", "fresh")
    assert (out.one("results")["reported"], out.one("findings")["finding"]) == ("121.4", "between")


def test_a_date_in_place_of_a_number_is_refused(tmp_path: Path, screen_files: Screen) -> None:
    from datetime import date

    rows: list[Sequence[object]] = [
        ["Sample", "Analyte", "Result", "Unit", "Basis"],
        ["S1", "Lead", date(2026, 4, 8), "mg/kg", "dry"],
        ["S1", "Zinc", 50, "mg/kg", "dry"],
    ]
    path = workbook(tmp_path / "lab.xlsx", Data=rows)
    out = screen_files([path], "--water", "fresh")
    assert out.rows("results", substance="Lead") == []
    assert [row["row"] for row in out.rows("ledger", became="rejected")] == ["2"]
    assert "C2" in out.stderr


def test_a_formula_without_a_stored_value_is_refused(tmp_path: Path, screen_files: Screen) -> None:
    rows: list[Sequence[object]] = [
        ["Sample", "Analyte", "Result", "Unit", "Basis"],
        ["S1", "Lead", "=20+20", "mg/kg", "dry"],
        ["S1", "Zinc", 50, "mg/kg", "dry"],
    ]
    out = screen_files([workbook(tmp_path / "lab.xlsx", Data=rows)], "--water", "fresh")
    assert out.rows("results", substance="Lead") == []
    assert len(out.rows("ledger", became="rejected")) == 1
    assert "C2" in out.stderr


def test_a_hidden_sheet_is_named_and_not_read(tmp_path: Path, screen_files: Screen) -> None:
    header = ["Sample", "Analyte", "Result", "Unit", "Basis"]
    path = tmp_path / "lab.xlsx"
    workbook(path, Data=[header, ["S1", "Lead", 40, "mg/kg", "dry"]], Old=[header, ["S1", "Lead", 99, "mg/kg", "dry"]])
    book = openpyxl.load_workbook(path)
    book["Old"].sheet_state = "hidden"
    book.save(path)
    out = screen_files([path], "--water", "fresh")
    assert close(out.one("results")["value"], 40.0)
    row = out.one("ledger", sheet="Old")
    assert (row["became"], row["cells"]) == ("ignored", "")
    assert "Old" in out.stderr


def test_a_hidden_row_is_read_with_a_warning(tmp_path: Path, screen_files: Screen) -> None:
    path = tmp_path / "lab.xlsx"
    workbook(path, Data=[["Sample", "Analyte", "Result", "Unit", "Basis"], ["S1", "Lead", 40, "mg/kg", "dry"]])
    book = openpyxl.load_workbook(path)
    book["Data"].row_dimensions[2].hidden = True
    book.save(path)
    out = screen_files([path], "--water", "fresh")
    assert close(out.one("results")["value"], 40.0)
    assert "hidden" in out.stderr.lower()


def test_the_same_sample_in_two_sheets_is_one_sample(tmp_path: Path, screen_files: Screen) -> None:
    one = workbook(tmp_path / "a.xlsx", M=[["Sample", "Analyte", "Result", "Unit", "Basis"],
                                           ["S1", "Pyrene", 30, "ug/kg", "wet"]])  # fmt: skip
    two = workbook(tmp_path / "b.xlsx", M=[["Sample", "% Solids"], ["S1", 60]])
    out = screen_files([one, two], "--water", "fresh")
    assert [row["sample"] for row in out.rows("samples")] == ["S1"]
    assert close(out.one("results", substance="Pyrene")["value"], 50.0)


def test_criteria_columns_are_no_samples(tmp_path: Path, screen_files: Screen) -> None:
    rows = [["Analyte", "Units", "ME-1", "ME-2", "TEC", "PEC", "Mean"], ["Lead", "mg/kg dry", 40, 20, 35.8, 128, 30]]
    path = workbook(tmp_path / "lab.xlsx", Data=rows)
    out = screen_files([path], "--water", "fresh")
    assert_conserved(out, path)
    assert {row["sample"] for row in out.rows("results")} == {"ME-1", "ME-2"}
    assert len(out.rows("ledger", became="ignored")) >= 3
