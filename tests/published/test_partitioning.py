"""Per organic carbon: normalising, toxic units of PAHs, metals against sulfide, ratios of PAHs, background."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import batch_of, one_finding, set_of

from screen.columns import texts_of
from screen.reference.locate import read_table
from screen.reference.rules import sum_rules
from screen.reference.units import molar_factor
from screen.settings import Settings
from screen.stages.compare.findings.source import source_of
from screen.stages.compare.indices.index_rows import as_frame
from screen.stages.compare.indices.indices import indices
from screen.stages.compare.indices.tissue import tissue_potential
from screen.stages.normalise import normalise
from screen.stages.sums import total


def made(rows: list[tuple[Any, ...]]) -> pd.DataFrame:
    batch = normalise(batch_of(rows))
    return indices(batch, total(batch.results), [], Settings()).set_index("index")


@pytest.mark.parametrize(("carbon", "value", "finding"), [("2.5", 7.2, "below"), ("0.3", 60, "above")])
def test_total_pcbs_per_carbon(carbon: str, value: float, finding: str) -> None:
    """Constructed; the level of 12 mg/kg OC for total PCBs is that of WAC 173-204-320."""
    chosen = set_of(
        [("Total PCBs", {"SQS": 12})], levels=("SQS",), basis="oc", sums={"Total PCBs": (("pcb-aroclors",),)}
    )
    seven = [("S", f"Aroclor {one}", "180" if one == "1254" else "<1")
             for one in ("1016", "1221", "1232", "1242", "1248", "1254", "1260")]  # fmt: skip
    row = one_finding([*seven, ("S", "Total organic carbon", carbon)], chosen)
    assert (row["value"], row["finding"]) == (pytest.approx(value), finding)


@pytest.mark.parametrize(
    ("basis", "rows", "value"),
    [
        ("oc-1%", [("S", "PCB-153", "180"), ("S", "Total organic carbon", "2.5")], 72),
        ("oc-2.5%", [("S", "PCB-153", "3.0"), ("S", "Total organic carbon", "1.2")], 6.25),
    ],
)
def test_to_a_stated_carbon(basis: str, rows: list[tuple[Any, ...]], value: float) -> None:
    """By hand: 180/2.5 and 3.0 x 2.5/1.2."""
    row = one_finding(rows, set_of([("PCB-153", {"L": 1, "U": 1000})], unit="ug/kg", basis=basis))
    assert row["value"] == pytest.approx(value)


def test_to_five_per_cent_aluminium() -> None:
    """By hand: 40 x 5/3.2, after OSPAR."""
    chosen = set_of([("Lead", {"L": 38, "U": 100})], basis="al-5%")
    assert one_finding([("S", "Lead", "40"), ("S", "Aluminum", "32000")], chosen)["value"] == pytest.approx(62.5)


def test_toxic_units_of_three_pahs() -> None:
    """By hand with the divisors of U.S. EPA 2003, EPA-600-R-02-013 (from memory): 25/596 + 60/707 + 45/697."""
    rows = [("S", "Phenanthrene", "500"), ("S", "Fluoranthene", "1200"), ("S", "Pyrene", "900")]
    row = made([*rows, ("S", "Total organic carbon", "2")]).loc["esb-pah-tu"]
    assert row["value"] == pytest.approx(0.19137, abs=0.00001)
    assert np.isnan(row["high"])


def test_toxic_units_are_widened_for_a_list_of_thirteen() -> None:
    """Same, the ten others of the 13 not detected at 0: 0.19137 x 11.5 = 2.2008, and low stays what was measured."""
    ten = ("Naphthalene", "Acenaphthylene", "Acenaphthene", "Fluorene", "Anthracene", "Benz(a)anthracene", "Chrysene",
           "Benzo(b)fluoranthene", "Benzo(k)fluoranthene", "Benzo(a)pyrene")  # fmt: skip
    rows = [("S", "Phenanthrene", "500"), ("S", "Fluoranthene", "1200"), ("S", "Pyrene", "900")]
    rows += [("S", name, "<1e-9") for name in ten]
    row = made([*rows, ("S", "Total organic carbon", "2")]).loc["esb-pah-tu"]
    assert row["value"] == pytest.approx(2.2008, abs=0.0001)
    assert row["high"] == pytest.approx(2.2008, abs=0.0001)
    assert row["low"] == pytest.approx(0.19137, abs=0.00001)
    assert row["class"].startswith("above 1")


@pytest.mark.parametrize(("carbon", "value", "start"), [("2", 100, "below 130"), ("1", 200, "130 to 3000")])
def test_sem_minus_avs(carbon: str, value: float, start: str) -> None:
    """Constructed: SEM 3.21, AVS 1.21 umol/g; limits of U.S. EPA 2005, EPA-600-R-02-011 (from memory)."""
    metals = {"Cadmium": "0.01", "Copper": "1.0", "Nickel": "0.1", "Lead": "0.1", "Zinc": "2.0"}
    rows = [("S", f"SEM {metal}", text) for metal, text in metals.items()]
    table = made([*rows, ("S", "Acid volatile sulfide", "1.21"), ("S", "Total organic carbon", carbon)])
    assert table.loc["sem-minus-avs", "value"] == pytest.approx(2.0)
    assert table.loc["sem-minus-avs-oc", "value"] == pytest.approx(value)
    assert table.loc["sem-minus-avs-oc", "class"].startswith(start)


# The Scientific World Journal 2013, article 417435, Table 2, stations b1 and b4; limits of Yunker et al. 2002.
PAIRS = {
    "ratio-ant-phe": (("Anthracene", "Phenanthrene"), (52.72, 289.16), 0.1542, (10.54, 54.23), 0.1627),
    "ratio-fla-pyr": (("Fluoranthene", "Pyrene"), (6.72, 239.06), 0.0273, (93.34, 77.43), 0.5466),
    "ratio-baa-chr": (("Benz(a)anthracene", "Chrysene"), (71.86, 77.46), 0.4812, (15.08, 13.90), 0.5204),
    "ratio-icdp-bghip": (
        ("Indeno(1,2,3-cd)pyrene", "Benzo(g,h,i)perylene"),
        (78.22, 89.83),
        0.4655,
        (6.37, 4.84),
        0.5682,
    ),
}
CLASSES = {
    "ratio-ant-phe": ("combustion", "combustion"),
    "ratio-fla-pyr": ("petroleum", "grass, wood or coal combustion"),
    "ratio-baa-chr": ("combustion", "combustion"),
    "ratio-icdp-bghip": ("petroleum combustion", "grass, wood or coal combustion"),
}


@pytest.mark.parametrize("ratio", PAIRS)
def test_ratios_of_pahs(ratio: str) -> None:
    names, *stations = PAIRS[ratio]
    for figures, expected, shown in zip(stations[::2], stations[1::2], CLASSES[ratio], strict=True):
        row = made([("S", name, str(one)) for name, one in zip(names, figures, strict=True)]).loc[ratio]
        assert (row["value"], row["class"]) == (pytest.approx(expected, abs=0.00005), shown)


def test_no_ratio_without_both() -> None:
    assert "ratio-ant-phe" not in made([("S", "Anthracene", "<5"), ("S", "Phenanthrene", "5")]).index


def test_geoaccumulation() -> None:
    """By hand after Mueller 1969: C = 2.4, B = 0.30 gives log2(2.4/0.45) = 2.415, class 3."""
    row = made([("S", "Cadmium", "2.4")]).loc["igeo"]
    assert row["value"] == pytest.approx(2.415, abs=0.0005)
    assert row["class"].startswith("class 3")


def list_of(size: int, units_each: float) -> tuple[pd.DataFrame, list[tuple[str, str, str]]]:
    """A published list of PAHs, and a sample at 1 % carbon with so many toxic units of each of them."""
    table = pd.concat([read_table(f"coefficients/{name}.csv") for name in ("esb_pah34", "esb_pah_isomers")])
    listed = table[table[f"in_{size}"] == "1"]
    divisors = listed["coc_fcv_ug_g_oc"].astype(float)
    return listed, [
        ("S", str(name), f"{units_each * by * 10:.6f}") for name, by in zip(listed["substance"], divisors, strict=True)
    ]


CARBON = ("S", "Total organic carbon", "1")


@pytest.mark.parametrize(("size", "factor", "evidence"), [(13, 11.5, "from_memory"), (23, 4.14, "conflict")])
def test_published_factors_for_fewer_pahs(size: int, factor: float, evidence: str) -> None:
    """U.S. EPA 2003, EPA-600-R-02-013 (factors for 95 % of sediments from memory): the list's sum times its factor."""
    listed, rows = list_of(size, 0.1)
    assert len(listed) == size
    row = made([*rows, CARBON]).loc["esb-pah-tu"]
    assert row["value"] == pytest.approx(0.1 * size * factor)
    assert row["low"] == pytest.approx(0.1 * size)
    assert row["evidence"] == evidence
    assert f"list of {size} times {factor:g}" in row["note"]


