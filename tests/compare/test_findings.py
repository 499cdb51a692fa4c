"""Findings, sentence by sentence of the contract. Sets and figures are made up for each rule."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import compared, one_finding, results_of, set_of

from screen.stages.compare import compare
from screen.stages.sums import total

LEAD = set_of([("Lead", {"L": 10, "U": 100})])
PCB = set_of(
    [("Total PCBs", {"L": 59.8, "U": 676})],
    unit="ug/kg",
    sums={"Total PCBs": (("pcb-congeners", "pcb-nst18x2"), ("pcb-aroclors",))},
)
PAH = set_of([("Total PAHs", {"L": 10, "U": 100})], unit="ug/kg", sums={"Total PAHs": (("pah-high6", "pah-16"),)})
AROCLORS = ("1016", "1221", "1232", "1242", "1248", "1254", "1260")
HIGH6 = ("Fluoranthene", "Pyrene", "Benz(a)anthracene", "Chrysene", "Benzo(a)pyrene", "Dibenz(a,h)anthracene")


def lead(text: str, **more: Any) -> dict[str, Any]:
    return one_finding([("S", "Lead", text)], more.pop("chosen", LEAD), **more)


@pytest.mark.parametrize(
    ("text", "finding", "settled"),
    [
        ("100.1", "above", True),
        ("100", "between", True),
        ("10.1", "between", True),
        ("10", "below", True),
        ("9", "below", True),
        ("<10", "below", True),
        ("<11", "undetermined", False),
        ("<1000", "undetermined", False),
        ("trace 3-9", "below", True),
        ("trace 3-11", "undetermined", False),
        ("trace", "undetermined", False),
        (">9", "undetermined", False),
        (">11", "between", False),
        (">101", "above", True),
        ("max 9", "below", True),
        ("max 11", "between", False),
        ("max 101", "above", False),
    ],
)
def test_the_finding_of_each_kind(text: str, finding: str, settled: bool) -> None:
    row = lead(text)
    assert (row["finding"], row["settled"]) == (finding, settled)


def test_a_nondetect_of_unknown_limit_is_not_assessed() -> None:
    row = lead("ND")
    assert (row["finding"], row["settled"], row["note"]) == ("not-assessed", "", "not detected, limit unknown")


@pytest.mark.parametrize(
    ("basis", "note"),
    [(None, "no basis stated"), ("wet", "no solids or moisture known"), ("oc", "no organic carbon known")],
)
def test_a_row_without_a_number_is_not_assessed_and_says_why(basis: str | None, note: str) -> None:
    row = one_finding([("S", "Lead", "50", basis)], LEAD)
    assert row["finding"] == "not-assessed"
    assert note in row["note"]
    assert np.isnan(row["value"])


def test_a_refused_row_is_not_assessed_and_says_why() -> None:
    refused = [{"sample": "S", "substance": "Lead", "reason": "unit-missing: no unit is given"}]
    row = one_finding([("S", "Zinc", "1")], LEAD, refused=refused)
    assert (row["finding"], row["note"]) == ("not-assessed", "refused: no unit is given")


def test_a_number_goes_before_a_refused_row_of_the_same() -> None:
    refused = [{"sample": "S", "substance": "Lead", "reason": "unit-missing"}]
    assert lead("50", refused=refused)["finding"] == "between"


def test_a_substance_never_analysed_has_no_row() -> None:
    assert compared([("S", "Zinc", "1")], LEAD).empty


def test_quotients_and_names() -> None:
    row = lead("50")
    assert (row["lower_quotient"], row["upper_quotient"]) == (5, 0.5)
    assert (row["lower_name"], row["upper_name"], row["highest_exceeded"]) == ("L", "U", "L")


def test_a_nondetect_has_no_quotient() -> None:
    assert np.isnan(lead("<50")["lower_quotient"])


def test_a_value_at_a_level_is_noted() -> None:
    assert "at the level" in lead("10")["note"]


def test_a_set_may_say_that_a_tie_exceeds() -> None:
    chosen = set_of([("Lead", {"L": 10, "U": 100})], at_level="exceeds")
    assert lead("10", chosen=chosen)["finding"] == "between"
    assert lead("100", chosen=chosen)["finding"] == "above"


def test_three_figures_that_hide_a_difference_are_noted() -> None:
    row = lead("100.04")
    assert (row["finding"], row["note"]) == ("above", "equal as printed")


def test_a_substance_without_upper_level() -> None:
    chosen = set_of([("Lead", {"L": 10}), ("Zinc", {"L": 1, "U": 2})])
    row = lead("5000", chosen=chosen)
    assert (row["finding"], row["note"], row["settled"]) == ("between", "no upper level", True)
    assert np.isnan(row["upper_level"])


def test_a_substance_with_an_upper_level_only() -> None:
    chosen = set_of([("Lead", {"U": 10}), ("Zinc", {"L": 1, "U": 2})])
    assert lead("11", chosen=chosen)["finding"] == "above"
    assert lead("9", chosen=chosen)["finding"] == "below"
    assert lead("<11", chosen=chosen)["finding"] == "undetermined"


def test_a_one_level_set_has_only_upper() -> None:
    row = lead("11", chosen=set_of([("Lead", {"only": 10})], levels=("only",)))
    assert (row["finding"], row["lower_name"], row["upper_name"]) == ("above", "", "only")


def test_the_highest_of_all_levels_exceeded() -> None:
    chosen = set_of([("Lead", {"A": 1, "B": 10, "C": 100, "D": 1000})], levels="ABCD", lower="B", upper="C")
    assert [lead(text, chosen=chosen)["highest_exceeded"] for text in ("0.5", "5", "50", "500", "5000")] == [
        "",
        *"ABCD",
    ]


def test_a_level_that_is_neither_lower_nor_upper_stands_for_the_lower() -> None:
    chosen = set_of([("Lead", {"B": 10}), ("Zinc", {"A": 1})], levels="ABC", lower="A", upper="C")
    row = lead("11", chosen=chosen)
    assert (row["finding"], row["lower_name"], row["lower_level"]) == ("between", "B", 10)


def test_levels_are_brought_to_the_unit_of_the_substance() -> None:
    row = lead("50", chosen=set_of([("Lead", {"L": 10000, "U": 100000})], unit="ug/kg"))
    assert (row["finding"], row["lower_level"], row["unit"]) == ("between", 10, "mg/kg")


@pytest.mark.parametrize(
    ("marks", "text", "evidence"),
    [
        ({"L": "seen", "U": "seen"}, "50", "seen"),
        ({"L": "seen", "U": "from_memory"}, "50", "from_memory"),
        ({"L": "conflict", "U": "from_memory"}, "5", "conflict"),
        ({"L": "seen", "U": "own"}, "5", "own"),
    ],
)
def test_the_weakest_mark_of_the_levels_used(marks: dict[str, str], text: str, evidence: str) -> None:
    assert lead(text, chosen=set_of([("Lead", {"L": 10, "U": 100})], evidence=marks))["evidence"] == evidence


# peaks


def test_a_shared_peak_has_no_value_and_the_peak_as_upper_bound() -> None:
    chosen = set_of([("PCB-101", {"L": 3, "U": 10})], unit="ug/kg")
    row = one_finding([("S", "PCB-90/101/113", "3.5")], chosen)
    assert (row["low"], row["high"], row["note"], row["finding"]) == (0, 3.5, "shared peak", "undetermined")
    assert np.isnan(row["value"])
    assert one_finding([("S", "PCB-90/101/113", "2.5")], chosen)["finding"] == "below"


def test_a_pair_taken_as_one_keeps_its_value() -> None:
    chosen = set_of([("Chrysene", {"L": 3, "U": 10})], unit="ug/kg")
    row = one_finding([("S", "Chrysene/Triphenylene", "3.5")], chosen)
    assert (row["value"], row["finding"]) == (3.5, "between")
    assert "Chrysene/Triphenylene" in row["note"]


def test_a_number_of_its_own_goes_before_a_shared_peak() -> None:
    chosen = set_of([("Benzo(b)fluoranthene", {"L": 3, "U": 10})], unit="ug/kg")
    row = one_finding([("S", "Benzo(b,k)fluoranthene", "9"), ("S", "Benzo(b)fluoranthene", "2")], chosen)
    assert row["value"] == 2


# totals


def test_one_row_for_each_kind_of_measurement() -> None:
    rows = [("S", "Aroclor 1254", "40"), ("S", "PCB-153", "5")]
    assert sorted(compared(rows, PCB)["total"]) == ["pcb-aroclors", "pcb-congeners"]


def test_detected_aroclors_of_40_with_six_limits_of_33() -> None:
    """The contract's own example: below, unsettled."""
    rows = [("S", f"Aroclor {one}", "40" if one == "1254" else "<33") for one in AROCLORS]
    row = one_finding(rows, PCB)
    assert (row["finding"], row["settled"], row["value"], row["high"]) == ("below", False, 40, 238)


