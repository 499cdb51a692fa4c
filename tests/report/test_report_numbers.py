"""Figures as shown: three significant figures, and never on the wrong side of a level."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.stages.report.numbers import against, counted, figure, listed, padding, share, times
from screen.stages.report.numbers import given as as_given


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (1240.3, "1,240"),
        (59.8, "59.8"),
        (0.0042, "0.00420"),
        (9.999, "10.0"),
        (0.0, "0"),
        (3e-7, "3.00 × 10^-7"),
        (52712.2, "52,700"),
        (999.6, "1,000"),
        (math.nan, ""),
        (None, ""),
    ],
)
def test_three_significant_figures(value, shown):
    assert figure(value) == shown


@pytest.mark.parametrize(("value", "shown"), [(0.99, "0.99"), (22800.0, "22,800"), (30.0, "30"), (12.3456789, "12.35")])
def test_given_figures_keep_their_digits(value, shown):
    assert as_given(value) == shown


@given(st.floats(1e-3, 1e7), st.floats(1e-3, 1e7))
def test_a_figure_is_never_shown_on_the_other_side_of_its_level(value, level):
    shown = float(against(value, level).replace(",", ""))
    if abs(value - level) > 1e-9 * level:
        assert (shown > level) == (value > level)


def test_a_quotient_just_above_one_shows_that_it_is():
    assert times(1.0004) == "1.0004"
    assert times(0.9996) == "0.9996"
    assert times(1.8336) == "1.83"


def test_counts_and_lists():
    assert counted(1, "sample") == "1 sample"
    assert counted(1400, "sample") == "1,400 samples"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed(["a", "b", "c", "d"], 2) == "a, b and 2 more"
    assert share(1, 1000) == "under 1 %"
    assert share(999, 1000) == "over 99 %"


def test_padding_brings_decimal_marks_under_one_another():
    texts = ["1,240", "59.8", "0.0042", ""]
    padded = [text + pad for text, pad in zip(texts, padding(texts), strict=True)]
    after = [len(text) - max(text.find("."), text.find("\u2008")) for text in padded if text]
    assert len(set(after)) == 1
