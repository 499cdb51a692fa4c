"""Words of titles and notes that state a basis, and those that do not (intake handbook 4; sentences invented)."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import read_sheets

from screen.stages.read.words.meanings import StatedBasis, basis_in_text

HEAD = ["Sample ID", "Analyte", "Result", "Units"]


@pytest.mark.parametrize(
    "text",
    ["Table 1, dry weight", "All results in mg/kg dry", "PAHs (dry)", "Metals - dry", "Basis: dry", "UG/KG_DRY",
     "results in dw", "Angaben bezogen auf Trockensubstanz", "en matière sèche", "corrected for moisture"],
)  # fmt: skip
def test_dry_is_stated(text: str) -> None:
    assert basis_in_text(text) == StatedBasis("dry")


@pytest.mark.parametrize(
    "text",
    ["Results wet weight", "as received", "Results reported on an as-received basis", "ug/kg (as received)",
     "Results are reported as received", "peso húmedo", "not corrected for moisture", "ng/g wet"],
)  # fmt: skip
def test_wet_is_stated(text: str) -> None:
    assert basis_in_text(text) == StatedBasis("wet")


@pytest.mark.parametrize(
    "text",
    ["Reference sediment, received wet", "Samples as received at 4 C", "Condition as received: good",
     "The bank was dry", "sieved wet", "Low water, wet", "dw = dry weight", "ww: wet weight",
     "Percent moisture is on a wet basis"],
)  # fmt: skip
def test_how_a_sample_was_is_no_basis(text: str) -> None:
    assert basis_in_text(text).basis == ""


def test_unless_noted_is_a_default() -> None:
    assert basis_in_text("Dry weight unless noted") == StatedBasis("dry", True)


def test_a_row_against_a_title_is_refused(tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, [["Results wet weight"], HEAD, ["AB-1", "Lead", 2, "mg/kg dry"]])
    assert batch.results.empty
    assert "basis-conflict" in {one.code for one in batch.problems}


def test_a_title_against_a_note_states_nothing(tmp_path: Path) -> None:
    rows = [["Results wet weight"], HEAD, ["AB-1", "Lead", 2, "mg/kg"], [], ["All results on dry weight."]]
    batch = read_sheets(tmp_path, rows)
    assert batch.results["reported_basis"].isna().all()
    told = next(one for one in batch.problems if one.code == "basis-unclear")
    assert "cell A5" in told.text


def test_a_title_against_the_cover_states_nothing(tmp_path: Path) -> None:
    table = [["Results wet weight"], HEAD, ["AB-1", "Lead", 2, "mg/kg"]]
    batch = read_sheets(tmp_path, table, Cover=[["All results are on dry weight."]])
    assert batch.results["reported_basis"].isna().all()


def test_a_glossary_leaves_the_title_alone(tmp_path: Path) -> None:
    table = [["Results dry weight"], HEAD, ["AB-1", "Lead", 2, "mg/kg"], [], ["dw dry weight, ww wet weight"]]
    assert list(read_sheets(tmp_path, table).results["reported_basis"]) == ["dry"]