def test_all_members_not_detected_go_by_the_highest_limit() -> None:
    assert one_finding([("S", f"Aroclor {one}", "<33") for one in AROCLORS], PCB)["finding"] == "below"
    assert one_finding([("S", f"Aroclor {one}", "<60") for one in AROCLORS], PCB)["finding"] == "undetermined"


@pytest.mark.parametrize(
    ("text", "finding", "settled"),
    [
        ("9", "undetermined", False),
        ("11", "between", False),
        ("101", "above", True),
        ("<1", "undetermined", False),
    ],
)
def test_a_partial_total(text: str, finding: str, settled: bool) -> None:
    row = one_finding([("S", "Pyrene", text)], PAH)
    assert (row["finding"], row["settled"], row["total"]) == (finding, settled, "pah-high6")


def test_the_first_complete_total_goes_before_an_earlier_partial_one() -> None:
    chosen = set_of(
        [("Total PAHs", {"L": 10, "U": 100})], unit="ug/kg", sums={"Total PAHs": (("pah-16", "pah-high6"),)}
    )
    row = one_finding([("S", name, "1") for name in HIGH6], chosen)
    assert (row["total"], row["finding"]) == ("pah-high6", "below")


def test_a_sum_without_any_number_is_not_assessed() -> None:
    row = one_finding([("S", "Pyrene", "50", None)], PAH)
    assert (row["finding"], row["substance"]) == ("not-assessed", "Total PAHs")


