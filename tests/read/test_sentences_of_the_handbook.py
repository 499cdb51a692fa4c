"""Sentences of the intake handbook, each as a small sheet from its cells to its results."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import Rows, figures, read_sheets

HEAD = ["Sample ID", "Analyte", "Result", "Qualifier", "Units"]


def codes(batch: object) -> set[str]:
    """The codes of all that was told."""
    return {problem.code for problem in batch.problems}  # type: ignore[attr-defined]


@pytest.mark.parametrize("basis", ["Lipid", "Ash-Free Dry", "Bulk Weight", "Sieved Weight", "some other weight"])
def test_a_basis_that_cannot_be_brought_to_dry_sediment_is_refused(basis: str, tmp_path: Path) -> None:
    """Section 2.2: use Dry, convert Wet, refuse Lipid, Ash-Free Dry and the rest."""
    rows: Rows = [["Sample ID", "Analyte", "Result", "Units", "Basis"], ["AB-1", "Lead", 5, "mg/kg", basis]]
    batch = read_sheets(tmp_path, rows)
    assert len(batch.results) == 0
    assert "basis-refused" in codes(batch)


@pytest.mark.parametrize("words", ["<MDL", "< MDL", "<RL", "<DL", "n.d.", "below MDL", "not detected", "n.n."])
def test_words_for_not_detected_say_so_in_a_column_of_flags_too(words: str, tmp_path: Path) -> None:
    """Section 3: ``<MDL`` is not detected; a number beside it is the limit."""
    batch = read_sheets(tmp_path, [HEAD, ["AB-1", "Lead", 5, words, "mg/kg dry"]])
    assert figures(batch) == {("AB-1", "Lead"): "<5"}
    assert "flag-unexplained" not in codes(batch)


def test_an_unnamed_column_of_flags_beside_a_result_is_never_left_out(tmp_path: Path) -> None:
    """Section 1: pair columns by position; one flag that nobody explains does not cost the others."""
    rows: Rows = [
        ["Parameter", "Units", "ST-1", None, "ST-2", None],
        ["Lead", "ug/g dry wt", 5, "<T", 6, None],
        ["Copper", "ug/g dry wt", 1, "<MDL", 2, "J"],
    ]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch)["ST-1", "Copper"] == "<1"
    assert figures(batch)["ST-1", "Lead"] == 5.0
    assert "flag-unexplained" in codes(batch)


def test_such_a_column_stands_beside_results_across_too(tmp_path: Path) -> None:
    rows: Rows = [
        ["Sample", "Lead (mg/kg dry)", None, "Zinc (mg/kg dry)", None],
        ["ST-1", 5, "<RL", 6, None],
        ["ST-2", 7, None, 8, "n.d."],
    ]
    found = figures(read_sheets(tmp_path, rows))
    assert found == {
        ("ST-1", "Lead"): "<5",
        ("ST-1", "Zinc"): 6.0,
        ("ST-2", "Lead"): 7.0,
        ("ST-2", "Zinc"): "<8",
    }


def test_a_field_id_beside_the_sample_number_is_the_place(tmp_path: Path) -> None:
    """Section 2.1: Sampnum is the sample, Fieldid the location (New Jersey DEP, EDI Manual 2016)."""
    rows: Rows = [
        ["Sampnum", "Fieldid", "Analtparam", "Conc", "Concunits"],
        ["S-1", "LOC9", "Lead", 5, "mg/kg dry"],
    ]
    (row,) = read_sheets(tmp_path, rows).results.to_dict("records")
    assert (row["sample"], row["station"]) == ("S-1", "LOC9")


@pytest.mark.parametrize("kind", ["Blank-adjusted Method Detection Level", "Blank-adjusted Reporting Level"])
def test_a_blank_adjusted_limit_is_a_limit(kind: str, tmp_path: Path) -> None:
    """Section 2.2, limit types."""
    head = ["Sample ID", "Analyte", "Result", "Limit", "DetectionQuantitationLimitTypeName", "Units"]
    batch = read_sheets(tmp_path, [head, ["AB-1", "Lead", "ND", 5, kind, "mg/kg dry"]])
    assert figures(batch) == {("AB-1", "Lead"): "<5"}


def test_a_name_broken_over_two_lines_of_its_cell_is_the_name(tmp_path: Path) -> None:
    """Section 2: line breaks are blanks."""
    rows: Rows = [["Sample", "Total organic\ncarbon (%)", "Zinc\ntotal (mg/kg dry)"], ["AB-1", 2, 60]]
    assert figures(read_sheets(tmp_path, rows)) == {("AB-1", "Total organic carbon"): 2.0, ("AB-1", "Zinc"): 60.0}


def test_the_only_water_figure_over_dry_mass_is_offered_and_not_used(tmp_path: Path) -> None:
    """Section 9: offer, do not use without consent."""
    rows: Rows = [["Boring", "NAT WC%", "Lead (mg/kg wet)", "Moisture (%)"], ["AB-1", 80, 5, None], ["AB-2", 70, 5, 40]]
    batch = read_sheets(tmp_path, rows)
    (asked,) = [one for one in batch.questions if one["code"] == "water-content-only"]
    assert (asked["cell"], asked["answer"]) == ("B2", '[reading]\nwater-content = "use"')


def test_a_count_of_samples_is_no_sample(tmp_path: Path) -> None:
    """Section 2.3."""
    rows: Rows = [
        ["Analyte", "Units", "AB-1", "No. of samples"],
        ["Lead", "mg/kg dry", 5, 12],
        ["Zinc", "mg/kg dry", 6, 12],
    ]
    assert figures(read_sheets(tmp_path, rows)) == {("AB-1", "Lead"): 5.0, ("AB-1", "Zinc"): 6.0}


def test_a_percent_sign_in_the_cell_is_the_unit_where_none_is_given(tmp_path: Path) -> None:
    """Section 3: percent, if the unit column is % or blank; refuse if the unit is mg/kg."""
    head = ["Sample ID", "Analyte", "Result", "Units"]
    rows: Rows = [
        head,
        ["AB-1", "TOC", "2.1%", None],
        ["AB-1", "Sand", "45 %", "%"],
        ["AB-1", "Lead", "2%", "mg/kg dry"],
    ]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {("AB-1", "Total organic carbon"): 2.1, ("AB-1", "Sand"): 45.0}
    assert "percent-sign" in codes(batch)


@pytest.mark.parametrize(
    "rows",
    [
        [
            ["Analyte", "Units", "B-1", "B-2"],
            ["Lead", "mg/kg dry", 12, "ND"],
            ["MDL", None, 0.1, 0.1],
            ["Reporting Limit", None, 0.5, 0.6],
            ["Copper", "mg/kg dry", "<MDL", 40],
            ["MDL", None, 0.2, 0.3],
            ["Reporting Limit", None, 1, 1.1],
        ],
        [
            ["Sample ID", "Analyte", "Result", "Units"],
            ["B-1", "Lead", 12, "mg/kg dry"],
            ["B-1", "RL", 0.5, "mg/kg dry"],
            ["B-2", "Lead", "ND", "mg/kg dry"],
            ["B-2", "RL", 0.6, "mg/kg dry"],
            ["B-1", "Copper", "ND", "mg/kg dry"],
            ["B-1", "RL", 0.2, "mg/kg dry"],
            ["B-2", "Copper", 40, "mg/kg dry"],
        ],
    ],
    ids=["wide", "long"],
)
def test_a_row_of_limits_below_a_substance_is_its_limit(rows: Rows, tmp_path: Path) -> None:
    """Section 3: ND and a limit; here the limit stands in a row of its own."""
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {
        ("B-1", "Lead"): 12.0,
        ("B-2", "Lead"): "<0.6",
        ("B-1", "Copper"): "<0.2",
        ("B-2", "Copper"): 40.0,
    }
    assert not {"unknown-substance", "row-left-out", "basis-from-note"} & codes(batch)


def test_a_row_of_limits_in_another_unit_is_not_taken_for_the_substance_above(tmp_path: Path) -> None:
    """No guess: the row is refused as it stands."""
    head = ["Analyte", "Units", "B-1", "B-2"]
    rows: Rows = [head, ["Lead", "mg/kg dry", 12, "ND"], ["RL", "ug/kg dry", 500, 600], ["Zinc", "mg/kg dry", 1, 2]]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch)["B-2", "Lead"] == "<nan"
    assert "unknown-substance" in codes(batch)
