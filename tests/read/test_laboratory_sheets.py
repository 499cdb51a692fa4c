"""Classes of sheets as laboratories send them, each in small: every figure right, every cell counted (all invented)."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import pytest
from sheets_by_hand import Rows, figures, read_sheets, second_count, write_book, write_text

from screen.model import Batch
from screen.stages.read.batch import read

N = None


def book(folder: Path, sheets: Mapping[str, Rows], merged: tuple[str, ...] = ()) -> Batch:
    path = write_book(folder / "lab.xlsx", sheets, merged)
    batch = read([path])
    assert int(batch.ledger["cells"].sum()) == batch.cells == second_count(path)
    return batch


def codes(batch: Batch) -> set[str]:
    return {one.code for one in batch.problems}


def test_a_report_with_cover_legend_triplets_and_page_breaks(tmp_path: Path) -> None:
    heads: Rows = [
        ["Analyte", "CAS No.", "Units", "SD-01", N, N, N, "SD-02", N, N, N],
        [N, N, N, "0-10 cm", N, N, N, "10-20 cm", N, N, N],
        [N, N, N, *["Result", "Qual", "MDL", "RL"] * 2],
    ]
    metals: Rows = [
        *heads,
        ["Arsenic", "7440-38-2", "mg/kg", 5.2, N, 0.1, 0.5, 0.1, "U", 0.1, 0.5],
        ["Lead", "7439-92-1", "mg/kg", 45, "J", 0.1, 0.5, "ND", N, 0.2, 0.6],
        ["Page 2 of 7"],
        *heads,
        ["Zinc", "7440-66-6", "mg/kg", 100, N, 1, 2, 120, N, 1, 2],
        [],
        ["Reviewed by: A. Person", N, N, "Date:", "2026-06-02"],
    ]
    cover = [["All sediment results are on a dry weight basis unless noted."]]
    merged = ("D1:G1", "H1:K1", "D2:G2", "H2:K2", "D7:G7", "H7:K7", "D8:G8", "H8:K8")
    batch = book(tmp_path, {"Metals": metals, "Cover": cover, "Legend": [["U", "Not detected"]]}, merged)
    assert figures(batch) == {
        ("SD-01", "Arsenic"): 5.2, ("SD-02", "Arsenic"): "<0.1", ("SD-01", "Lead"): 45.0, ("SD-02", "Lead"): "<0.6",
        ("SD-01", "Zinc"): 100.0, ("SD-02", "Zinc"): 120.0,
    }  # fmt: skip
    assert set(batch.results["reported_basis"]) == {"dry"}
    assert dict(zip(batch.samples["sample"], batch.samples["depth_bottom_cm"], strict=True)) == {
        "SD-01": 10.0,
        "SD-02": 20.0,
    }
    assert "sheet-without-table" in codes(batch)


def test_a_row_that_names_every_column_goes_before_one_that_spans_them(tmp_path: Path) -> None:
    rows: Rows = [
        ["Analyte", N, "Core C1", N, "Core C2"],
        [N, N, "0-10 cm", "10-20 cm", "0-10 cm"],
        [N, "Unit", "C1-A", "C1-B", "C2-A"],
        ["Lead", "mg/kg dw", 1, 2, 3],
        ["Zinc", "mg/kg dw", 6, "<7", 8],
    ]
    batch = book(tmp_path, {"A": rows}, ("C1:D1",))
    assert set(batch.results["sample"]) == {"C1-A", "C1-B", "C2-A"}
    assert list(batch.samples["depth_bottom_cm"]) == [10.0, 20.0, 10.0]


def test_intervals_under_one_core_are_samples_of_their_own(tmp_path: Path) -> None:
    rows: Rows = [
        ["Analyte", "Unit", "Core C1", N, "Core C2"],
        [N, N, "0-10 cm", "10-20 cm", "0-10 cm"],
        ["Lead", "mg/kg dw", 1, 2, 3],
        ["Zinc", "mg/kg dw", 6, "<7", 8],
    ]
    found = figures(book(tmp_path, {"A": rows}, ("C1:D1",)))
    assert found["Core C1 10-20 cm", "Zinc"] == "<7"
    assert len(found) == 6


def test_bands_give_the_units_of_what_stands_under_them(tmp_path: Path) -> None:
    rows: Rows = [
        [N, "S1", N, "S2", N],
        ["Metals (mg/kg dry)"],
        ["Lead", 5, "J", 6, N],
        ["PAHs (ug/kg wet)"],
        ["Pyrene", 70, N, 80, "U"],
    ]
    batch = book(tmp_path, {"A": rows})
    assert figures(batch)["S1", "Pyrene"] == 70.0
    assert list(batch.results["reported_basis"]) == ["dry", "dry", "wet", "wet"]


@pytest.mark.parametrize("name", ["LCS % Rec", "RPD", "S1 RPD", "% Recovery", "Spike Added"])
def test_columns_of_controls_are_no_samples(name: str, tmp_path: Path) -> None:
    rows: Rows = [["Analyte", "Units", "S1", name], ["Pyrene", "ug/kg dry", 5, 98], ["Fluorene", "ug/kg dry", 7, 97]]
    assert set(book(tmp_path, {"A": rows}).results["sample"]) == {"S1"}


def test_a_column_that_may_be_a_blank_is_asked_about_by_its_name(tmp_path: Path) -> None:
    rows: Rows = [["Analyte", "Units", "RL", "MB", "S1"], ["Pyrene", "ug/kg dry", 1, "ND", 5]]
    asked = [one for one in book(tmp_path, {"A": rows}).questions if one["code"] == "qc-or-sample"]
    assert 'sample = "MB"' in str(asked[0]["answer"])


def test_blocks_under_one_another_with_moisture_in_their_labels(tmp_path: Path) -> None:
    def block(name: str, moisture: int, value: int) -> Rows:
        return [["Sample ID:", name], ["% Moisture:", moisture], ["Units:", "ug/kg wet"], ["Analyte", "Result", "Q"],
                ["Pyrene", value, N], ["Fluorene", 5, "U"]]  # fmt: skip

    found = figures(book(tmp_path, {"A": [*block("S1", 40, 10), [], *block("S2", 50, 20)]}))
    assert found == {
        ("S1", "Percent moisture"): 40.0, ("S1", "Pyrene"): 10.0, ("S1", "Fluorene"): "<5",
        ("S2", "Percent moisture"): 50.0, ("S2", "Pyrene"): 20.0, ("S2", "Fluorene"): "<5",
    }  # fmt: skip


def test_one_substance_that_the_title_or_the_sheet_names(tmp_path: Path) -> None:
    sheets: dict[str, Rows] = {
        "Carbon": [["Total organic carbon by combustion"], ["Client ID", "Result (%)", "RL"], ["S1", 2.5, 0.1],
                   ["S2", "ND", 0.1], [], ["signed"]],
        "Percent Moisture": [["Client ID", "Result", "Units"], ["S1", 40, "%"]],
    }  # fmt: skip
    assert figures(book(tmp_path, sheets)) == {
        ("S1", "Total organic carbon"): 2.5,
        ("S2", "Total organic carbon"): "<0.1",
        ("S1", "Percent moisture"): 40.0,
    }


HEAD = ["Sample", "Analyte", "Result", "RL", "RL Units", "Units"]


@pytest.mark.parametrize(
    ("unit", "own", "limit"),
    [
        ("ug/kg dry", "mg/kg", "<10"),
        ("ug/kg dry", "ug/kg", "<0.01"),
        (N, "mg/kg dry", "<10"),
        ("ug/kg dry", N, "<0.01"),
    ],
)
def test_a_limit_in_a_unit_of_its_own(unit: str | None, own: str | None, limit: str, tmp_path: Path) -> None:
    assert figures(read_sheets(tmp_path, [HEAD, ["S1", "Pyrene", "ND", 0.01, own, unit]])) == {("S1", "Pyrene"): limit}


def test_a_limit_on_another_basis_is_none(tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, [HEAD, ["S1", "Pyrene", "ND", 5, "ug/kg wet", "ug/kg dry"]])
    assert batch.results["read_limit"].isna().all()


def test_the_column_that_names_substances_is_taken_for_them(tmp_path: Path) -> None:
    rows: Rows = [["Sample", "Parameter", "Chemical Name", "Result", "Units"], ["S1", "Metals", "Lead", 5, "mg/kg dry"]]
    assert figures(read_sheets(tmp_path, rows)) == {("S1", "Lead"): 5.0}


@pytest.mark.parametrize(
    ("heads", "unit", "absent"),
    [
        ("Probe;Parameter;Messwert;Einheit;BG", "mg/kg TS", "n.n."),
        ("Echantillon;Paramètre;Résultat;Unité;LQ", "mg/kg MS", "<LQ"),
        ("Muestra;Parámetro;Resultado;Unidad;LC", "mg/kg peso seco", "no detectado"),
        ("Monster;Parameter;Resultaat;Eenheid;Rapportagegrens", "mg/kg ds", "niet aangetoond"),
    ],
)
def test_other_languages(heads: str, unit: str, absent: str, tmp_path: Path) -> None:
    names = {"Pro": ("Blei", "Kupfer"), "Ech": ("Plomb", "Cuivre"), "Mue": ("Plomo", "Cobre"), "Mon": ("Lood", "Koper")}
    lead, copper = names[heads[:3]]
    rows = [heads.split(";"), ["K1", lead, "1.234,5", unit, "0,5"], ["K1", copper, absent, unit, "0,5"]]
    batch = read([write_text(tmp_path / "lab.csv", rows, ";")])
    assert figures(batch) == {("K1", "Lead"): 1234.5, ("K1", "Copper"): "<0.5"}
    assert set(batch.results["reported_basis"]) == {"dry"}


def test_rows_and_units_of_the_exchange_standard(tmp_path: Path) -> None:
    """Column names of the Water Quality Portal's result export; a nondetect has the unit of its limit only."""
    head = ("OrganizationIdentifier,ActivityIdentifier,ActivityTypeCode,ActivityMediaName,CharacteristicName,"
            "ResultMeasureValue,ResultMeasure/MeasureUnitCode,ResultDetectionConditionText,ResultWeightBasisText,"
            "DetectionQuantitationLimitTypeName,DetectionQuantitationLimitMeasure/MeasureValue,"
            "DetectionQuantitationLimitMeasure/MeasureUnitCode,ResultStatusIdentifier").split(",")  # fmt: skip
    base = ["ORG", "A-1", "Sample-Routine", "Sediment"]
    rows: Rows = [
        head,
        [*base, "Lead", 30, "mg/kg", N, "Dry", N, N, N, "Final"],
        [*base, "Pyrene", N, N, "Not Detected", "Dry", "Method Detection Level", 5, "ug/kg", "Final"],
        ["ORG", "A-1", "Sample-Routine", "Water", "Zinc", 5, "ug/L", N, N, N, N, N, "Final"],
        ["ORG", "A-2", "Quality Control Sample-Lab Blank", "Sediment", "Zinc", 5, "mg/kg", N, "Dry", N, N, N, "Final"],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {("A-1", "Lead"): 30.0, ("A-1", "Pyrene"): "<5"}


@pytest.mark.parametrize("flags", ["Lead Q", "Lead (mg/kg dry) Q", "Lead remark", "Odd word"])
def test_flags_beside_a_header_with_its_unit_are_not_lost(flags: str, tmp_path: Path) -> None:
    rows: Rows = [["Sample", "Lead (mg/kg dry)", flags, "Zinc (mg/kg dry)"], ["S1", 5, "U", 7], ["S2", 6, N, 8]]
    assert figures(read_sheets(tmp_path, rows))["S1", "Lead"] == "<5"


def test_sheets_with_legends_of_their_own(tmp_path: Path) -> None:
    table: Rows = [["Sample", "Analyte", "Result", "Q", "Units"], ["S1", "Lead", 5, "Z", "mg/kg dry"]]
    other: Rows = [table[0], ["S1", "Zinc", 5, "Z", "mg/kg dry"]]
    sheets = {"A": [*table, [], ["Z: not detected"]], "B": [*other, [], ["Z: estimated"]]}
    assert figures(book(tmp_path, sheets)) == {("S1", "Lead"): "<5", ("S1", "Zinc"): 5.0}


def test_a_word_in_a_title_above_a_column_says_nothing_of_it(tmp_path: Path) -> None:
    """``x`` is also a header for eastings."""
    rows: Rows = [["Table 1", N, "x"], ["Analyte", "Units", "S1", "S2"], ["Lead", "mg/kg dry", 1, 2],
                  ["Zinc", "mg/kg dry", 3, 4]]  # fmt: skip
    assert len(figures(book(tmp_path, {"A": rows}))) == 4


def test_criteria_in_a_second_header_row_are_no_samples(tmp_path: Path) -> None:
    rows: Rows = [["Analyte", "Units", "S1", "S2", "Criteria", N], [N, N, N, N, "TEC", "PEC"],
                  ["Lead", "mg/kg dry", 1, 2, 35.8, 128], ["Zinc", "mg/kg dry", 3, 4, 121, 459]]  # fmt: skip
    assert set(book(tmp_path, {"A": rows}, ("E1:F1",)).results["sample"]) == {"S1", "S2"}


def test_a_date_cell_is_no_sample_id(tmp_path: Path) -> None:
    rows: Rows = [["Sample", "Analyte", "Result", "Units"], [date(2026, 4, 8), "Lead", 5, "mg/kg dry"],
                  ["4-08", "Lead", 6, "mg/kg dry"]]  # fmt: skip
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {("4-08", "Lead"): 6.0}
    assert "date-for-id" in codes(batch)


@pytest.mark.parametrize("text_first", [True, False])
def test_a_date_cell_is_no_sample_id_though_another_file_has_that_text(text_first: bool, tmp_path: Path) -> None:
    heads: Rows = [["Sample", "Analyte", "Result", "Units"]]
    book_path, text_path = ("b.xlsx", "a.csv") if text_first else ("a.xlsx", "b.csv")
    dated = write_book(tmp_path / book_path, {"A": [*heads, [date(2026, 4, 8), "Zinc", 5, "mg/kg dry"],
                                                    ["Q1", "Zinc", 7, "mg/kg dry"]]})  # fmt: skip
    typed = write_text(tmp_path / text_path, [*heads, ["2026-04-08", "Lead", 6, "mg/kg dry"],
                                              ["Q1", "Lead", 8, "mg/kg dry"]])  # fmt: skip
    batch = read(sorted([dated, typed]))
    assert figures(batch) == {("2026-04-08", "Lead"): 6.0, ("Q1", "Lead"): 8.0, ("Q1", "Zinc"): 7.0}
