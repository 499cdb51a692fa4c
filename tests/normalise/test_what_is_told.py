"""What normalising says of each row: its unit, its solids, why not, and one problem for each reason."""

from __future__ import annotations

import numpy as np
import pytest
from made import batch_of, results_of

from screen.model import Problem
from screen.stages.normalise import normalise


def row_of(rows: list[tuple[object, ...]], substance: str = "Lead") -> dict[str, object]:
    results = results_of(rows)
    return results[results["substance"] == substance].astype(object).iloc[0].to_dict()


def test_the_standard_unit_stands_beside_the_figures() -> None:
    results = results_of([("S", "Lead", "12000", "dry", "ug/kg"), ("S", "Pyrene", "1", "dry", "mg/kg")])
    assert list(results["unit"]) == ["mg/kg", "ug/kg"]
    assert list(results["value"]) == [12.0, 1000.0]


def test_the_solids_of_a_wet_row_are_shown_and_of_a_dry_row_not() -> None:
    rows = [("S", "Lead", "12", "wet"), ("S", "Zinc", "12", "dry"), ("S", "Percent solids", "60", None)]
    results = results_of(rows).set_index("substance")["solids_pct"]
    assert results["Lead"] == 60.0
    assert np.isnan(results[["Zinc", "Percent solids"]].astype(float)).all()


def test_a_refused_wet_row_shows_no_solids() -> None:
    rows = [("S", "Lead", "12", "wet"), ("S", "Percent solids", "60", None), ("S", "Percent moisture", "50", None)]
    assert np.isnan(row_of(rows)["solids_pct"])  # type: ignore[call-overload]


def test_a_wet_solids_figure_is_not_divided() -> None:
    rows = [("S", "Percent solids", "60", "wet"), ("S", "Percent moisture", "40", "wet")]
    assert sorted(results_of(rows)["value"]) == [40.0, 60.0]
    assert results_of(rows)["used"].all()


def test_a_row_brought_back_from_carbon_is_used_and_the_others_stay() -> None:
    rows = [
        ("S", "Anthracene", "5", "oc"), ("S", "Total organic carbon", "2"), ("S", "Lead", "7", None),
        ("T", "Pyrene", "5", "oc"), ("T", "Zinc", "9 R"),
    ]  # fmt: skip
    found = results_of(rows).astype(object)
    why = dict(zip(found["substance"], found["why_not"].where(found["why_not"].notna(), ""), strict=True))
    assert why == {
        "Anthracene": "", "Total organic carbon": "", "Lead": "no-basis", "Pyrene": "no-carbon",
        "Zinc": "rejected-by-lab",
    }  # fmt: skip
    assert dict(zip(found["substance"], found["used"], strict=True)) == {name: not one for name, one in why.items()}
    assert found.set_index("substance").loc["Total organic carbon", "value"] == 2.0


def test_per_carbon_has_its_unit_only_where_it_has_a_figure() -> None:
    rows = [("S", "Anthracene", "500"), ("S", "Lead", "7"), ("S", "Total organic carbon", "2")]
    found = results_of(rows).astype(object).set_index("substance")
    assert found.loc["Anthracene", "oc_unit"] == "mg/kg OC"
    assert found["oc_unit"].isna()["Lead"]


def test_quality_control_per_carbon_has_the_carbon_of_its_sample() -> None:
    batch = batch_of(
        [("S", "Total organic carbon", "2")],
        qc=[("S-DUP", "Anthracene", "5", "oc", None, {"qc_kind": "lab-duplicate", "qc_of": "S"})],
    )
    assert normalise(batch).qc["value"].tolist() == [pytest.approx(100)]


def test_a_reason_of_reading_goes_before_ours() -> None:
    for why in ("no-basis", "no-moisture", "tentative"):  # the first two are also ours
        found = row_of([("S", "Lead", "12", "oc", None, {"why_not": why, "used": False})])
        assert (found["why_not"], found["used"]) == (why, False)


def told(rows: list[tuple[object, ...]]) -> list[Problem]:
    reasons = ("no-basis", "no-moisture", "moisture-conflict", "no-carbon", "rejected-by-lab")
    return [one for one in normalise(batch_of(rows)).problems if one.code in reasons]


def test_one_refusal_is_told_with_its_place_and_mend() -> None:
    assert told([("S", "Zinc", "1"), ("S", "Lead", "12", None, None, {"sheet": "Metals"})]) == [
        Problem(
            "no-basis",
            "1 result of sample S: no basis is stated (wet or dry weight). Not converted, not compared.",
            'Say what the laboratory used with --basis, or with basis = "..." in the settings.',
            "warning",
            "lab.csv",
            "Metals",
            3,
            "C",
        )
    ]


def test_several_refusals_are_counted_and_the_first_place_is_given() -> None:
    rows = [("S", "Lead", "12", "wet"), ("S", "Zinc", "9 R"), ("T", "Zinc", "12", "wet"), ("T", "Pyrene", "5", "oc")]
    found = {one.code: one for one in told(rows)}
    assert set(found) == {"no-moisture", "no-carbon"}  # what the laboratory rejected needs no words of ours
    assert found["no-moisture"].message == (
        "2 results of samples S, T: reported on wet weight, and no solids or moisture is known. Not converted, not "
        "compared."
    )
    assert (found["no-moisture"].row, found["no-moisture"].sheet, found["no-carbon"].row) == (2, "", 5)


def test_a_place_that_is_not_known_stays_open() -> None:
    (found,) = told([("S", "Lead", "12", None, None, {"row": None, "column": None})])
    assert (found.row, found.column, found.sheet) == (None, "", "")
