"""The one rule that takes a result without a value at half its limit."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.stages.compare.findings.half_limits import at_half_limit

NOTHING = math.nan


def one(value: float, low: float, high: float) -> float:
    return float(at_half_limit(*(np.array([each]) for each in (value, low, high)))[0])


@pytest.mark.parametrize(
    ("value", "low", "high", "taken"),
    [(7, 7, 7, 7), (NOTHING, 0, 8, 4), (NOTHING, 3, 8, 4), (NOTHING, 5, 8, 5), (7, 7, NOTHING, 7)],
)
def test_what_is_taken(value: float, low: float, high: float, taken: float) -> None:
    assert one(value, low, high) == taken


def test_without_an_upper_bound_nothing_is_taken() -> None:
    assert math.isnan(one(NOTHING, 3, NOTHING))


@given(st.floats(0, 1e6), st.floats(0, 1e6))
def test_what_is_taken_lies_between_the_bounds(one_end: float, other: float) -> None:
    low, high = sorted((one_end, other))
    assert low <= one(NOTHING, low, high) <= high
