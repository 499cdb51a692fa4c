"""Sheets as other laboratories lay them out, each with one thing that was once read wrongly (all invented)."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import Rows, figures, read_sheets

from screen.settings import Answer, Settings
from screen.stages.read.tables.legend import read_legend
from screen.stages.read.words.fields import not_a_sample

N = None


def test_titles_of_groups_give_each_the_unit_of_its_columns(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample", "Metals (mg/kg dry)", N, N, N, "PAHs (ug/kg dry)"],
        [N, "Lead", N, "Zinc", N, "Pyrene", N, "Chrysene"],
        [N, *["Result", "Qual"] * 4],
        ["ME-1", 10, N, 55, "J", 100, N, 20, "U"],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {
        ("ME-1", "Lead"): 10, ("ME-1", "Zinc"): 55, ("ME-1", "Pyrene"): 100, ("ME-1", "Chrysene"): "<20",
    }  # fmt: skip


def test_titles_of_groups_give_each_its_basis(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample", "Metals, mg/kg dry", N, "PAHs, ug/kg wet"],
        [N, "Lead", "Zinc", "Pyrene"],
        ["ME-1", 10, 55, 100],
    ]
    batch = read_sheets(tmp_path, rows)
    assert batch.results["reported_basis"].astype(object).tolist() == ["dry", "dry", "wet"]


def test_a_legend_that_explains_coelution_leaves_the_peaks_whole(tmp_path: Path) -> None:
    rows: Rows = [
        ["Results in ng/g, dry weight"],
        ["Congener", "ME-1", N],
        [N, "Found", "Flag"],
        ["PCB-20", 310, "C"],
        ["PCB-28", N, "C20"],
        ["C = coelutes; Cxx = coelutes with congener xx"],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {("ME-1", "PCB-20/28"): 310}


@pytest.mark.parametrize(
    ("meaning", "effect"),
    [
        ("Analyte detected below the RL", "estimated"),
        ("less than the reporting limit but greater than or equal to the IDL", "estimated"),
        ("result is < RL but >= MDL", "estimated"),
        ("below the reporting limit", "nondetect"),
        ("analyzed for but not detected above the MDL", "nondetect"),
    ],
)
def test_a_legend_of_what_lies_between_two_limits(meaning: str, effect: str) -> None:
    assert read_legend([f"B: {meaning}"]) == {"B": frozenset({effect})}


def test_dates_above_the_columns_are_no_sample_ids(tmp_path: Path) -> None:
    metals: Rows = [["Lead (mg/kg dry wt)", 5, 6], ["Zinc (mg/kg dry wt)", 7, 8]]
    rows: Rows = [["", "ME-1", "ME-2"], ["Sampled", "2026-05-01", "2026-05-02"], *metals]
    assert {sample for sample, _ in figures(read_sheets(tmp_path, rows))} == {"ME-1", "ME-2"}


def test_an_id_above_its_column_stands_without_the_word_for_it(tmp_path: Path) -> None:
    rows: Rows = [["mg/kg dry"], ["Metal", "Client ID: ME-1", "Client ID: ME-2"], ["Lead", 5, 6], ["Zinc", 7, 8]]
    assert {sample for sample, _ in figures(read_sheets(tmp_path, rows))} == {"ME-1", "ME-2"}


ROWS: Rows = [["Sample", "Analyte", "Zfx", "Unit"], ["ME-1", "Lead", 5, "mg/kg dry"], ["ME-2", "Lead", 6, "mg/kg dry"]]


def test_an_unknown_header_of_results_is_asked_about_and_is_no_sample(tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, ROWS)
    assert not len(batch.results)
    assert [question["code"] for question in batch.questions] == ["header-unclear"]


def test_the_answer_reads_the_column(tmp_path: Path) -> None:
    answer = Answer(file="lab.xlsx", sheet="Sheet1", row=1, column="C", read_as="Result")
    assert figures(read_sheets(tmp_path, ROWS, settings=Settings(answers=(answer,)))) == {
        ("ME-1", "Lead"): 5, ("ME-2", "Lead"): 6,
    }  # fmt: skip


@pytest.mark.parametrize(("yes", "no"), [("Y", "N"), ("Yes", "No"), ("TRUE", "FALSE"), ("ND", N)])
def test_a_yes_under_nondetect_means_not_detected(yes: str, no: str | None, tmp_path: Path) -> None:
    head = ["Sample", "Analyte", "Result", "Nondetect", "Unit"]
    rows: Rows = [head, ["ME-1", "Lead", 5, yes, "mg/kg dry"], ["ME-2", "Lead", 6, no, "mg/kg dry"]]
    assert figures(read_sheets(tmp_path, rows)) == {("ME-1", "Lead"): "<5", ("ME-2", "Lead"): 6}


def test_estimated_maxima_in_a_column_of_their_own(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample", "Analyte", "Result", "EMPC", "Units"],
        ["ME-1", "OCDD", 612, N, "pg/g dry"],
        ["ME-1", "OCDF", N, 0.9, "pg/g dry"],
    ]
    batch = read_sheets(tmp_path, rows)
    assert batch.results["kind"].astype(object).tolist() == ["exact", "estimated-maximum"]
    assert figures(batch)["ME-1", "OCDF"] == 0.9
    assert batch.results["column"].astype(object).tolist() == ["C", "D"]


@pytest.mark.parametrize("text", ["1998 Mean", "Reach average", "Overall Maximum"])
def test_a_mean_with_a_word_in_front_is_no_sample(text: str) -> None:
    assert not_a_sample(text) == "statistic"


def test_words_for_limits_in_a_column_without_a_header_are_flags(tmp_path: Path) -> None:
    rows: Rows = [["PARAMETER", "UNITS", "ME 1", N], ["Cadmium", "ug/g dry", 0.2, "<MDL"], ["Lead", "ug/g dry", 9, "T"]]
    assert figures(read_sheets(tmp_path, rows)) == {("ME 1", "Cadmium"): "<0.2", ("ME 1", "Lead"): 9}


def test_equivalents_by_several_rules_are_totals_of_the_laboratory(tmp_path: Path) -> None:
    rows: Rows = [
        ["Compound", "Units", "ME-1"],
        ["OCDF", "pg/g dw", 22],
        ["WHO-2005 TEQ (ND=0)", "pg/g dw", 0.03],
        ["WHO-2005 TEQ (ND=1/2 DL; EMPC=0)", "pg/g dw", 0.5],
    ]
    batch = read_sheets(tmp_path, rows)
    assert len(batch.lab_totals) == 2
    assert len(batch.results) == 1


def test_ids_of_controls_under_a_word_of_their_own_are_no_samples(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample ID", "Parameter", "Result", "Units"],
        ["ME-1", "Lead", 5, "mg/kg dry"],
        [],
        ["QC Sample", "Parameter", "Result", "Units"],
        ["LCS-1", "Lead", 48, "mg/kg dry"],
        ["MB-1", "Lead", "<0.5", "mg/kg dry"],
    ]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {("ME-1", "Lead"): 5}
    assert len(batch.qc) == 2


def test_lines_of_a_sample_without_colons_above_its_table(tmp_path: Path) -> None:
    rows: Rows = [
        ["Client ID", "ME-1"],
        ["Percent Moisture", 50],
        [],
        ["Analyte", "Result", "Units", "Basis"],
        ["Lead", 10, "mg/kg", "wet"],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {("ME-1", "Percent moisture"): 50, ("ME-1", "Lead"): 10}


def test_a_title_of_one_word_gives_the_basis(tmp_path: Path) -> None:
    rows: Rows = [["Dry weight"], ["Analyte", "ME-1"], ["Metals (mg/kg)"], ["Lead", 5], ["Zinc", "<2"]]
    assert read_sheets(tmp_path, rows).results["reported_basis"].astype(object).tolist() == ["dry", "dry"]


def test_equivalents_beside_each_sample_are_no_substances_across(tmp_path: Path) -> None:
    rows: Rows = [
        ["pg/g, dry weight"],
        ["Congener", "TEF", "ME-1", "Qual", "TEQ", "ME-2", "Qual", "TEQ"],
        ["2,3,7,8-TCDD", 1, 0.5, "J", 0.5, 0.2, "U", 0],
        ["OCDD", 0.0003, 400, N, 0.12, 350, "B", 0.105],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {
        ("ME-1", "2,3,7,8-TCDD"): 0.5, ("ME-2", "2,3,7,8-TCDD"): "<0.2", ("ME-1", "OCDD"): 400, ("ME-2", "OCDD"): 350,
    }  # fmt: skip


def test_ids_in_rows_of_their_own_between_the_results(tmp_path: Path) -> None:
    rows: Rows = [
        ["Analyte", "Result", "Units"],
        ["Sample: ME-1"],
        ["Metals"],
        ["Lead", 5, "mg/kg dry"],
        ["Sample: ME-2"],
        ["Lead", 7, "mg/kg dry"],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {("ME-1", "Lead"): 5, ("ME-2", "Lead"): 7}


@pytest.mark.parametrize("name", ["Naphtalène", "Naftaleen", "Naftaleno"])
def test_names_of_other_languages(name: str, tmp_path: Path) -> None:
    rows: Rows = [["Sample", "Analyte", "Result", "Units"], ["ME-1", name, 5, "ug/kg dry"]]
    assert figures(read_sheets(tmp_path, rows)) == {("ME-1", "Naphthalene"): 5}