def test_the_factor_is_for_the_list_and_not_for_what_else_was_measured() -> None:
    """By hand: 13 PAHs of 0.1 toxic units each at 1 % carbon, and as much perylene: 13 x 0.1 x 11.5 = 14.95."""
    _, rows = list_of(13, 0.1)
    perylene = float(read_table("coefficients/esb_pah34.csv").set_index("substance").loc["Perylene", "coc_fcv_ug_g_oc"])
    row = made([*rows, ("S", "Perylene", f"{perylene:.6f}"), CARBON]).loc["esb-pah-tu"]
    assert row["value"] == pytest.approx(14.95)
    assert row["low"] == pytest.approx(1.4)


def test_one_pah_short_of_a_list_is_a_lower_estimate() -> None:
    _, rows = list_of(13, 0.01)
    row = made([*rows[:-1], CARBON]).loc["esb-pah-tu"]
    assert row["value"] == pytest.approx(0.12)
    assert np.isnan(row["high"])
    assert pd.isna(row["class"])


def test_a_limit_of_the_list_widens_the_upper_bound() -> None:
    """By hand: 12 of 0.1 and one below 0.1 toxic units: 1.2 x 11.5 = 13.8, up to 14.95."""
    _, rows = list_of(13, 0.1)
    rows[-1] = ("S", rows[-1][1], f"<{rows[-1][2]}")
    row = made([*rows, CARBON]).loc["esb-pah-tu"]
    assert (row["value"], row["high"]) == (pytest.approx(13.8), pytest.approx(14.95))


