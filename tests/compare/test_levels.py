"""Bases: per carbon, to N % carbon, to N % aluminium, mixed, and carbon out of range."""

from __future__ import annotations

from typing import Any

import pytest
from made import compared, one_finding, set_of

from screen.reference.sets import load_set


def anthracene(carbon: str | None, chosen: Any, text: str = "100", **more: Any) -> dict[str, Any]:
    rows = [("S", "Anthracene", text)]
    rows += [("S", "Total organic carbon", carbon)] if carbon else []
    return one_finding(rows, chosen, **more)


def levels(basis: str, **more: Any) -> Any:
    return set_of([("Anthracene", {"L": 4, "U": 6})], unit="mg/kg" if basis == "oc" else "ug/kg", basis=basis, **more)


def test_per_carbon() -> None:
    row = anthracene("2", levels("oc"))
    assert (row["value"], row["unit"], row["basis"], row["finding"]) == (5, "mg/kg OC", "oc", "between")


def test_to_one_per_cent_carbon() -> None:
    row = anthracene("20", levels("oc-1%"))
    assert (row["value"], row["unit"], row["basis"]) == (5, "ug/kg", "oc-1%")


def test_bounds_go_along() -> None:
    row = anthracene("2", levels("oc"), "<100")
    assert (row["low"], row["high"], row["finding"]) == (0, 5, "undetermined")


def test_without_carbon_it_is_not_assessed() -> None:
    row = anthracene(None, levels("oc"))
    assert (row["finding"], row["note"]) == ("not-assessed", "no organic carbon is known")


def test_to_five_per_cent_aluminium() -> None:
    chosen = set_of([("Lead", {"L": 30, "U": 47})], basis="al-5%")
    row = one_finding([("S", "Lead", "20"), ("S", "Aluminum", "25000")], chosen)
    assert (row["value"], row["basis"], row["finding"]) == (40, "al-5%", "between")
    assert one_finding([("S", "Lead", "20")], chosen)["note"] == "no aluminium is known"


def test_levels_on_different_bases_are_all_compared_on_dry_weight() -> None:
    chosen = set_of([("Anthracene", {"L": 0.05, "U": 4})], unit="mg/kg", basis={"L": "dry", "U": "oc"})
    row = anthracene("2", chosen)
    assert (row["basis"], row["lower_level"], row["upper_level"], row["value"]) == ("dry", 50, pytest.approx(80), 100)
    assert row["finding"] == "above"
    assert "U converted to dry weight" in row["note"]


def test_carbon_out_of_range_is_clamped() -> None:
    row = anthracene("20", levels("oc", toc_range=(0.2, 10.0), toc_outside="clamp"))
    assert row["value"] == pytest.approx(1)
    assert row["note"] == "organic carbon of 20 % counted as 10 %, the nearer end of the range"


def test_carbon_out_of_range_is_not_assessed() -> None:
    row = anthracene("20", levels("oc", toc_range=(0.2, 10.0), toc_outside="not-assessed"))
    assert (row["finding"], row["note"]) == ("not-assessed", "organic carbon is outside 0.2 to 10 %")


@pytest.mark.parametrize("carbon", ["0.2", "10"])
def test_the_ends_of_the_range_are_in_it(carbon: str) -> None:
    row = anthracene(carbon, levels("oc", toc_range=(0.2, 10.0), toc_outside="not-assessed"))
    assert row["finding"] != "not-assessed"


def test_another_set_takes_its_place_for_what_rests_on_carbon() -> None:
    rows = [("S", "Anthracene", "100"), ("S", "Lead", "1"), ("S", "Total organic carbon", "0.3")]
    found = compared(rows, load_set("washington-marine")).set_index("substance")
    assert found.loc["Anthracene", "set"] == "washington-marine-dry"
    assert "washington-marine-dry in place of washington-marine" in found.loc["Anthracene", "note"]
    assert found.loc["Lead", "set"] == "washington-marine"


def test_dry_levels_need_no_carbon() -> None:
    assert anthracene(None, levels("dry", toc_range=(0.2, 10.0), toc_outside="not-assessed"))["finding"] == "above"


def test_nothing_is_said_to_be_converted_where_there_is_no_carbon() -> None:
    chosen = set_of([("Pyrene", {"L": 1, "U": 10})], basis={"L": "dry", "U": "oc"})
    row = one_finding([("S", "Pyrene", "5")], chosen)
    assert (row["finding"], row["note"]) == ("not-assessed", "no organic carbon is known")
