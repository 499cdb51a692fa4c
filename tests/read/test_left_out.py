"""What is no result is told, with its cell and the mend: misspelled headers, second columns, figures unread."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import Rows, figures, read_sheets

from screen.model import Problem

N = None
HEAD = ["Sample ID", "Analyte", "Result", "Units"]
ROWS: Rows = [["ME-1", "Lead", 7, "mg/kg dry"], ["ME-1", "Zinc", 8, "mg/kg dry"]]


def told(folder: Path, rows: Rows, code: str) -> list[Problem]:
    return [one for one in read_sheets(folder, rows).problems if one.code == code]


@pytest.mark.parametrize(
    ("place", "typed", "meant"),
    [(2, "Resutl", "Result"), (0, "Sampel ID", "Sample ID"), (3, "Unitts", "Units")],
)
def test_a_misspelled_header_is_told_with_the_nearest_word(place: int, typed: str, meant: str, tmp_path: Path) -> None:
    head = [typed if column == place else text for column, text in enumerate(HEAD)]
    (slip,) = told(tmp_path, [head, *ROWS], "header-unclear")
    assert (slip.row, slip.column) == (1, "ABCD"[place])
    assert f"did you mean {meant!r}?" in slip.message


@pytest.mark.parametrize("word", ["Analite", "Zorks", "Determinant measured"])
def test_a_column_of_substances_under_a_word_of_its_own(word: str, tmp_path: Path) -> None:
    found = figures(read_sheets(tmp_path, [["Sample ID", word, "Result", "Units"], *ROWS]))
    assert found == {("ME-1", "Lead"): 7.0, ("ME-1", "Zinc"): 8.0}


def test_a_word_for_results_is_never_the_name_of_a_sample(tmp_path: Path) -> None:
    batch = read_sheets(
        tmp_path,
        [["Lab Sample ID", "X", "Zorks", "Result", "Result", "Units"], ["L-1", "ME-1", "Lead", 7, 7, "mg/kg dry"]],
    )
    assert batch.results.empty


def test_a_misspelled_header_of_results_is_no_sample(tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, [["Sample ID", "Analyte", "Resutl", "Units"], *ROWS])
    assert batch.results.empty


@pytest.mark.parametrize("name", ["Reference", "Upstream", "Outfall", "Control", "Station A"])
def test_a_sample_with_a_name_in_words_is_no_slip(name: str, tmp_path: Path) -> None:
    rows: Rows = [["Analyte", "Units", name], ["Lead", "mg/kg dry", 7], ["Zinc", "mg/kg dry", 8]]
    assert figures(read_sheets(tmp_path, rows)) == {(name, "Lead"): 7.0, (name, "Zinc"): 8.0}
    assert not told(tmp_path, rows, "header-unclear")


def test_of_two_columns_of_ids_the_clients_own_counts_and_the_other_is_told(tmp_path: Path) -> None:
    rows: Rows = [["Sample ID", "Client Sample ID", *HEAD[1:]], ["26-001", *ROWS[0]]]
    assert figures(read_sheets(tmp_path, rows)) == {("ME-1", "Lead"): 7.0}
    assert [one.column for one in told(tmp_path, rows, "second-column")] == ["A"]


def test_figures_under_a_head_that_is_not_understood_are_told(tmp_path: Path) -> None:
    rows: Rows = [["Sample", "Lead (mg/kg dry)", "Zinc (mg/kg dry)"], ["ME-1", 1, 2]]
    rows = [*rows, ["Sample", "Bromacil", "Diuron"], ["ME-2", 3, 4], ["ME-3", 3, 4]]
    (unread,) = told(tmp_path, rows, "figures-unread")
    assert (unread.row, unread.column) == (4, "B")


def test_figures_beside_a_table_are_told(tmp_path: Path) -> None:
    rows: Rows = [[*HEAD, N], [*ROWS[0], N, 12.5], [*ROWS[1], N, 13.5]]
    assert [one.column for one in told(tmp_path, rows, "figures-unread")] == ["F"]


@pytest.mark.parametrize("note", [["Page", 1, "of 2"], ["Report 26-0417"], ["1) see text"], ["Approved", "A. Person"]])
def test_notes_are_no_figures(note: list[object], tmp_path: Path) -> None:
    assert not told(tmp_path, [HEAD, *ROWS, [], note], "figures-unread")


@pytest.mark.parametrize("band", ["Metals (mg/kg, dry)", "Metals; mg/kg; dry", "Metals, mg/kg dry"])
def test_a_basis_behind_a_comma_in_a_band(band: str, tmp_path: Path) -> None:
    rows: Rows = [["Analyte", "ME-1", "ME-2"], [band], ["Lead", 7, 8], ["Zinc", 9, 10]]
    assert set(read_sheets(tmp_path, rows).results["reported_basis"]) == {"dry"}


@pytest.mark.parametrize("heads", [["Q", "ME-1", "Q", "ME-2"], [N, "ME-1", N, "ME-2"]])
def test_flags_that_stand_before_their_results(heads: list[str | None], tmp_path: Path) -> None:
    rows: Rows = [["Analyte", "Units", *heads], ["Lead", "mg/kg dry", "<", 7, N, 8]]
    rows = [*rows, ["Zinc", "mg/kg dry", N, 9, "U", 10]]
    assert figures(read_sheets(tmp_path, rows)) == {
        ("ME-1", "Lead"): "<7", ("ME-2", "Lead"): 8.0, ("ME-1", "Zinc"): 9.0, ("ME-2", "Zinc"): "<10",
    }  # fmt: skip


def test_a_name_merged_over_a_sign_and_its_result(tmp_path: Path) -> None:
    from sheets_by_hand import write_book

    from screen.stages.read.batch import read

    rows: Rows = [["Analyte", "Units", "ME-1", N, "ME-2"], ["Lead", "mg/kg dry", "<", 7, N, 8]]
    rows = [*rows, ["Zinc", "mg/kg dry", N, 9, "<", 10]]
    batch = read([write_book(tmp_path / "lab.xlsx", {"A": rows}, ("C1:D1", "E1:F1"))])
    assert figures(batch)["ME-1", "Lead"] == "<7"
    assert figures(batch)["ME-2", "Zinc"] == "<10"


def test_a_unit_in_every_cell_is_refused_with_its_mend(tmp_path: Path) -> None:
    rows: Rows = [["Sample", "Lead", "Pyrene"], ["ME-1", "5 mg/kg", "50 ug/kg"], ["ME-2", "<1 mg/kg", "60 ug/kg"]]
    assert len(told(tmp_path, rows, "unit-in-cell")) == 1