def test_all_34_need_no_factor() -> None:
    """By hand: 34 PAHs of 0.01 toxic units each: 0.34, and a class."""
    table = read_table("coefficients/esb_pah34.csv")
    rows = [
        ("S", str(name), f"{float(by) * 0.1:.6f}")
        for name, by in zip(table["substance"], table["coc_fcv_ug_g_oc"], strict=True)
    ]
    row = made([*rows, CARBON]).loc["esb-pah-tu"]
    assert (row["value"], row["high"]) == (pytest.approx(0.34), pytest.approx(0.34))
    assert (row["class"], row["note"]) == ("1 or less", "34 of 34 PAHs measured")


def test_a_concentration_above_solubility_counts_as_solubility() -> None:
    """Chrysene dissolves up to 826 ug/g of carbon (from memory), below its divisor of 844: never one whole unit."""
    row = made([("S", "Chrysene", "1e9"), ("S", "Total organic carbon", "1")]).loc["esb-pah-tu"]
    assert row["value"] == pytest.approx(826 / 844)


def test_no_toxic_units_where_carbon_is_very_low() -> None:
    assert "esb-pah-tu" not in made([("S", "Pyrene", "1000"), ("S", "Total organic carbon", "0.19")]).index


def test_extracted_metals_in_mass_become_moles() -> None:
    """Constructed, mg/kg by the extract: Cd 1.12414, Cu 63.546, Ni 5.8693, Pb 20.72, Zn 130.76: 3.21 umol/g."""
    metals = {"Cadmium": "1.12414", "Copper": "63.546", "Nickel": "5.8693", "Lead": "20.72", "Zinc": "130.76"}
    rows = [(f"SEM {metal}", text) for metal, text in metals.items()]
    for (name, text), expected in zip(rows, (0.01, 1.0, 0.1, 0.1, 2.0), strict=True):
        assert float(text) * (molar_factor(name) or 0) == pytest.approx(expected, rel=2e-4)


# Journal of Ecosystem and Ecography 3:133, Table 5, three-year means, umol/g: AVS; Ni, Cu, Zn, Cd, Pb; printed SEM.
AVS_TABLE = {
    "ARC 1a": (3.916, (0.078, 0.122, 1.690, 0.004, 0.096), 1.989),
    "ARC 1": (3.311, (0.062, 0.174, 1.475, 0.004, 0.079), 1.734),
    "GAB 1": (2.101, (0.214, 0.325, 2.404, 0.007, 0.045), 2.884),
    "GAB 4": (1.133, (0.060, 0.103, 0.427, 0.002, 0.106), 0.663),
    "NAT 1": (0.986, (0.078, 0.092, 0.723, 0.002, 0.017), 0.880),
}


@pytest.mark.parametrize("station", AVS_TABLE)
def test_extracted_metals_of_a_printed_table(station: str) -> None:
    """The parts are added; the printed sum agrees with them to rounding at the first station only."""
    avs, parts, printed = AVS_TABLE[station]
    names = ("Nickel", "Copper", "Zinc", "Cadmium", "Lead")
    rows = [("S", f"SEM {name}", str(one)) for name, one in zip(names, parts, strict=True)]
    row = made([*rows, ("S", "Acid volatile sulfide", str(avs))]).loc["sem-minus-avs"]
    assert row["value"] == pytest.approx(sum(parts) - avs)
    assert (abs(sum(parts) - printed) < 0.0025) == (station == "ARC 1a")


