"""Kaplan-Meier means and sums against a printed example and against masses worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from made import results_of

from screen.kaplan_meier import kaplan_meier
from screen.stages.sums import total

# U.S. EPA 2009, Unified Guidance, EPA 530/R-09-007, Example 15-1 (p. 15-10): manganese, ppb, 25 values in five wells.
MANGANESE = (
    "<5 12.1 16.9 21.6 <2 <5 7.7 53.6 9.5 45.9 <5 5.3 12.6 106.3 34.5 6.3 11.9 10 <2 77.2 17.9 22.7 3.3 8.4 <2".split()
)


def km(texts: list[str], logs: bool = False) -> float:
    figure = np.array([float(text.lstrip("<")) for text in texts])
    censored = np.array([text.startswith("<") for text in texts])
    figure = np.log(figure) if logs else figure
    return float(kaplan_meier(np.zeros(len(figure), dtype=np.int64), figure, ~censored, 1).mean[0])


def test_epa_2009_example_15_1() -> None:
    """Printed: Kaplan-Meier mean of the logarithms 2.30929."""
    assert km(MANGANESE, logs=True) == pytest.approx(2.30929, abs=0.00001)


def test_masses_by_hand() -> None:
    """12, <5, 8, 5, <3, 2: masses 1/6 at 12, 8 and 5, 1/2 at 2."""
    assert km("12 <5 8 5 <3 2".split()) == pytest.approx(31 / 6)


def test_a_toxic_equivalent_by_hand() -> None:
    """Weighted values 5.0, 2.0, <1.0, 0.8, <0.5, 0.3, 0.1: mean 1.25, times 7 is 8.75; bounds 8.2 and 9.7."""
    rows = [
        ("S", "2,3,7,8-TCDD", "5"),
        ("S", "1,2,3,7,8-PeCDD", "2"),
        ("S", "2,3,7,8-TCDF", "<10"),
        ("S", "1,2,3,4,7,8-HxCDD", "8"),
        ("S", "1,2,3,6,7,8-HxCDD", "<5"),
        ("S", "1,2,3,7,8,9-HxCDD", "3"),
        ("S", "1,2,3,4,7,8-HxCDF", "1"),
    ]
    table = total(results_of(rows), nondetects=("zero", "half", "km")).query("total == 'teq-2005'").set_index("rule")
    assert table.loc["km", "value"] == pytest.approx(8.75)
    assert table.loc["zero", "value"] == pytest.approx(8.2)
    assert table.loc["half", "value"] == pytest.approx(8.95)
    assert table["high"].to_list() == pytest.approx([9.7] * 3)
