"""Quotients and means of quotients."""

from __future__ import annotations

import numpy as np
import pytest
from made import batch_of, compared, set_of

from screen.settings import Settings
from screen.stages.compare.indices.indices import indices
from screen.stages.normalise import normalise
from screen.stages.sums import total

# Table 2 of a survey of river sediment (open-access article PMC3353313): TEL, PEL and two stations, mg/kg.
TABLE = {
    "Arsenic": (5.9, 17, 55.93, 63.3, 9.480, 3.290, 10.729, 3.724),
    "Cadmium": (0.6, 3.5, 12.3, 4.5, 20.500, 3.514, 7.500, 1.286),
    "Chromium": (37.3, 90, 3.3, 7.6, 0.088, 0.037, 0.204, 0.084),
    "Copper": (35.7, 197, 198, 34.4, 5.546, 1.005, 0.964, 0.175),
    "Mercury": (0.17, 0.49, 0.1, 0.17, 0.588, 0.204, 1.000, 0.347),
    "Lead": (35, 91, 92.6, 54.7, 2.646, 1.018, 1.563, 0.601),
    "Zinc": (123, 315, 452.7, 122.2, 3.680, 1.437, 0.993, 0.388),
}


@pytest.mark.parametrize("metal", TABLE)
def test_quotients_of_a_printed_table(metal: str) -> None:
    """Quotients recomputed to three decimals from the printed figures."""
    tel, pel, first, second, *expected = TABLE[metal]
    chosen = set_of([(metal, {"TEL": tel, "PEL": pel})], levels=("TEL", "PEL"))
    found = compared([("R1", metal, str(first)), ("R2", metal, str(second))], chosen)
    got = found[["lower_quotient", "upper_quotient"]].to_numpy().ravel()
    assert got == pytest.approx(expected, abs=0.0005)


def test_mercury_at_the_level_does_not_exceed_it() -> None:
    """Same table, station R2: mercury 0.17 equals the TEL."""
    chosen = set_of([("Mercury", {"TEL": 0.17, "PEL": 0.49})], levels=("TEL", "PEL"))
    found = compared([("R2", "Mercury", "0.17")], chosen)
    assert found["finding"].tolist() == ["below"]


def test_mean_pec_quotient_is_a_mean_of_class_means() -> None:
    """Constructed after MacDonald et al. 2000 and Ingersoll et al. 2001: 1.0952, not the flat mean 0.8889."""
    figures = {
        "Arsenic": 16.5,
        "Cadmium": 2.49,
        "Chromium": 55.5,
        "Copper": 74.5,
        "Lead": 128,
        "Nickel": 24.3,
        "Zinc": 918,
    }
    rows = [("S", metal, str(figure)) for metal, figure in figures.items()]
    rows += [("S", "Pyrene", "11400"), ("S", "Aroclor 1254", "1352")]
    batch = normalise(batch_of(rows))
    table = indices(batch, total(batch.results), [], Settings()).set_index("index")
    row = table.loc["mean-pec-quotient"]
    assert row["value"] == pytest.approx(np.mean([5.5 / 7, 0.5, 2.0]))
    assert row["value"] == pytest.approx(1.0952, abs=0.00005)
