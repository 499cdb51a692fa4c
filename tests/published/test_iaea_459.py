"""A certified marine sediment of low level whose certificate gives one isomer twice and one pair as a single peak.

Source: International Atomic Energy Agency, reference material page of IAEA-459, organic contaminants in marine sediment
(seen; the excerpt ends after PCB 110); Tolosa and others 2019. All in ug/kg of dry mass. ERL and ERM: Long, MacDonald,
Smith and Calder 1995.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from harness import Outcome, run_siltmark, write_csv

#: As the page writes them: value, and the canonical name of the result.
CERTIFICATE: dict[str, tuple[str, str]] = {
    "2-Methylnaphthalene": ("15.5", "2-Methylnaphthalene"),
    "1-Methylnaphthalene": ("9.2", "1-Methylnaphthalene"),
    "Acenaphthylene": ("3.2", "Acenaphthylene"),
    "Fluorene": ("4.7", "Fluorene"),
    "Acenaphthene": ("1.78", "Acenaphthene"),
    "Dibenzothiophene": ("9.4", "Dibenzothiophene"),
    "Phenanthrene": ("33.9", "Phenanthrene"),
    "Anthracene": ("6.0", "Anthracene"),
    "Fluoranthene": ("37.3", "Fluoranthene"),
    "Pyrene": ("46.3", "Pyrene"),
    "Benz[a]anthracene": ("19.3", "Benz(a)anthracene"),
    "Chrysene + triphenylene": ("27.5", "Chrysene/Triphenylene"),
    "Benzo[b]fluoranthene": ("44.1", "Benzo(b)fluoranthene"),
    "Benzo[b+j]fluoranthene": ("59", "Benzo(b,j)fluoranthene"),
    "Benzo[k]fluoranthene": ("19.0", "Benzo(k)fluoranthene"),
    "Benzo[e]pyrene": ("36", "Benzo(e)pyrene"),
    "Benzo[a]pyrene": ("22.7", "Benzo(a)pyrene"),
    "Indeno[1,2,3-cd]pyrene": ("36", "Indeno(1,2,3-cd)pyrene"),
    "Benzo[ghi]perylene": ("36", "Benzo(g,h,i)perylene"),
    "PCB 28": ("2.27", "PCB-28"),
    "PCB 31": ("2.41", "PCB-31"),
    "PCB 44": ("1.72", "PCB-44"),
    "PCB 49": ("2.64", "PCB-49"),
    "PCB 52": ("2.38", "PCB-52"),
    "PCB 66": ("3.10", "PCB-66"),
    "PCB 87": ("1.24", "PCB-87"),
    "PCB 101": ("3.78", "PCB-101"),
    "PCB 105": ("1.29", "PCB-105"),
    "PCB 110": ("3.70", "PCB-110"),
}


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    folder: Path = tmp_path_factory.mktemp("iaea")
    rows = [["Sample", "Analyte", "Result", "Unit", "Basis"]]
    rows += [["IAEA-459", name, text, "ug/kg", "dry"] for name, (text, _) in CERTIFICATE.items()]
    sheet = write_csv(folder / "organics.csv", rows)
    options = ["--guidelines", "long-1995-marine", "--tables-only"]
    return run_siltmark("screen", sheet, "--out", folder / "out", *options, out=folder / "out")


@pytest.mark.parametrize(("text", "substance"), CERTIFICATE.values())
def test_every_certified_value_comes_back(run: Outcome, text: str, substance: str) -> None:
    assert float(run.one("results", substance=substance)["value"]) == float(text)


def test_the_isomer_that_is_certified_twice_is_added_once(run: Outcome) -> None:
    """b + j is 59 and holds the 44.1 of b: with k the total is 78, not 122.1."""
    row = run.one("totals", total="benzofluoranthenes")
    assert float(row["value"]) == pytest.approx(59 + 19.0, rel=1e-12)


def test_the_isomer_beside_its_peak_is_kept_and_not_used(run: Outcome) -> None:
    row = run.one("results", substance="Benzo(b)fluoranthene")
    assert (row["used"], row["why_not"]) == ("false", "in-a-group")


def test_low_molecular_weight_pahs(run: Outcome) -> None:
    """Six of the seven (naphthalene is not certified): 15.5 + 3.2 + 4.7 + 1.78 + 33.9 + 6.0 = 65.08."""
    row = run.one("totals", total="pah-low7")
    assert float(row["value"]) == pytest.approx(65.08, rel=1e-12)
    assert (row["measured"], row["members"], row["complete"], row["missing"]) == ("6", "7", "false", "Naphthalene")
    found = run.one("findings", total="pah-low7")
    assert found["finding"] == "undetermined"  # below the ERL of 552, but a part


def test_chrysene_with_triphenylene_keeps_its_value(run: Outcome) -> None:
    found = run.one("findings", substance="Chrysene")
    assert (float(found["value"]), found["finding"]) == (27.5, "below")
    assert found["note"]


def test_single_substances_are_below_the_erl(run: Outcome) -> None:
    few = [row for row in run.rows("findings") if not row["total"]]
    assert len(few) == 11
    assert {row["finding"] for row in few} == {"below"}
