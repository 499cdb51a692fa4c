"""Tails and quantiles against SciPy, whose tails are told from its quantiles: those are exact to ten digits only."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from screen.stages.compare.places.distributions import (
    chi_squared_tail,
    normal_quantiles,
    student_quantile,
    two_normal_tails,
)


@given(st.floats(0, 30))
def test_two_tails_of_the_normal_distribution(deviate: float) -> None:
    assert two_normal_tails(deviate) == pytest.approx(2 * special.ndtr(-deviate), rel=1e-12)


@given(st.lists(st.floats(1e-12, 1 - 1e-12), min_size=1))
def test_quantiles_of_the_normal_distribution(probabilities: list[float]) -> None:
    figures = np.array(probabilities)
    np.testing.assert_allclose(normal_quantiles(figures), special.ndtri(figures), rtol=1e-13, atol=1e-15)


@given(st.integers(1, 300), st.floats(0, 600))
def test_the_tail_of_the_chi_squared_distribution(freedom: int, square: float) -> None:
    wanted = special.chdtrc(freedom, square)
    assert chi_squared_tail(freedom, square) == pytest.approx(wanted, rel=1e-11, abs=1e-290)


def test_the_tail_below_no_square_is_all_of_it() -> None:
    assert chi_squared_tail(3, 0.0) == chi_squared_tail(3, -1e-17) == 1
    assert np.isnan(chi_squared_tail(3, np.nan))


@given(st.floats(0.5, 0.999), st.integers(1, 5000))
def test_below_the_quantile_of_student_lies_its_probability(probability: float, freedom: int) -> None:
    assert special.stdtr(freedom, student_quantile(probability, freedom)) == pytest.approx(probability, rel=1e-12)


@pytest.mark.parametrize("freedom", [100_000, 1_000_001])
def test_the_quantile_of_student_with_very_many_results(freedom: int) -> None:
    assert special.stdtr(freedom, student_quantile(0.95, freedom)) == pytest.approx(0.95, rel=1e-11)


@pytest.mark.parametrize(
    ("freedom", "printed"), [(1, 6.314), (2, 2.920), (7, 1.895), (10, 1.812), (30, 1.697), (120, 1.658)]
)
def test_quantiles_of_student_as_printed(freedom: int, printed: float) -> None:
    """Abramowitz and Stegun 1964, table 26.10 (from memory)."""
    assert round(student_quantile(0.95, freedom), 3) == printed
