"""Which row is the result: the rulings of the intake handbook, section 5, one by one (sheets invented)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sheets_by_hand import Rows, figures, read_sheets, write_text

from screen.model import Batch
from screen.settings import Answer, Settings
from screen.stages.read.batch import read

HEAD = "Sample,Lab ID,Type,Parent,Analyte,Result,Q,Val Qual,RL,Unit,Method,Dilution,Use,Fraction,Matrix".split(",")


def row(sample: str = "AB-1", analyte: str = "Lead", result: Any = 10, **more: Any) -> list[Any]:
    """One row of the table with HEAD; ``more`` by header in lower case."""
    values = {"sample": sample, "analyte": analyte, "result": result, "unit": "mg/kg dry", **more}
    return [values.get(name.lower().replace(" ", "_")) for name in HEAD]


def batch_of(folder: Path, *rows: list[Any], settings: Settings | None = None) -> Batch:
    return read_sheets(folder, [HEAD, *rows], settings=settings)


def became(batch: Batch) -> list[str]:
    """What the rows below the header became, in order."""
    return [str(one) for one in batch.ledger["became"][1:]]


def reasons(batch: Batch) -> list[str]:
    return [str(one).partition(":")[0] for one in batch.ledger["reason"][1:]]


def test_over_range_loses_to_its_dilution(tmp_path: Path) -> None:
    batch = batch_of(
        tmp_path,
        row(analyte="Pyrene", result=1800, q="E", unit="ug/kg dry", dilution=1),
        row(analyte="Pyrene", result=1600, q="D", unit="ug/kg dry", dilution=5),
    )
    assert became(batch) == ["superseded", "result"]


def test_the_least_diluted_in_range_result_counts(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(result=11, dilution=10), row(result=10, dilution=1))
    assert became(batch) == ["superseded", "result"]


def test_of_two_nondetects_the_lower_limit_counts(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(result=5, q="U"), row(result=2, q="U"))
    assert became(batch) == ["superseded", "result"]


def test_the_use_flag_decides(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(result=11, use="N"), row(result=10, use="Y"))
    assert became(batch) == ["superseded", "result"]


def test_a_rejected_result_falls_out(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(result=11, val_qual="R"), row(result=10))
    assert became(batch) == ["superseded", "result"]


def test_a_rejected_result_alone_is_kept_and_not_used(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(result=11, val_qual="R"))
    assert list(batch.results["why_not"]) == ["rejected-by-lab"]
    assert not batch.results["used"].any()


def test_the_method_meant_for_the_group_counts(tmp_path: Path) -> None:
    batch = batch_of(
        tmp_path,
        row(analyte="Mercury", result=0.3, method="6010D"),
        row(analyte="Mercury", result=0.2, method="7471B"),
    )
    assert became(batch) == ["superseded", "result"]
    assert "two-methods" in {one.code for one in batch.problems}


def test_the_same_row_twice_counts_once(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(), row())
    assert became(batch) == ["result", "duplicate"]


def test_the_same_number_in_another_unit_is_the_same(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(result=0.3), row(result=300, unit="ug/kg dry"))
    assert became(batch) == ["result", "duplicate"]


def test_two_different_numbers_are_refused(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(result=10), row(result=12))
    assert became(batch) == ["rejected", "rejected"]
    assert reasons(batch) == ["conflict", "conflict"]
    assert set(batch.refused["substance"]) == {"Lead"}
    text = next(one.message for one in batch.problems if one.code == "conflict")
    assert "10" in text
    assert "12" in text


def test_the_higher_of_two_counts_where_the_settings_say_so(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(result=10), row(result=12), settings=Settings(conflicts="higher"))
    assert figures(batch) == {("AB-1", "Lead"): 12.0}


@pytest.mark.parametrize(
    ("kind", "qc"),
    [
        ("MB", "method-blank"),
        ("LCS", "control-sample"),
        ("MS", "matrix-spike"),
        ("LR", "lab-duplicate"),
        ("EB", "field-blank"),
    ],
)
def test_the_laboratorys_controls_are_set_apart(kind: str, qc: str, tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(type="N"), row(result=9, type=kind))
    assert became(batch) == ["result", "qc"]
    assert list(batch.qc["qc_kind"]) == [qc]


def test_a_duplicate_of_the_same_id_is_the_laboratorys(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(type="SA"), row(result=9, type="DUP"))
    assert list(batch.qc["qc_kind"]) == ["lab-duplicate"]
    assert list(batch.qc["qc_of"]) == ["AB-1"]


@pytest.mark.parametrize(("parent_id", "own_id"), [("L7142-P", "L7142DUP-P"), ("L7142", "L7142MS")])
def test_a_suffix_of_the_laboratorys_id_tells_a_control(parent_id: str, own_id: str, tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(lab_id=parent_id), row(result=9, lab_id=own_id))
    assert became(batch) == ["result", "qc"]


@pytest.mark.parametrize("name", ["Fish Bay 1", "FBAY-3", "Old Mews"])
def test_a_station_that_sounds_like_a_control_is_a_sample(name: str, tmp_path: Path) -> None:
    assert became(batch_of(tmp_path, row(name))) == ["result"]


def test_an_id_that_looks_like_a_blank_is_asked_about(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row("MB-9"))
    assert became(batch) == ["result"]
    assert [one["code"] for one in batch.questions] == ["qc-or-sample"]


def test_a_field_duplicate_is_a_sample_with_a_parent(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(), row("AB-1-FD", result=12, type="FD", parent="AB-1"))
    assert became(batch) == ["result", "result"]
    assert list(batch.results["parent"].astype(object).fillna("")) == ["", "AB-1"]


def test_a_suffix_links_a_field_duplicate(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(), row("AB-1-DUP", result=12))
    assert batch.samples.set_index("sample").loc["AB-1-DUP", "parent"] == "AB-1"


def test_a_blind_duplicate_without_a_parent_is_asked_for(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row("DUP-1", type="FD"))
    assert "parent-missing" in {one.code for one in batch.problems}


def test_a_run_of_the_same_sample_is_no_new_sample(tmp_path: Path) -> None:
    batch = batch_of(
        tmp_path,
        row(result=11, q="E", analyte="Pyrene", unit="ug/kg dry"),
        row("AB-1DL", "Pyrene", 9, q="D", unit="ug/kg dry"),
    )
    assert list(batch.samples["sample"]) == ["AB-1"]
    assert became(batch) == ["superseded", "result"]


def test_pointers_of_a_coelution_are_no_results(tmp_path: Path) -> None:
    rows = [
        row(analyte="PCB-129", result=8, q="C", unit="ug/kg dry"),
        row(analyte="PCB-138", result=None, q="C129", unit="ug/kg dry"),
        row(analyte="PCB-163", result=8, q="C129", unit="ug/kg dry"),
    ]
    batch = batch_of(tmp_path, *rows)
    assert figures(batch) == {("AB-1", "PCB-129/138/163"): 8.0}
    assert became(batch) == ["result", "duplicate", "duplicate"]


def test_a_member_beside_its_group_is_not_used(tmp_path: Path) -> None:
    batch = batch_of(
        tmp_path,
        row(analyte="PCB-28/31", result=8, unit="ug/kg dry"),
        row(analyte="PCB-28", result=5, unit="ug/kg dry"),
    )
    assert list(batch.results["why_not"].astype(object).fillna("")) == ["", "in-a-group"]


def test_a_member_with_the_groups_number_is_the_same_number(tmp_path: Path) -> None:
    batch = batch_of(
        tmp_path,
        row(analyte="PCB-28/31", result=8, unit="ug/kg dry"),
        row(analyte="PCB-28", result=8, unit="ug/kg dry"),
    )
    assert became(batch) == ["result", "duplicate"]


def test_a_peak_across_groups_is_not_used(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(analyte="PCB-85 + 4,4'-DDE", unit="ug/kg dry"))
    assert list(batch.results["why_not"]) == ["mixed-peak"]


def test_dissolved_metal_is_not_used(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(fraction="Dissolved"))
    assert list(batch.results["why_not"]) == ["fraction"]


def test_water_and_soil_are_left_out(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(matrix="Water"), row("AB-2", matrix="Soil"), row("AB-3", matrix="SE"))
    assert became(batch) == ["ignored", "ignored", "result"]


def test_soil_counts_where_the_settings_say_so(tmp_path: Path) -> None:
    assert became(batch_of(tmp_path, row(matrix="Soil"), settings=Settings(soil="include"))) == ["result"]


def test_a_recovery_is_no_concentration(tmp_path: Path) -> None:
    batch = batch_of(
        tmp_path, row(analyte="PCB-209", result=88, unit="%"), row(analyte="Naphthalene-d8", result=60, unit="%")
    )
    assert became(batch) == ["qc", "qc"]


def test_the_laboratorys_total_stands_apart(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, row(analyte="Total PCBs", unit="ug/kg dry"))
    assert became(batch) == ["lab-total"]
    assert len(batch.lab_totals) == 1


def test_a_corrected_report_is_a_conflict_until_an_answer_says_so(tmp_path: Path) -> None:
    table: Rows = [["Sample", "Lab ID", "Analyte", "Result", "Unit"], ["AB-1", "L1", "Lead", 10, "mg/kg dry"]]
    other: Rows = [table[0], ["AB-1", "L1", "Lead", 14, "mg/kg dry"]]
    paths = [write_text(tmp_path / "first.csv", table), write_text(tmp_path / "second.csv", other)]
    assert read(paths).results.empty
    settled = read(paths, Settings(answers=(Answer("first.csv", skip=True, because="replaced"),)))
    assert figures(settled) == {("AB-1", "Lead"): 14.0}
    assert "because replaced" in str(settled.ledger["reason"].iloc[1])


def _report(folder: Path, name: str, result: Any) -> Path:
    head = ["Sample", "Lab ID", "Analyte", "Result", "Unit"]
    return write_text(
        folder / name, [head, *(["AB-1", "L1", one, result, "ug/kg dry"] for one in ("Pyrene", "Fluorene"))]
    )


def test_a_corrected_report_is_told_once_and_names_both_files(tmp_path: Path) -> None:
    batch = read([_report(tmp_path, "first.csv", 10), _report(tmp_path, "second.csv", 14)])
    told = [one for one in batch.problems if one.code == "conflict"]
    assert len(told) == 1
    assert "first.csv" in told[0].text
    assert "second.csv, cell D2" in told[0].text
    answer = next(one for one in batch.questions if one["code"] == "conflict")["answer"]
    assert answer == '[[answers]]\nfile = "first.csv"\nskip = true'


def test_two_reports_with_other_limits_are_a_conflict_too(tmp_path: Path) -> None:
    batch = read([_report(tmp_path, "first.csv", "<10"), _report(tmp_path, "second.csv", "<14")])
    assert batch.results.empty


@pytest.mark.parametrize("main", ["a.csv", "z.csv"])
def test_a_parent_that_stands_again_on_a_sheet_of_controls_is_traced_to_the_main_sheet(
    main: str, tmp_path: Path
) -> None:
    table = [["Client ID", "AB-1", "AB-2"], ["Lab ID", "L1", "L2"], ["Units", "UG/KG_DRY", "UG/KG_DRY"], [],
             ["Pyrene", 10, 20], ["Fluorene", 3, 4]]  # fmt: skip
    twice = [["Client ID", "AB-1", "AB-1"], ["Lab ID", "L1", "L1DUP"], *table[2:4], ["Pyrene", 10, 11],
             ["Fluorene", 3, 5]]  # fmt: skip
    batch = read([write_text(tmp_path / main, table), write_text(tmp_path / "m.csv", twice)])
    assert set(batch.results["file"].astype(str)) == {main}
    assert len(batch.results) == 4


COLUMNS = ["Sample", "Analyte", "Result", "Column", "Unit"]


@pytest.mark.parametrize(("marks", "kept"), [(("DB-5", "DB-17"), 50.0), (("1", "2"), 30.0), (("A", "B"), 30.0)])
def test_two_columns_far_apart_are_warned_of(marks: tuple[str, str], kept: float, tmp_path: Path) -> None:
    """30 and 50: 20 of a mean of 40 is 50 per cent; the warning begins above 40 (SW-846, from memory)."""
    rows = [["AB-1", "Aldrin", 30, marks[0], "ug/kg dry"], ["AB-1", "Aldrin", 50, marks[1], "ug/kg dry"]]
    batch = read_sheets(tmp_path, [COLUMNS, *rows])
    assert figures(batch) == {("AB-1", "Aldrin"): kept}
    assert "columns-differ" in {one.code for one in batch.problems}


def test_two_columns_that_agree_are_not(tmp_path: Path) -> None:
    rows = [["AB-1", "Aldrin", 30, "1", "ug/kg dry"], ["AB-1", "Aldrin", 40, "2", "ug/kg dry"]]
    batch = read_sheets(tmp_path, [COLUMNS, *rows])
    assert "columns-differ" not in {one.code for one in batch.problems}
