"""Two certified marine sediments as a check of direction: the sandy one comes out below, the harbour one does not.

Source: National Research Council Canada, certificate of HISS-1, MESS-3 and PACS-2 (French edition), table of elements,
dry mass; seen. ERL and ERM: Long, MacDonald, Smith and Calder 1995. TEC and PEC: MacDonald, Ingersoll and Berger 2000.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from harness import Outcome, run_siltmark, write_csv

#: element: HISS-1, PACS-2 in mg/kg; finding by ERL/ERM for PACS-2; finding by TEC/PEC for PACS-2.
CERTIFICATE: dict[str, tuple[float, float, str | None, str | None]] = {
    "Arsenic": (0.801, 26.2, "between", "between"),  # 8.2, 70; 9.79, 33
    "Cadmium": (0.024, 2.11, "between", "between"),  # 1.2, 9.6; 0.99, 4.98
    "Chromium": (30.0, 90.7, "between", "between"),  # 81, 370; 43.4, 111
    "Copper": (2.29, 310.0, "above", "above"),  # 34, 270; 31.6, 149
    "Lead": (3.13, 183.0, "between", "above"),  # 46.7, 218; 35.8, 128
    "Mercury": (0.01, 3.04, "above", "above"),  # 0.15, 0.71; 0.18, 1.06
    "Nickel": (2.16, 39.5, "between", "between"),  # 20.9, 51.6; 22.7, 48.6
    "Silver": (0.016, 1.22, "between", None),  # 1.0, 3.7; none
    "Zinc": (4.94, 364.0, "between", "between"),  # 150, 410; 121, 459
}


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    folder: Path = tmp_path_factory.mktemp("nrc")
    rows = [["Sample", "Units", "Basis", *CERTIFICATE]]
    rows.append(["HISS-1", "mg/kg", "dry", *(str(c[0]) for c in CERTIFICATE.values())])
    rows.append(["PACS-2", "mg/kg", "dry", *(str(c[1]) for c in CERTIFICATE.values())])
    sheet = write_csv(folder / "metals.csv", rows)
    options = ["--guidelines", "long-1995-marine", "--guidelines", "consensus-2000-fresh", "--tables-only"]
    return run_siltmark("screen", sheet, "--out", folder / "out", *options, out=folder / "out")


@pytest.mark.parametrize("element", CERTIFICATE)
def test_the_sandy_sediment_is_below(run: Outcome, element: str) -> None:
    rows = run.rows("findings", sample="HISS-1", substance=element)
    assert rows
    assert {row["finding"] for row in rows} == {"below"}


@pytest.mark.parametrize("element", CERTIFICATE)
@pytest.mark.parametrize(("set_id", "at"), [("long-1995-marine", 2), ("consensus-2000-fresh", 3)])
def test_the_harbour_sediment_is_not(run: Outcome, element: str, set_id: str, at: int) -> None:
    rows = run.rows("findings", sample="PACS-2", substance=element, set=set_id)
    expected = CERTIFICATE[element][at]
    assert [row["finding"] for row in rows] == ([expected] if expected else [])


def test_values_come_back_as_certified(run: Outcome) -> None:
    for element, (low, high, _, _) in CERTIFICATE.items():
        assert float(run.one("results", sample="HISS-1", substance=element)["value"]) == low
        assert float(run.one("results", sample="PACS-2", substance=element)["value"]) == high
