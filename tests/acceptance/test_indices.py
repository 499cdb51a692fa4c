"""indices.csv from the sheet on: the worked examples of the methods handbook (inputs constructed, rules published)."""

from __future__ import annotations

import math
from collections.abc import Callable

from harness import Outcome

Screen = Callable[..., Outcome]


def dry(unit: str, **figures: str) -> list[tuple[str, str, str, str, str]]:
    return [("S1", name.replace("_", " "), text, unit, "dry") for name, text in figures.items()]


def index(out: Outcome, name: str) -> float:
    return float(out.one("indices", sample="S1", index=name)["value"])


def test_mean_pec_quotient_is_the_mean_of_three_classes(screen_csv: Screen) -> None:
    """W16: metals 0.7857, PAHs 0.5, PCBs 2.0; mean 1.0952 (MacDonald and others 2000; Ingersoll and others 2001)."""
    rows = dry("mg/kg", Arsenic="16.5", Cadmium="2.49", Chromium="55.5", Copper="74.5", Lead="128", Nickel="24.3")
    rows += dry("mg/kg", Zinc="918") + dry("ug/kg", Total_PAHs="11400", Total_PCBs="1352")
    assert math.isclose(index(screen_csv(rows), "mean-pec-quotient"), (5.5 / 7 + 0.5 + 2.0) / 3, rel_tol=1e-9)


def test_pah_toxic_units(screen_csv: Screen) -> None:
    """W18: 25/596 + 60/707 + 45/697 = 0.19137 at 2 % carbon (United States EPA 2003; divisors from memory)."""
    rows = dry("ug/kg", Phenanthrene="500", Fluoranthene="1200", Pyrene="900") + dry("%", TOC="2")
    assert math.isclose(index(screen_csv(rows), "esb-pah-tu"), 25 / 596 + 60 / 707 + 45 / 697, rel_tol=1e-6)


def test_sem_minus_avs(screen_csv: Screen) -> None:
    """W19: 0.01 + 1.0 + 0.1 + 0.1 + 2.0 = 3.21 umol/g; AVS 1.21; difference 2.00; per gram of carbon at 2 %: 100."""
    rows = [("S1", f"{name} SEM", text, "umol/g", "dry") for name, text in
            (("Cadmium", "0.01"), ("Copper", "1.0"), ("Nickel", "0.1"), ("Lead", "0.1"), ("Zinc", "2.0"))]  # fmt: skip
    rows += [
        ("S1", "AVS", "1.21", "umol/g", "dry"),
        ("S1", "TOC", "2", "%", "dry"),
        ("S1", "Lead", "5", "mg/kg", "dry"),
    ]
    out = screen_csv(rows)
    assert math.isclose(index(out, "sem-minus-avs"), 2.0, rel_tol=1e-9)
    assert math.isclose(index(out, "sem-minus-avs-oc"), 100.0, rel_tol=1e-9)


def test_extracted_metals_are_not_total_metals(screen_csv: Screen) -> None:
    """A metal by the SEM extract is never compared with a guideline for the total metal."""
    rows = [("S1", "Zinc SEM", "2000", "umol/g", "dry"), ("S1", "Lead", "5", "mg/kg", "dry")]
    assert screen_csv(rows).rows("findings", substance="Zinc") == []
