"""Two more certified sediments: BCR-535 (PAHs of a freshwater harbour) and SRM 1646a (elements of an estuary).

Sources: European Commission, certificate of BCR-535; National Institute of Standards and Technology, Certificate of
Analysis, Standard Reference Material 1646a (1995). Both tables are from memory, on dry mass. TEC and PEC: MacDonald,
Ingersoll and Berger 2000; ERL and ERM: Long, MacDonald, Smith and Calder 1995; LEL and SEL of iron: Ontario 1993.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from harness import Outcome, run_siltmark, write_csv

#: mg/kg, and in ug/kg against TEC and PEC.
BCR_535 = {
    "Pyrene": ("2.52", "above"),  # 195, 1520
    "Benz[a]anthracene": ("1.54", "above"),  # 108, 1050
    "Benzo[a]pyrene": ("1.16", "between"),  # 150, 1450
    "Benzo[e]pyrene": ("1.86", None),
    "Benzo[b]fluoranthene": ("2.29", None),
    "Benzo[k]fluoranthene": ("1.09", None),
    "Indeno[1,2,3-cd]pyrene": ("1.56", None),
}
#: Value and unit as certified; finding by ERL and ERM.
SRM_1646A = {
    "Arsenic": ("6.23", "mg/kg", "below"),  # 8.2
    "Cadmium": ("0.148", "mg/kg", "below"),
    "Chromium": ("40.9", "mg/kg", "below"),
    "Copper": ("10.01", "mg/kg", "below"),
    "Lead": ("11.7", "mg/kg", "below"),
    "Zinc": ("48.9", "mg/kg", "below"),
    "Manganese": ("234.5", "mg/kg", None),
    "Vanadium": ("44.84", "mg/kg", None),
    "Aluminium": ("2.297", "%", None),
    "Iron": ("2.008", "%", None),
}


def run_of(folder: Path, sample: str, figures: list[tuple[str, str, str]], *sets: str) -> Outcome:
    rows = [["Sample", "Analyte", "Result", "Unit", "Basis"]]
    rows += [[sample, name, text, unit, "dry"] for name, text, unit in figures]
    sheet = write_csv(folder / "sheet.csv", rows)
    options = [part for one in sets for part in ("--guidelines", one)]
    return run_siltmark("screen", sheet, "--out", folder / "out", *options, "--tables-only", out=folder / "out")


@pytest.fixture(scope="module")
def pahs(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    figures = [(name, text, "mg/kg") for name, (text, _) in BCR_535.items()]
    return run_of(tmp_path_factory.mktemp("bcr"), "BCR-535", figures, "consensus-2000-fresh")


@pytest.fixture(scope="module")
def elements(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    figures = [(name, text, unit) for name, (text, unit, _) in SRM_1646A.items()]
    sets = ("long-1995-marine", "ontario-1993-fresh")
    return run_of(tmp_path_factory.mktemp("srm"), "SRM-1646a", figures, *sets)


@pytest.mark.parametrize("name", BCR_535)
def test_pahs_come_back_in_the_standard_unit(pahs: Outcome, name: str) -> None:
    text, finding = BCR_535[name]
    canonical = name.replace("[", "(").replace("]", ")")
    row = pahs.one("results", substance=canonical)
    assert (float(row["value"]), row["unit"]) == (pytest.approx(float(text) * 1000, rel=1e-15), "ug/kg")
    found = [one["finding"] for one in pahs.rows("findings", substance=canonical)]
    assert found == ([finding] if finding else [])


def test_seven_pahs_are_a_partial_sum(pahs: Outcome) -> None:
    """Three of the 13: 2520 + 1540 + 1160 = 5220 ug/kg, above the TEC of 1610 all the same."""
    row = pahs.one("totals", total="pah-13")
    assert (float(row["value"]), row["measured"], row["complete"]) == (pytest.approx(5220), "3", "false")
    assert pahs.one("findings", total="pah-13")["finding"] == "between"


@pytest.mark.parametrize("name", SRM_1646A)
def test_elements_come_back(elements: Outcome, name: str) -> None:
    text, unit, finding = SRM_1646A[name]
    canonical = name.replace("Aluminium", "Aluminum")
    row = elements.one("results", substance=canonical)
    expected = float(text) * (10_000 if unit == "%" else 1)
    assert (float(row["value"]), row["unit"]) == (pytest.approx(expected, rel=1e-15), "mg/kg")
    found = [one["finding"] for one in elements.rows("findings", substance=canonical, set="long-1995-marine")]
    assert found == ([finding] if finding else [])


def test_iron_in_per_cent_meets_a_level_in_per_cent(elements: Outcome) -> None:
    """Ontario prints iron as 2 and 4 per cent: 2.008 % is just above the LEL."""
    row = elements.one("findings", substance="Iron", set="ontario-1993-fresh")
    assert (row["finding"], float(row["lower_level"])) == ("between", 20_000)


def test_enrichment_against_average_shale_by_hand(elements: Outcome) -> None:
    """Zinc: (48.9 / 22970) / (95 / 80000) = 1.793 with Turekian and Wedepohl 1961 (from memory)."""
    row = elements.one("indices", index="enrichment", substance="Zinc")
    assert float(row["value"]) == pytest.approx((48.9 / 22_970) / (95 / 80_000), rel=1e-12)
    assert row["class"] == "deficiency to minimal"
