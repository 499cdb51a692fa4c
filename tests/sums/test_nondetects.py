"""The share of each member under the rules, by itself."""

from __future__ import annotations

import numpy as np
import pytest

from screen.stages.sums.nondetects import substituted

UNKNOWN = np.nan


@pytest.mark.parametrize(
    ("value", "low", "high", "rule", "share"),
    [
        (5.0, 5.0, 5.0, "half", 5.0),
        (5.0, 0.0, 5.0, "zero", 5.0),  # an estimated maximum keeps its value
        (UNKNOWN, 0.0, 8.0, "zero", 0.0),
        (UNKNOWN, 0.0, 8.0, "half", 4.0),
        (UNKNOWN, 0.0, 8.0, "root2", 8.0 / np.sqrt(2.0)),
        (UNKNOWN, 0.0, 8.0, "full", 8.0),
        (UNKNOWN, 3.0, 8.0, "zero", 3.0),  # a trace is at least its lower bound
        (UNKNOWN, 5.0, 8.0, "half", 5.0),
        (UNKNOWN, 3.0, UNKNOWN, "half", 3.0),
        (UNKNOWN, 0.0, UNKNOWN, "full", 0.0),
    ],
)
def test_the_share_of_a_member(value: float, low: float, high: float, rule: str, share: float) -> None:
    found = substituted(*(np.array([one]) for one in (value, low, high)), rule)
    assert found[0] == pytest.approx(share, rel=1e-15)
