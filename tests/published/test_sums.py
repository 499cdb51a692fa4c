"""Sums against printed ones, and small sums worked out by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made import results_of

from screen.stages.sums import total


def totals(rows: list[tuple[Any, ...]], rule: str = "zero") -> dict[tuple[str, str], dict[str, Any]]:
    table = total(results_of(rows), nondetects=(rule,))
    return {(row["sample"], row["total"]): row for row in table.astype(object).to_dict("records")}


# Environmental Monitoring and Assessment 2021, 193:596, Table 2, rainy season, ng/g dry weight: five PCB congeners.
CONGENERS = ("PCB-52", "PCB-101", "PCB-138", "PCB-153", "PCB-180")
STATIONS = {
    "S2": (("<0.009", "0.12", "0.25", "<0.020", "0.22"), 0.59),
    "S3": (("<0.009", "<0.009", "0.14", "<0.020", "<0.005"), 0.14),
    "S7": (("<0.009", "0.18", "0.81", "0.90", "0.91"), 2.81),
    "S8": (("<0.009", "0.17", "0.66", "<0.020", "0.73"), 1.55),
    "S10": (("<0.009", "0.28", "0.77", "0.66", "0.42"), 2.13),
    "S11": (("0.39", "1.21", "5.42", "4.29", "3.90"), 15.22),
    "S12": (("0.10", "0.21", "1.01", "0.83", "0.56"), 2.70),
}


@pytest.mark.parametrize("station", STATIONS)
def test_detected_congeners_of_a_printed_table(station: str) -> None:
    """Printed totals differ from the sum of the printed figures by up to 0.01: tolerance 0.015."""
    texts, printed = STATIONS[station]
    row = totals([(station, *pair) for pair in zip(CONGENERS, texts, strict=True)])[station, "pcb-ices7"]
    assert row["value"] == pytest.approx(printed, abs=0.015)


def test_a_station_without_detects_is_a_nondetect_at_the_highest_limit() -> None:
    """Same table, station S1, printed as <LOD."""
    texts = ("<0.009", "<0.009", "<0.003", "<0.020", "<0.005")
    row = totals([("S1", *pair) for pair in zip(CONGENERS, texts, strict=True)])["S1", "pcb-ices7"]
    assert (row["detected"], row["limit"]) == (False, 0.02)
    assert np.isnan(row["value"])


def test_five_of_the_seven_are_incomplete() -> None:
    """Same table: congeners 28 and 118 of the ICES seven were not measured."""
    row = totals([("S2", name, "1") for name in CONGENERS])["S2", "pcb-ices7"]
    assert (row["complete"], row["measured"], row["missing"]) == (False, 5, "PCB-28;PCB-118")


# The Scientific World Journal 2013, article 417435, Table 2, ug/kg, stations b1 to b6: the 16 EPA PAHs.
PAHS = {
    "Naphthalene": (771.09, 657.56, 582.06, 126.68, 90.56, 145.79),
    "Acenaphthylene": (41.77, 15.16, 24.72, 10.66, 4.19, 7.83),
    "Acenaphthene": (344.24, 77.51, 51.62, 51.00, 22.86, 33.48),
    "Fluorene": (245.17, 79.40, 129.82, 208.65, 27.88, 81.69),
    "Phenanthrene": (289.16, 103.49, 312.03, 54.23, 37.76, 215.01),
    "Anthracene": (52.72, 15.59, 60.03, 10.54, 4.86, 41.23),
    "Fluoranthene": (6.72, 68.19, 256.16, 93.34, 32.67, 275.56),
    "Pyrene": (239.06, 55.64, 272.13, 77.43, 24.52, 220.19),
    "Benz(a)anthracene": (71.86, 7.18, 42.41, 15.08, 3.66, 75.73),
    "Chrysene": (77.46, 17.62, 117.84, 13.90, 7.22, 171.90),
    "Benzo(b)fluoranthene": (194.85, 16.85, 83.22, 25.53, 15.83, 106.85),
    "Benzo(k)fluoranthene": (42.01, 0.02, 52.08, 16.11, 9.91, 66.88),
    "Benzo(a)pyrene": (90.40, 6.72, 105.78, 6.29, 3.82, 136.30),
    "Indeno(1,2,3-cd)pyrene": (78.22, 2.23, 59.36, 6.37, 2.65, 130.04),
    "Dibenz(a,h)anthracene": (22.09, 0.51, 14.32, 1.33, 0.54, 5.64),
    "Benzo(g,h,i)perylene": (89.83, 2.71, 52.93, 4.84, 2.72, 94.66),
}
PRINTED = (2656.64, 1126.39, 2216.51, 721.98, 291.63, 1808.79)
LOW_SIX = (1744.15, 948.71, 1160.28, 461.76, 188.11, 525.03)


@pytest.mark.parametrize("station", range(6))
def test_sixteen_pahs_of_a_printed_table(station: int) -> None:
    """Tolerance 0.025 against the printed totals; the six light ones recomputed by hand."""
    found = totals([("b", name, str(figures[station])) for name, figures in PAHS.items()])
    assert found["b", "pah-16"]["value"] == pytest.approx(PRINTED[station], abs=0.025)
    assert found["b", "pah-low6"]["value"] == pytest.approx(LOW_SIX[station], abs=0.005)
    assert found["b", "pah-16"]["complete"]


# Constructed, by hand: a congener sheet with coelutions, ng/g dry, all detected. TEF: van den Berg et al. 2006.
SHEET = (
    "8 0.5; 18/30 1.2; 20/28 3.0; 44/47/65 2.1; 49/69 1.4; 52 2.8; 61/70/74/76 4.0; 66 1.9; 90/101/113 3.5; 105 1.1;"
    " 110/115 3.9; 118 2.9; 128/166 0.8; 129/138/163 5.0; 153/168 4.4; 170 1.6; 180/193 3.2; 187 1.8; 195 0.3; 206 0.4;"
    " 209 0.2"
)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("pcb-congeners", 46.0),
        ("pcb-ices7", 24.8),
        ("pcb-indicator6x5", 109.5),
        ("pcb-nst18x2", 73.4),
        ("teq-2005-pcb", 0.12),
    ],
)
def test_a_congener_sheet_with_coelutions(name: str, value: float) -> None:
    rows = [("S", *f"PCB-{part.strip()}".rsplit(" ", 1)) for part in SHEET.split(";")]
    assert totals(rows)["S", name]["value"] == pytest.approx(value, rel=1e-9)


# Constructed, by hand: total DDT of six isomers, ug/kg.
DDT = [
    ("S", "2,4'-DDE", "<0.5"),
    ("S", "4,4'-DDE", "4.2"),
    ("S", "2,4'-DDD", "1.1 J"),
    ("S", "4,4'-DDD", "3.0"),
    ("S", "2,4'-DDT", "<0.5"),
    ("S", "4,4'-DDT", "2.0"),
]


@pytest.mark.parametrize(("rule", "value"), [("zero", 10.3), ("half", 10.8), ("full", 11.3)])
def test_total_ddt(rule: str, value: float) -> None:
    row = totals(DDT, rule)["S", "ddt-6"]
    assert row["value"] == pytest.approx(value)
    assert (row["qualifier"], row["detects"], row["members"]) == ("J", 4, 6)


def test_total_ddt_without_detects_is_the_single_highest_limit() -> None:
    assert totals([(sample, name, "<0.5") for sample, name, _ in DDT])["S", "ddt-6"]["limit"] == 0.5
