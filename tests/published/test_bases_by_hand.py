"""Findings of built-in sets whose levels do not stand on plain dry weight: each redone by hand.

The rule of each basis is its issuer's, as the set's caveats cite it; the results are made up.
"""

from __future__ import annotations

from typing import Any

import pytest
from made import compared

from screen.reference.sets import load_set

CARBON, ALUMINIUM = "Total organic carbon", "Aluminum"


def found(name: str, substance: str, figure: str, carbon: str = "", aluminium: str = "") -> dict[str, Any]:
    """The finding for ``substance`` by a built-in set; carbon in per cent, aluminium in mg/kg."""
    rows = [("S", substance, figure)]
    rows += [("S", CARBON, carbon)] if carbon else []
    rows += [("S", ALUMINIUM, aluminium)] if aluminium else []
    table = compared(rows, load_set(name)).astype(object)
    few = table[table["substance"] == substance]
    assert len(few) == 1
    return few.iloc[0].where(few.iloc[0].notna(), "").to_dict()


# Persaud, Jaagumagi and Hayton 1993: fluoranthene LEL 750 ug/kg dry, SEL 1020 mg/kg of carbon times the carbon, of
# which no more than 10 % counts (from memory).
@pytest.mark.parametrize(
    ("carbon", "sel", "finding"),
    [
        ("1", 10_200, "between"),  # 1020 mg/kg x 0.01 = 10.2 mg/kg
        ("0.5", 5_100, "above"),
        ("5", 51_000, "between"),
        ("10", 102_000, "between"),
        ("20", 102_000, "between"),  # counts as 10 %
    ],
)
def test_ontario_sel_goes_with_the_carbon(carbon: str, sel: float, finding: str) -> None:
    row = found("ontario-1993-fresh", "Fluoranthene", "6000", carbon)
    assert (row["basis"], row["unit"]) == ("dry", "ug/kg")
    assert row["value"] == 6000
    assert (row["lower_level"], row["upper_level"]) == pytest.approx((750, sel), rel=1e-12)
    assert row["finding"] == finding
    assert "SEL" in row["note"]
    assert ("counted as 10 %" in row["note"]) == (carbon == "20")


def test_ontario_sel_below_its_lel_is_kept_as_it_is() -> None:
    # gamma-BHC: LEL 3 ug/kg, SEL 1 mg/kg of carbon: at 0.2 % it is 2 ug/kg.
    row = found("ontario-1993-fresh", "gamma-BHC (Lindane)", "2.5", "0.2")
    assert (row["upper_level"], row["finding"]) == (pytest.approx(2.0), "above")


def test_ontario_organics_without_carbon_are_not_assessed() -> None:
    assert found("ontario-1993-fresh", "Fluoranthene", "6000")["finding"] == "not-assessed"


def test_ontario_metals_need_no_carbon() -> None:
    row = found("ontario-1993-fresh", "Lead", "31")
    assert (row["finding"], row["lower_level"], row["upper_level"]) == ("below", 31, 250)


# OSPAR Agreement 2009-2: BAC of metals at 5 % aluminium, of organics at 2.5 % carbon; ERL on plain dry weight.
@pytest.mark.parametrize(("aluminium", "bac", "finding"), [("50000", 27, "between"), ("80000", 43.2, "below")])
def test_ospar_metal(aluminium: str, bac: float, finding: str) -> None:
    # copper: BAC 27 at 5 % Al; at 8 % Al it stands for 27 x 8/5 = 43.2 mg/kg of dry weight. ERL 34 is no finding of it.
    row = found("ospar-sediment", "Copper", "30", aluminium=aluminium)
    assert row["lower_level"] == pytest.approx(bac)
    assert (row["upper_level"], row["finding"]) == (34, finding)
    assert "aluminium" in row["note"]


def test_ospar_organic() -> None:
    # fluoranthene: BAC 39 at 2.5 % carbon; at 5 % it stands for 78 ug/kg. ERL 600.
    row = found("ospar-sediment", "Fluoranthene", "60", "5")
    assert (row["lower_level"], row["upper_level"], row["finding"]) == (pytest.approx(78), 600, "below")
    assert found("ospar-sediment", "Fluoranthene", "60", "2.5")["finding"] == "between"


@pytest.mark.parametrize(
    ("figure", "carbon", "value", "exceeded"), [("30", "2.5", 30, "BAC"), ("30", "1.25", 60, "EAC")]
)
def test_ospar_chlorobiphenyl(figure: str, carbon: str, value: float, exceeded: str) -> None:
    # CB153: BAC 0.19 and EAC 40, both at 2.5 % carbon: compared there, C x 2.5/carbon.
    row = found("ospar-sediment", "PCB-153", figure, carbon)
    assert (row["basis"], row["value"]) == ("oc-2.5%", pytest.approx(value))
    assert (row["finding"], row["highest_exceeded"]) == ("between", exceeded)