def test_a_laboratory_total_is_compared_where_no_part_was_measured() -> None:
    row = one_finding([("S", "Lead", "1")], PCB, lab=[("S", "Total PCBs (lab)", "50")])
    assert (row["finding"], row["total"], row["note"]) == ("below", "pcb-congeners-lab", "summing rule unknown")


@pytest.mark.parametrize(
    ("rows", "lab", "expected"),
    [
        ([("S", "PCB-118", "5")], ["Total Aroclors (lab)"], ["pcb-aroclors-lab", "pcb-congeners"]),
        ([("S", "Aroclor 1254", "5")], ["Total PCB congeners (lab)"], ["pcb-aroclors", "pcb-congeners-lab"]),
        ([("S", "Lead", "5")], ["Total Aroclors (lab)", "Total PCBs (lab)"], ["pcb-aroclors-lab", "pcb-congeners-lab"]),
        ([("S", "Lead", "5")], ["Total PCBs (lab)"], ["pcb-congeners-lab"]),
        ([("S", "Aroclor 1254", "5")], ["Total PCBs (lab)"], ["pcb-aroclors"]),
    ],
)
def test_each_kind_of_measurement_has_its_own_row_the_laboratorys_total_where_no_part_was_measured(
    rows: list[tuple[str, str, str]], lab: list[str], expected: list[str]
) -> None:
    found = compared(rows, PCB, lab=[("S", name, "700") for name in lab])
    assert sorted(found["total"].astype(str)) == expected


def test_a_sample_measured_in_two_ways_says_so_on_both_rows() -> None:
    """Methods handbook 1.5: compare each with the guideline, and warn."""
    found = compared([("S", "PCB-118", "5"), ("S", "Aroclor 1254", "5"), ("T", "PCB-118", "5")], PCB)
    said = found["note"].astype(object).fillna("").str.contains("measured in more than one way")
    assert said.tolist() == [True, True, False]


def test_the_sets_own_rule_for_nondetects_is_used() -> None:
    rows = [("S", name, "1" if name == "Pyrene" else "<4") for name in HIGH6]
    chosen = set_of(
        [("Total PAHs", {"L": 10, "U": 100})], unit="ug/kg", sums={"Total PAHs": (("pah-high6",),)}, nondetects="half"
    )
    assert one_finding(rows, chosen)["value"] == 11
    assert one_finding(rows, chosen, nondetects="full")["value"] == 21
    assert one_finding(rows, PAH)["value"] == 1


# which rows


def test_only_assigned_sets_are_compared() -> None:
    results = results_of([("S", "Lead", "1"), ("T", "Lead", "1")])
    assigned = pd.DataFrame({"sample": ["T"], "set": ["own"]})
    assert compare(results, total(results), [LEAD], assigned=assigned)["sample"].tolist() == ["T"]


def test_inputs_stay_as_they_were() -> None:
    results = results_of([("S", "Lead", "1")])
    totals = total(results)
    before = results.copy(deep=True)
    compare(results, totals, [LEAD])
    pd.testing.assert_frame_equal(results, before)


def test_no_results_give_no_findings() -> None:
    results = results_of([])
    assert compare(results, total(results), [LEAD]).empty
