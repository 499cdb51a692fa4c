"""Tables one under another: a new head always ends the table above, so that no figure goes to another's name."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import Rows, figures, read_sheets

N = None


@pytest.mark.parametrize("gap", [[], [[]]])
@pytest.mark.parametrize("corner", [N, "Determination", "Analyte"])
def test_other_samples_above_the_same_substances(corner: str | None, gap: Rows, tmp_path: Path) -> None:
    rows: Rows = [
        [corner, "Units", "ME-1", "ME-2"],
        ["Lead", "mg/kg dry", 1, 2],
        ["Zinc", "mg/kg dry", 3, 4],
        *gap,
        [corner, "Units", "ME-3", "ME-4"],
        ["Lead", "mg/kg dry", 5, 6],
        ["Zinc", "mg/kg dry", 7, 8],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {
        ("ME-1", "Lead"): 1.0, ("ME-2", "Lead"): 2.0, ("ME-1", "Zinc"): 3.0, ("ME-2", "Zinc"): 4.0,
        ("ME-3", "Lead"): 5.0, ("ME-4", "Lead"): 6.0, ("ME-3", "Zinc"): 7.0, ("ME-4", "Zinc"): 8.0,
    }  # fmt: skip


def test_other_samples_without_units_or_a_corner(tmp_path: Path) -> None:
    rows: Rows = [["mg/kg dry"], [N, "ME-1", "ME-2"], ["Lead", 1, 2], ["Zinc", 3, 4]]
    rows = [*rows, [N, "ME-3", "ME-4"], ["Arsenic", 5, 6], ["Nickel", 7, 8]]
    assert figures(read_sheets(tmp_path, rows))["ME-3", "Arsenic"] == 5.0


@pytest.mark.parametrize(
    "between",
    [
        ["Bromacil", "mg/kg dry", "NA", "--"],
        ["Analyst", N, "A. P.", "B. P."],
        ["Metals"],
        ["Analysed", N, "1 May", "2 May"],
    ],
)
def test_rows_between_substances_that_name_no_samples(between: Rows, tmp_path: Path) -> None:
    rows: Rows = [[N, "Units", "ME-1", "ME-2"], ["Lead", "mg/kg dry", 1, 2], between, ["Zinc", "mg/kg dry", 3, 4]]
    assert {sample for sample, _ in figures(read_sheets(tmp_path, rows))} == {"ME-1", "ME-2"}


def test_a_head_of_unknown_substances_ends_the_table_above(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample", "Lead (mg/kg dry)", "Zinc (mg/kg dry)"],
        ["ME-1", 1, 2],
        ["Sample", "Bromacil (mg/kg dry)", "Diuron (mg/kg dry)"],
        ["ME-2", 3, 4],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {("ME-1", "Lead"): 1.0, ("ME-1", "Zinc"): 2.0}


@pytest.mark.parametrize("title", ["PCBs (Aroclors), ug/kg dry weight", "Aroclors by 8082A, ug/kg dry weight"])
def test_aroclors_by_their_numbers_across_a_row(title: str, tmp_path: Path) -> None:
    rows: Rows = [
        ["Metals, mg/kg dry weight"], ["Sample", "Lead", "Zinc"], ["ME-1", 1, 2], [],
        [title], ["Sample", 1254, "1260"], ["ME-1", 60, 20],
    ]  # fmt: skip
    found = figures(read_sheets(tmp_path, rows))
    assert found["ME-1", "Aroclor 1254"] == 60.0
    assert found["ME-1", "Lead"] == 1.0


def test_figures_that_rise_are_no_numbers_of_congeners(tmp_path: Path) -> None:
    rows: Rows = [["PCB congeners, ng/g dry"], ["Sample", "PCB-8", "PCB-18", "PCB-28", "PCB-52"]]
    rows = [*rows, ["ME-1", 1, 2, 3, 4], ["ME-2", 5, 6, 7, 8]]
    found = figures(read_sheets(tmp_path, rows))
    assert [found["ME-1", name] for name in ("PCB-8", "PCB-18", "PCB-28", "PCB-52")] == [1.0, 2.0, 3.0, 4.0]
    assert len(found) == 8


def test_cells_merged_over_several_rows_speak_for_each(tmp_path: Path) -> None:
    from sheets_by_hand import write_book

    from screen.stages.read.batch import read

    rows: Rows = [["Sample ID", "Analyte", "Result", "Units"], ["ME-1", "Lead", 5, "mg/kg dry"], [N, "Zinc", 6, N]]
    batch = read([write_book(tmp_path / "lab.xlsx", {"A": rows}, ("A2:A3", "D2:D3"))])
    assert figures(batch) == {("ME-1", "Lead"): 5.0, ("ME-1", "Zinc"): 6.0}
    assert int(batch.ledger["cells"].sum()) == batch.cells == 10


@pytest.mark.parametrize("heads", [("Result (wet)", "Result (dry)"), ("Result (dry wt)", "Result (wet wt)")])
def test_of_two_columns_of_results_the_dry_one_counts(heads: tuple[str, str], tmp_path: Path) -> None:
    figure = {True: 10, False: 5}
    rows: Rows = [
        ["Sample", "Analyte", *heads, "Units"],
        ["ME-1", "Lead", *(figure["dry" in one] for one in heads), "mg/kg"],
    ]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {("ME-1", "Lead"): 10.0}
    assert set(batch.results["reported_basis"]) == {"dry"}


def test_a_basis_in_the_head_of_the_units(tmp_path: Path) -> None:
    rows: Rows = [["Sample", "Analyte", "Result", "Units (dry weight)"], ["ME-1", "Lead", 5, "mg/kg"]]
    assert set(read_sheets(tmp_path, rows).results["reported_basis"]) == {"dry"}


def test_bands_of_tables_that_stand_side_by_side(tmp_path: Path) -> None:
    rows: Rows = [
        ["Analyte", "ME-1", N, "Analyte", "ME-2"],
        ["Metals (mg/kg, dry)", N, N, "Metals (mg/kg, dry)", N],
        ["Lead", 1, N, "Lead", 2],
        ["PAHs (ug/kg, dry)", N, N, "PAHs (ug/kg, dry)", N],
        ["Pyrene", 3, N, "Pyrene", 4],
    ]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {
        ("ME-1", "Lead"): 1.0, ("ME-2", "Lead"): 2.0, ("ME-1", "Pyrene"): 3.0, ("ME-2", "Pyrene"): 4.0,
    }  # fmt: skip
    assert set(batch.results["reported_basis"]) == {"dry"}


def test_tables_side_by_side_with_the_names_over_several_columns(tmp_path: Path) -> None:
    part: Rows = [["", "ME-1", N, "ME-2", N], ["Analyte", "Result", "RL", "Result", "RL"]]
    part = [*part, ["Lead (mg/kg dry)", 1, N, "<RL", 2], ["Zinc (mg/kg dry)", 3, N, 4, N]]
    other = [[one.replace("ME-1", "ME-3").replace("ME-2", "ME-4") if isinstance(one, str) else one for one in row]
             for row in part]  # fmt: skip
    found = figures(read_sheets(tmp_path, [[*left, N, *right] for left, right in zip(part, other, strict=True)]))
    assert len(found) == 8
    assert (found["ME-2", "Lead"], found["ME-3", "Zinc"]) == ("<2", 3.0)