def test_ospar_without_its_normaliser_is_not_assessed() -> None:
    assert found("ospar-sediment", "Copper", "30")["finding"] == "not-assessed"
    assert found("ospar-sediment", "PCB-153", "30")["finding"] == "not-assessed"


# Simpson, Batley and Chariton 2013: organics to 1 % carbon; 0.2 to 10 % is the range that counts (from memory: a
# sample of 0.15 % is divided by 0.2).
@pytest.mark.parametrize(
    ("carbon", "value", "finding"),
    [("1", 4, "between"), ("2", 2, "below"), ("0.5", 8, "above"), ("0.15", 20, "above"), ("12", 0.4, "below")],
)
def test_australian_organics_to_one_per_cent(carbon: str, value: float, finding: str) -> None:
    # dieldrin: 2.8 and 7.0 ug/kg at 1 % carbon.
    row = found("anzg-2018", "Dieldrin", "4", carbon)
    assert (row["basis"], row["value"]) == ("oc-1%", pytest.approx(value))
    assert (row["lower_level"], row["upper_level"], row["finding"]) == (2.8, 7.0, finding)


def test_australian_metals_are_on_dry_weight() -> None:
    row = found("anzg-2018", "Copper", "66", "5")
    assert (row["basis"], row["value"], row["finding"]) == ("dry", 66, "between")


# WAC 173-204-320: fluoranthene 160 mg/kg of carbon (CSL 1200), used at 0.5 to 3.5 % carbon; outside, the apparent
# effects thresholds on dry weight, 1700 and 2500 ug/kg (from memory).
@pytest.mark.parametrize("carbon", ["0.5", "1", "3.5"])
def test_washington_within_its_carbon_range(carbon: str) -> None:
    row = found("washington-marine", "Fluoranthene", "2000", carbon)
    assert (row["set"], row["basis"], row["unit"]) == ("washington-marine", "oc", "mg/kg OC")
    assert row["value"] == pytest.approx(2.0 / (float(carbon) / 100))
    assert (row["lower_level"], row["upper_level"]) == (160, 1200)
    assert row["finding"] == ("between" if 200 / float(carbon) > 160 else "below")


@pytest.mark.parametrize("carbon", ["0.49", "3.6"])
def test_washington_outside_its_carbon_range(carbon: str) -> None:
    row = found("washington-marine", "Fluoranthene", "2000", carbon)
    assert (row["set"], row["basis"], row["value"]) == ("washington-marine-dry", "dry", 2000)
    assert (row["lower_level"], row["upper_level"], row["finding"]) == (1700, 2500, "between")
    assert "in place of washington-marine" in row["note"]


def test_washington_three_units_in_one_table() -> None:
    # zinc in mg/kg and phenol in ug/kg stay on dry weight whatever the carbon.
    assert found("washington-marine", "Zinc", "411", "0.1")["finding"] == "between"
    row = found("washington-marine", "Phenol", "430", "2")
    assert (row["basis"], row["unit"], row["finding"]) == ("dry", "ug/kg", "between")


# U.S. EPA 2003, EPA-600-R-02-010: dieldrin 12 ug per g of carbon in fresh water (from memory), at 0.2 % and more.
@pytest.mark.parametrize(("figure", "finding"), [("240", "below"), ("241", "above")])
def test_partitioning_benchmark_per_carbon(figure: str, finding: str) -> None:
    row = found("epa-2003-fresh", "Dieldrin", figure, "2")  # 240 ug/kg at 2 % is 12 mg/kg of carbon
    assert (row["basis"], row["finding"]) == ("oc", finding)


def test_partitioning_benchmark_below_its_carbon() -> None:
    assert found("epa-2003-fresh", "Dieldrin", "240", "0.19")["finding"] == "not-assessed"


def test_partitioning_benchmark_at_one_per_cent() -> None:
    # U.S. EPA 1996, EPA 540/F-95/038: gamma-BHC 3.7 ug/kg at 1 % carbon; 10 ug/kg at 4 % is 2.5.
    row = found("epa-1996-eqp", "gamma-BHC (Lindane)", "10", "4")
    assert (row["value"], row["finding"]) == (pytest.approx(2.5), "below")


def test_levels_of_a_fine_fraction_are_not_compared_with_whole_sediment() -> None:
    row = found("germany-2009-marine", "Lead", "5000")
    assert row["finding"] == "not-assessed"
    assert "fine fraction" in row["note"]
