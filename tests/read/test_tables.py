"""Layouts: the same four figures of two samples, however a laboratory arranges them (intake handbook 1; invented)."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import Rows, figures, read_sheets

WANTED = {("AB-1", "Lead"): 31.0, ("AB-1", "Pyrene"): "<8", ("AB-2", "Lead"): 77.0, ("AB-2", "Pyrene"): 1600.0}

LONG: Rows = [
    ["Sample ID", "Analyte", "Result", "Qual", "RL", "Units", "Basis"],
    ["AB-1", "Lead", 31, None, 1, "mg/kg", "dry"],
    ["AB-1", "Pyrene", 8, "U", 8, "ug/kg", "dry"],
    ["AB-2", "Lead", 77, "J", 1, "mg/kg", "dry"],
    ["AB-2", "Pyrene", 1600, None, 8, "ug/kg", "dry"],
]
DOWN: Rows = [["Analyte", "Units", "AB-1", "AB-2"], ["Lead", "mg/kg dry", 31, 77], ["Pyrene", "ug/kg dry", "<8", 1600]]
LAYOUTS: dict[str, Rows] = {
    "long": LONG,
    "long, other order of columns": [[row[i] for i in (5, 2, 6, 1, 3, 0, 4)] for row in LONG],
    "long under titles": [["Report 7"], [], ["All invented", None, "x"], [], *LONG],
    "long with a repeated header": [*LONG[:3], [], ["Page 2 of 2"], LONG[0], *LONG[3:]],
    "long with notes and a signature": [*LONG, [], ["U not detected"], ["Reviewed by:", "A. Name"]],
    "long, unit in the header": [
        ["Sample", "Parameter", "Result (ug/kg dry)"],
        ["AB-1", "Lead", 31000],
        ["AB-1", "Pyrene", "<8"],
        ["AB-2", "Lead", 77000],
        ["AB-2", "Pyrene", 1600],
    ],
    "analytes down": DOWN,
    "analytes down, title with the basis": [
        ["Table 1, dry weight"],
        ["Parameter", "Unit", "AB-1", "AB-2"],
        ["Metals"],
        ["Lead", "mg/kg", 31, 77],
        ["PAHs"],
        ["Pyrene", "ug/kg", "8 U", 1600],
    ],
    "analytes down, flags in unnamed columns": [
        ["Client ID", None, "AB-1", None, "AB-2", None],
        ["Lab ID", None, "L1", None, "L2", None],
        ["Sample Type", None, "SA", None, "SA", None],
        ["Units", None, "UG/KG_DRY", None, "UG/KG_DRY", None],
        [],
        ["Lead", None, 31000, None, 77000, "J"],
        ["Pyrene", None, 8, "U", 1600, None],
    ],
    "analytes down, triplets": [
        [None, None, "AB-1", None, None, "AB-2", None, None],
        ["Analyte", "Unit", "Result", "Q", "RL", "Result", "Q", "RL"],
        ["Lead", "mg/kg dry", 31, None, 1, 77, "J", 1],
        ["Pyrene", "ug/kg dry", "ND", None, 8, 1600, None, 8],
    ],
    "analytes down, named flags": [
        ["Analyte", "Unit", "AB-1", "AB-1 Q", "AB-2", "AB-2 Q"],
        ["Lead", "mg/kg dry", 31, None, 77, None],
        ["Pyrene", "ug/kg dry", 8, "U", 1600, None],
    ],
    "analytes down, criteria beside": [
        [*row, *more]
        for row, more in zip(DOWN, (["TEC", "PEC", "Max"], [35.8, 128, 77], [195, 1520, 1600]), strict=True)
    ],
    "samples down": [["Sample", "Lead (mg/kg dry)", "Pyrene (ug/kg dry)"], ["AB-1", 31, "<8"], ["AB-2", 77, 1600]],
    "samples down, unit and CAS rows": [
        ["Sample ID", "Date", "Lead", "Pyrene"],
        ["CAS", None, "7439-92-1", "129-00-0"],
        ["Units", None, "mg/kg dry", "ug/kg dry"],
        ["AB-1", "2026-05-12", 31, "<8"],
        ["AB-2", "2026-05-12", 77, 1600],
    ],
    "samples down, triplets": [
        ["Sample", "Lead_UGG", "Lead_Q", "Lead_DL", "Pyrene_NGG", "Pyrene_Q", "Pyrene_DL", "Basis"],
        ["AB-1", 31, None, 1, None, "ND", 8, "dry"],
        ["AB-2", 77, None, 1, 1600, None, 8, "dry"],
    ],
    "blocks under one another": [
        ["Sample ID:", "AB-1"],
        ["Analyte", "Result", "Q", "Units"],
        ["Lead", 31, None, "mg/kg dry"],
        ["Pyrene", 8, "U", "ug/kg dry"],
        [],
        ["Sample ID:", "AB-2"],
        ["Analyte", "Result", "Q", "Units"],
        ["Lead", 77, None, "mg/kg dry"],
        ["Pyrene", 1600, None, "ug/kg dry"],
    ],
    "blocks side by side": [
        ["Sample ID: AB-1", None, None, None, "Sample ID: AB-2"],
        ["Analyte", "Result", "Units", None, "Analyte", "Result", "Units"],
        ["Lead", 31, "mg/kg dry", None, "Lead", 77, "mg/kg dry"],
        ["Pyrene", "<8", "ug/kg dry", None, "Pyrene", 1600, "ug/kg dry"],
    ],
    "tables under one another": [
        ["Metals, mg/kg dry weight"],
        ["Analyte", "AB-1", "AB-2"],
        ["Lead", 31, 77],
        [],
        ["PAHs, ug/kg dry weight"],
        ["Analyte", "AB-1", "AB-2"],
        ["Pyrene", "<8", 1600],
    ],
    "samples down, tables side by side": [
        ["Sample", "Lead (mg/kg dry)", None, "Sample", "Pyrene (ug/kg dry)"],
        ["AB-1", 31, None, "AB-2", 1600],
        ["AB-2", 77, None, "AB-1", "<8"],
    ],
    "tables side by side": [
        ["Analyte", "Unit", "AB-1", "AB-2", None, "Analyte", "Unit", "AB-1", "AB-2"],
        ["Lead", "mg/kg dry", 31, 77, None, "Pyrene", "ug/kg dry", "<8", 1600],
    ],
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_gives_the_same_figures(layout: str, tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, LAYOUTS[layout])
    assert figures(batch) == WANTED
    assert set(batch.results["reported_basis"]) == {"dry"}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_table_says_why_it_was_taken(layout: str, tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, LAYOUTS[layout])
    assert batch.tables
    assert all(table["why"] and table["fields"] for table in batch.tables)


def test_a_sheet_per_method_is_joined_by_sample(tmp_path: Path) -> None:
    metals: Rows = [["Sample", "Lead (mg/kg wet)"], ["AB-1", 31]]
    water: Rows = [["Sample", "% Moisture"], ["AB-1", 50]]
    batch = read_sheets(tmp_path, metals, water)
    assert figures(batch) == {("AB-1", "Lead"): 31.0, ("AB-1", "Percent moisture"): 50.0}


def test_criteria_columns_are_named(tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, LAYOUTS["analytes down, criteria beside"])
    assert [one.column for one in batch.problems if one.code == "column-left-out"] == ["E", "F", "G"]


def test_a_hidden_sheet_is_named_and_not_read(tmp_path: Path) -> None:
    from sheets_by_hand import write_book

    from screen.stages.read.batch import read

    batch = read([write_book(tmp_path / "lab.xlsx", {"Now": LONG, "Old": LONG}, hidden=["Old"])])
    entry = batch.ledger[batch.ledger["sheet"] == "Old"]
    assert list(entry["became"]) == ["ignored"]
    assert entry["cells"].isna().all()
    assert "hidden-sheet" in {one.code for one in batch.problems}


def test_prose_is_no_table(tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, [["Dear client"], ["The lead laboratory was closed."]])
    assert {one.code for one in batch.problems} == {"no-table"}
    assert set(batch.ledger["became"]) == {"context"}
