"""Per organic carbon: normalising, toxic units of PAHs, metals against sulfide, ratios of PAHs, background."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import batch_of, one_finding, set_of

from screen.settings import Settings
from screen.stages.compare.indices import indices
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
    """Same, the ten others of the 13 not detected at 0: 0.19137 x 11.5 = 2.2008 in the upper bound."""
    ten = ("Naphthalene", "Acenaphthylene", "Acenaphthene", "Fluorene", "Anthracene", "Benz(a)anthracene", "Chrysene",
           "Benzo(b)fluoranthene", "Benzo(k)fluoranthene", "Benzo(a)pyrene")  # fmt: skip
    rows = [("S", "Phenanthrene", "500"), ("S", "Fluoranthene", "1200"), ("S", "Pyrene", "900")]
    rows += [("S", name, "<1e-9") for name in ten]
    row = made([*rows, ("S", "Total organic carbon", "2")]).loc["esb-pah-tu"]
    assert row["high"] == pytest.approx(2.2008, abs=0.0001)


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
