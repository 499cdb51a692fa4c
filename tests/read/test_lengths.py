"""Lengths and intervals. Factors: 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screen.stages.read.words.lengths import known_unit, read_interval, read_intervals, read_length, read_lengths


@pytest.mark.parametrize(
    ("text", "unit", "cm"),
    [
        ("4 1/2 in", "", 11.43),  # the figures that issue and field sheets give for these two
        ("3 1/2 in", "", 8.89),
        ("4-1/2 in", "", 11.43),
        ("4½ in", "", 11.43),
        ("4 ½”", "", 11.43),
        ("1.5 ft", "", 45.72),
        ("0' 6\"", "", 15.24),
        ("5'-3 1/2\"", "", 161.29),
        ("1 ft 6 in", "", 45.72),
        ("0.15 m", "", 15.0),
        ("0,15 m", "", 15.0),
        ("0,125 m", "", 12.5),
        (".5 ft", "", 15.24),
        ("12", "cm", 12.0),
        ("6 in", "cm", 15.24),
        ("6 inches", "", 15.24),
        ("6′′", "", 15.24),
        ("-3.2 m", "", -320.0),
        ("3 mm", "", 0.3),
        ("1\u00a0ft", "", 30.48),
    ],
)
def test_a_length_is_read(text: str, unit: str, cm: float) -> None:
    assert read_length(text, unit) == (cm, "")


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("4 1/2", "depth-unit-missing"),
        ("12 furlongs", "depth-unit-unknown"),
        ("2026-03-09", "depth-date"),
        ("2026-03-09 00:00:00", "depth-date"),
        ("9-Mar", "depth-date"),
        ("Mar-26", "depth-date"),
        ("1,234 m", "depth-ambiguous"),
        ("about a foot", "depth-unreadable"),
        ("6 in 2 ft", "depth-unreadable"),
        ("5/0 in", "depth-unreadable"),
    ],
)
def test_a_length_is_refused(text: str, code: str) -> None:
    value, found = read_length(text)
    assert math.isnan(value)
    assert found == code


def test_an_empty_length_is_missing_without_a_code() -> None:
    value, code = read_length("  ", "cm")
    assert math.isnan(value)
    assert code == ""


@settings(deadline=None)
@given(whole=st.integers(0, 400), eighths=st.integers(1, 7))
def test_a_mixed_fraction_of_inches_is_the_nearest_double(whole: int, eighths: int) -> None:
    assert read_length(f"{whole} {eighths}/8 in")[0] == (whole * 8 + eighths) * 254 / 800


@settings(deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 10_000))
def test_an_interval_in_cm_is_read_whatever_parts_it(top: int, more: int) -> None:
    for sign in ("-", " - ", "–", " to ", "/"):
        assert read_interval(f"{top}{sign}{top + more} cm") == (float(top), float(top + more), "")


@pytest.mark.parametrize(
    ("text", "unit", "top", "bottom"),
    [
        ("0-10 cm", "", 0, 10),
        ("0-10", "cm", 0, 10),
        ("0 to 10", "cm", 0, 10),
        ("0–10", "cm", 0, 10),
        ("0 cm - 10 cm", "", 0, 10),
        ("0-0.5 ft", "", 0, 15.24),
        ('0-6"', "", 0, 15.24),
        ("0-6 in", "cm", 0, 15.24),
        ("10/20", "cm", 10, 20),
        ("0-0.15 m", "", 0, 15),
        ("0 - 3 1/2 in", "", 0, 8.89),
        ("0-3-1/2 in", "", 0, 8.89),
        ("4 1/2 - 8 in", "", 11.43, 20.32),
        ("6 in - 1 ft", "", 15.24, 30.48),
        ("0' 6\" - 1' 0\"", "", 15.24, 30.48),
        ("0,5-1,5 m", "", 50, 150),
        ("surface (0-2 cm)", "", 0, 2),
        ("0-10 cm below bed", "", 0, 10),
    ],
)
def test_an_interval_is_read(text: str, unit: str, top: float, bottom: float) -> None:
    assert read_interval(text, unit) == (float(top), float(bottom), "")


@pytest.mark.parametrize(
    ("text", "unit", "top", "code"),
    [
        (">50", "cm", 50, ""),
        ("> 2 ft", "", 60.96, ""),
        ("surface", "", 0, ""),
        ("Surface", "", 0, ""),
        ("10 cm", "", 10, "depth-single"),
    ],
)
def test_an_open_interval_has_no_bottom(text: str, unit: str, top: float, code: str) -> None:
    found_top, bottom, found = read_interval(text, unit)
    assert (found_top, found) == (float(top), code)
    assert math.isnan(bottom)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("0-10", "depth-unit-missing"),
        ("2026-03-09", "depth-date"),
        ("9-Mar", "depth-date"),
        ("-5 cm", "depth-negative"),
        ("0-10 cm below mudline", "depth-datum"),
        ("elevation 3 m", "depth-datum"),
        ("1/2 in", "depth-ambiguous"),
        ("4-1/2 in", "depth-ambiguous"),
        ("top of the bank", "depth-unreadable"),
        ("0-10 parsecs", "depth-unit-unknown"),
        ("0 to 2-3cm", "depth-unreadable"),
        ("0-60:96 cm", "depth-unreadable"),
    ],
)
def test_an_interval_is_refused(text: str, code: str) -> None:
    top, bottom, found = read_interval(text)
    assert math.isnan(top)
    assert math.isnan(bottom)
    assert found == code


def test_an_interval_upside_down_is_kept_and_named() -> None:
    assert read_interval("20-10 cm") == (20.0, 10.0, "depth-order")


def test_many_texts_are_read_in_their_order() -> None:
    frame = read_lengths(["1 ft", "", "2", "1 ft"], ["cm", "cm", "in", "m"])
    assert frame["cm"].tolist()[2:] == [5.08, 30.48]
    assert frame["cm"].isna().tolist() == [False, True, False, False]


def test_many_intervals_are_read_in_their_order() -> None:
    frame = read_intervals(["0-10", "10-20", "0-10"], "cm")
    assert frame["bottom_cm"].tolist() == [10.0, 20.0, 10.0]
    assert frame["code"].tolist() == ["", "", ""]


def test_no_texts_give_an_empty_frame() -> None:
    assert read_intervals([], "cm").empty


@pytest.mark.parametrize(("text", "unit"), [("Inches", "in"), ("(cm)", "cm"), ("ft.", "ft"), ("ppm", "")])
def test_a_unit_of_length_is_known(text: str, unit: str) -> None:
    assert known_unit(text) == unit
