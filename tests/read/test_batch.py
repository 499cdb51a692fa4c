"""Units, bases, answers and refusals of whole sheets (intake handbook 4; contract 1 and 2; sheets invented)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sheets_by_hand import Rows, figures, read_sheets, write_text

from screen.model import RESULTS, RESULTS_INNER, Batch
from screen.settings import Answer, Settings
from screen.stages.read.batch import read

HEAD = ["Sample ID", "Analyte", "Result", "Units", "Basis"]


def one(folder: Path, *rows: list[Any], settings: Settings | None = None, head: list[str] = HEAD) -> Batch:
    return read_sheets(folder, [head, *rows], settings=settings)


def codes(batch: Batch) -> set[str]:
    return {problem.code for problem in batch.problems}


@pytest.mark.parametrize(
    ("unit", "factor"),
    [
        ("mg/kg", 1.0),
        ("ug/g", 1.0),
        ("µg/kg", 0.001),
        ("μg/kg", 0.001),
        ("%", 10000.0),
        ("ng/g", 0.001),
        ("g/kg", 1000.0),
    ],
)
def test_units_come_to_the_standard_of_a_metal(unit: str, factor: float, tmp_path: Path) -> None:
    batch = one(tmp_path, ["AB-1", "Iron", 2, unit, "dry"])
    assert batch.results["factor"].iloc[0] == pytest.approx(factor, rel=1e-15)


def test_an_extracted_metal_comes_to_umol_by_its_molar_mass(tmp_path: Path) -> None:
    """112.414 g/mol: standard atomic weight of cadmium (IUPAC, from memory)."""
    batch = one(tmp_path, ["AB-1", "SEM Cadmium", 112.414, "mg/kg", "dry"])
    assert figures(batch)["AB-1", "SEM Cadmium"] == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "code"),
    [("", "unit-missing"), ("ug/L", "unit-not-solid"), ("zorks", "unit-unknown"), ("umol/g", "unit-unfit")],
)
def test_a_unit_that_is_none_of_sediment_is_refused(unit: str, code: str, tmp_path: Path) -> None:
    batch = one(tmp_path, ["AB-1", "Lead", 2, unit, "dry"])
    assert batch.results.empty
    assert code in codes(batch)
    assert list(batch.refused["sample"]) == ["AB-1"]


def test_a_basis_that_contradicts_the_unit_is_refused(tmp_path: Path) -> None:
    batch = one(tmp_path, ["AB-1", "Lead", 2, "mg/kg dry", "wet"])
    assert "basis-conflict" in codes(batch)
    assert batch.results.empty


def test_no_basis_stays_none(tmp_path: Path) -> None:
    batch = one(tmp_path, ["AB-1", "Lead", 2, "mg/kg", None])
    assert batch.results["reported_basis"].isna().all()


def test_the_basis_setting_fills_a_sheet_that_states_none(tmp_path: Path) -> None:
    batch = one(tmp_path, ["AB-1", "Lead", 2, "mg/kg", None], settings=Settings(basis="dry"))
    assert list(batch.results["reported_basis"]) == ["dry"]


def test_the_basis_setting_leaves_a_sheet_that_states_some(tmp_path: Path) -> None:
    rows = [["AB-1", "Lead", 2, "mg/kg", None], ["AB-1", "Zinc", 2, "mg/kg", "wet"]]
    batch = one(tmp_path, *rows, settings=Settings(basis="dry"))
    assert list(batch.results["reported_basis"].astype(object).fillna("")) == ["", "wet"]


def test_unless_noted_is_a_default_under_the_rows(tmp_path: Path) -> None:
    table: Rows = [
        ["All results dry weight unless noted"],
        HEAD,
        ["AB-1", "Lead", 2, "mg/kg", None],
        ["AB-1", "Zinc", 2, "mg/kg", "wet"],
    ]
    assert list(read_sheets(tmp_path, table).results["reported_basis"]) == ["dry", "wet"]


def test_a_cover_states_the_basis(tmp_path: Path) -> None:
    cover: Rows = [["Results are reported on a dry weight basis."]]
    batch = read_sheets(tmp_path, [HEAD, ["AB-1", "Lead", 2, "mg/kg", None]], Cover=cover)
    assert list(batch.results["reported_basis"]) == ["dry"]
    assert "basis-from-note" in codes(batch)


def test_moisture_repeated_per_row_is_one_result_per_sample(tmp_path: Path) -> None:
    head = ["Sample ID", "% Moisture", "Analyte", "Result", "Units"]
    rows = [
        ["AB-1", 40, "Lead", 2, "mg/kg wet"],
        ["AB-1", 40, "Zinc", 3, "mg/kg wet"],
        ["AB-2", 50, "Lead", 4, "mg/kg wet"],
    ]
    batch = one(tmp_path, *rows, head=head)
    found = figures(batch)
    assert (found["AB-1", "Percent moisture"], found["AB-2", "Percent moisture"]) == (40.0, 50.0)
    assert len(batch.results) == 5


def test_an_unknown_substance_is_refused_with_its_cell(tmp_path: Path) -> None:
    batch = one(tmp_path, ["AB-1", "Zorkium", 2, "mg/kg", "dry"])
    problem = next(problem for problem in batch.problems if problem.code == "unknown-substance")
    assert (problem.sheet, problem.row, problem.column, bool(problem.mend)) == ("Sheet1", 2, "C", True)


@pytest.mark.parametrize(
    ("answer", "number"),
    [
        (Answer("lab.xlsx", unit="ug/kg"), 0.002),
        (Answer("lab.xlsx", sheet="Sheet1", row=2, unit="mg/kg"), 2.0),
        (Answer("lab.xlsx", sample="AB-1", substance="Lead", unit="%"), 20000.0),
    ],
)
def test_an_answer_gives_the_unit(answer: Answer, number: float, tmp_path: Path) -> None:
    batch = one(tmp_path, ["AB-1", "Lead", 2, None, "dry"], settings=Settings(answers=(answer,)))
    assert figures(batch) == {("AB-1", "Lead"): pytest.approx(number, rel=1e-15)}
    assert "answer: unit" in str(batch.ledger["reason"].iloc[1])


def test_an_answer_corrects_a_cell(tmp_path: Path) -> None:
    batch = one(
        tmp_path,
        ["AB-1", "Lead", "12 or so", "mg/kg", "dry"],
        settings=Settings(answers=(Answer("lab.xlsx", row=2, column="C", read_as="12"),)),
    )
    assert figures(batch) == {("AB-1", "Lead"): 12.0}


def test_an_answer_corrects_a_name(tmp_path: Path) -> None:
    batch = one(
        tmp_path,
        ["AB-1", "Leadd", 12, "mg/kg", "dry"],
        settings=Settings(answers=(Answer("lab.xlsx", substance="Leadd", read_as="Lead"),)),
    )
    assert figures(batch) == {("AB-1", "Lead"): 12.0}


def test_an_answer_that_matches_nothing_is_told(tmp_path: Path) -> None:
    batch = one(
        tmp_path, ["AB-1", "Lead", 12, "mg/kg", "dry"], settings=Settings(answers=(Answer("other.xlsx", unit="%"),))
    )
    assert "answer-unused" in codes(batch)


def test_one_core_with_many_intervals_is_many_samples(tmp_path: Path) -> None:
    head = ["Sample ID", "Depth (cm)", "Analyte", "Result", "Units"]
    batch = one(tmp_path, ["C7", "0-10", "Lead", 2, "mg/kg dry"], ["C7", "10-20", "Lead", 3, "mg/kg dry"], head=head)
    assert list(batch.samples["sample"]) == ["C7 0-10", "C7 10-20"]
    assert list(batch.samples["depth_bottom_cm"]) == [10.0, 20.0]


def test_ids_stay_text(tmp_path: Path) -> None:
    batch = one(tmp_path, [15, "Lead", 2, "mg/kg", "dry"], ["0042", "Lead", 2, "mg/kg", "dry"])
    assert list(batch.samples["sample"]) == ["15", "0042"]


def test_frames_have_their_columns_when_nothing_was_read(tmp_path: Path) -> None:
    batch = read([write_text(tmp_path / "empty.csv", [["nothing", "here"], ["at", "all"]])])
    for frame in (batch.results, batch.lab_totals):
        assert list(frame.columns) == [*RESULTS, *RESULTS_INNER]
    assert list(batch.refused.columns) == ["sample", "substance", "reason", "file", "sheet", "row", "column"]


def test_an_unreadable_file_leaves_the_others(tmp_path: Path) -> None:
    good = write_text(tmp_path / "good.csv", [HEAD, ["AB-1", "Lead", 2, "mg/kg", "dry"]])
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"\x00\x01\x02\x03" * 50)
    batch = read([good, bad])
    assert len(batch.results) == 1
    assert [problem.file for problem in batch.problems if problem.severity == "file"] == ["bad.csv"]


@pytest.mark.parametrize("text", ["#N/A", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#NV", "#WERT!", "Err:502"])
def test_a_spreadsheet_error_is_refused_in_a_text_file_too(text: str, tmp_path: Path) -> None:
    batch = read([write_text(tmp_path / "lab.csv", [HEAD, ["AB-1", "Lead", text, "mg/kg", "dry"]])])
    assert batch.results.empty
    told = next(problem for problem in batch.problems if problem.code == "error-cell")
    assert (told.row, told.column) == (2, "C")
    assert text in told.text


def test_a_percent_sign_against_the_unit_is_quoted(tmp_path: Path) -> None:
    batch = one(tmp_path, ["AB-1", "Lead", "2.1%", "mg/kg", "dry"])
    assert batch.results.empty
    assert "'2.1%'" in next(problem for problem in batch.problems if problem.code == "percent-sign").text


FLAGS = ["Sample", "Analyte", "Result", "Qualifier", "Qualifier", "Units"]


def test_a_second_flag_of_nobody_is_refused_where_it_says_more(tmp_path: Path) -> None:
    rows = [["AB-1", "Lead", 2, None, "U", "mg/kg dry"], ["AB-1", "Zinc", 3, "J", "J", "mg/kg dry"]]
    assert figures(one(tmp_path, *rows, head=FLAGS)) == {("AB-1", "Zinc"): 3.0}


def test_an_answer_names_a_header(tmp_path: Path) -> None:
    rows = [["AB-1", "Lead", 2, None, "U", "mg/kg dry"], ["AB-1", "Zinc", 3, "J", "J", "mg/kg dry"]]
    answer = Answer("lab.xlsx", sheet="Sheet1", row=1, column="E", read_as="Validation Qualifier")
    batch = one(tmp_path, *rows, head=FLAGS, settings=Settings(answers=(answer,)))
    assert figures(batch) == {("AB-1", "Lead"): "<2", ("AB-1", "Zinc"): 3.0}
    assert "two-qualifiers" not in codes(batch)


@pytest.mark.parametrize(
    ("name", "basis"),
    [("Anthracene, solids, dry weight, micrograms per kilogram", "dry"), ("Anthracene, wet weight, ug/kg", "wet")],
)
def test_a_name_says_its_unit_and_basis(name: str, basis: str, tmp_path: Path) -> None:
    batch = one(tmp_path, ["AB-1", name, 12], head=["Sample", "Analyte", "Result"])
    assert figures(batch) == {("AB-1", "Anthracene"): 12.0}
    assert list(batch.results["reported_basis"]) == [basis]


def test_a_question_in_a_message_gets_no_full_stop(tmp_path):
    sheet = tmp_path / "lab.csv"
    sheet.write_text("Sample,Analyte,Result,Unit,Basis\nA,Lead,12,mg/kgg,dry\nA,Zinc,12,mg/kg,dry\n", encoding="utf-8")
    (told,) = (one.text for one in read([sheet]).problems if one.code == "unit-unknown")
    assert "Did you mean mg/kg? Write" in told