def test_body_burden_of_a_printed_example() -> None:
    """USACE TR DOER-4, Appendix F: 0.55 ug/g total PCBs, 5 % carbon, BSAF 3, lipid 10 %: 3.3 ug/g wet weight."""
    seven = [("S", f"Aroclor {one}", "550" if one == "1254" else "<0.001")
             for one in ("1016", "1221", "1232", "1242", "1248", "1254", "1260")]  # fmt: skip
    batch = normalise(batch_of([*seven, ("S", "Total organic carbon", "5")]))
    names = texts_of(batch.samples["sample"])
    source = source_of(batch.results, total(batch.results), None, names, sum_rules())
    factors = read_table("coefficients/tissue.csv").assign(bsaf="3", lipid_pct="10")
    carbon = batch.samples["toc_pct"].to_numpy(dtype=np.float64)
    row = as_frame(tissue_potential(source, carbon, factors), names, names).iloc[0]
    assert (row["value"], row["unit"]) == (pytest.approx(3300), "ug/kg wet weight")
    assert "not advice on eating fish" in row["note"]


@pytest.mark.parametrize(
    ("substance", "factors"),
    [("Dieldrin", {4, 1.36}), ("PCB-52", {2.34}), ("2,3,7,8-TCDD", {4})],
)
def test_every_factor_of_a_substance_has_a_row(substance: str, factors: set[float]) -> None:
    """BSAFs of the Inland Testing Manual 1998, Tracey and Hansen 1996, McFarland et al. 1994: at 1 % carbon and lipid
    the potential of 10 is ten times the factor."""
    rows = made([("S", substance, "10"), CARBON]).loc[["tissue-potential"]]
    rows = rows[rows["substance"] == substance]
    assert {round(value / 10, 9) for value in rows["value"]} == factors


def test_potentials_of_totals() -> None:
    """Total PAHs by the median of Tracey and Hansen 1996 (0.29, from memory), 2 % carbon, 1 % lipid: 16 x 0.145."""
    members = sum_rules().members
    sixteen = members[members["total"] == "pah-16"]["substance"].astype(object)
    rows = made([*(("S", name, "1") for name in sixteen), ("S", "Total organic carbon", "2")]).loc[["tissue-potential"]]
    of_pahs = rows[rows["substance"] == "Total PAHs"]
    assert sorted(of_pahs["value"]) == [pytest.approx(16 * by / 2) for by in (0.29, 1.7, 4)]
    assert set(of_pahs["members"]) == {"pah-16"}


def test_no_potential_of_metals_nondetects_or_very_low_carbon() -> None:
    rows = [("S", "Mercury", "1"), ("S", "Dieldrin", "<1"), CARBON, ("T", "Dieldrin", "1"),
            ("T", "Total organic carbon", "0.19")]  # fmt: skip
    assert "tissue-potential" not in made(rows).index


def test_pollution_load_is_a_geometric_mean() -> None:
    """By hand after Tomlinson et al. 1980 with average shale: factors 2, 4 and 8 give 4."""
    row = made([("S", "Copper", "90"), ("S", "Zinc", "380"), ("S", "Lead", "160")]).loc["pollution-load"]
    assert row["value"] == pytest.approx(4)
    assert row["class"].startswith("above 1")


def test_enrichment_takes_aluminium_then_lithium_then_iron_then_fines() -> None:
    """By hand with average shale: lead 40 of 20, aluminium 40000 of 80000: (40/20)/(0.5) = 4."""
    elements = [("S", "Iron", "47200"), ("S", "Lithium", "66")]
    lead = ("S", "Lead", "40")
    assert made([lead, *elements, ("S", "Aluminum", "40000")]).loc["enrichment", "value"] == pytest.approx(4)
    assert made([lead, *elements]).loc["enrichment", "members"] == "Lithium"
    assert made([lead, elements[0]]).loc["enrichment", "members"] == "Iron"
    assert "enrichment" not in made([lead, ("S", "Fines", "50")]).index


def test_the_fine_fraction_normalises_against_reference_stations() -> None:
    """By hand: reference lead 20 at 40 % fines, site 30 at 80 %: (30/20) / (80/40) = 0.75."""
    rows = [("R", "Lead", "20"), ("R", "Fines", "40"), ("S", "Lead", "30"), ("S", "Fines", "80")]
    batch = normalise(batch_of(rows, samples={"R": {"role": "reference"}, "S": {}}))
    row = indices(batch, total(batch.results), [], Settings()).set_index("index").loc["enrichment"]
    assert (row["value"], row["members"]) == (pytest.approx(0.75), "fine fraction")
