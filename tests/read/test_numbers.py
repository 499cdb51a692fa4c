"""Numbers in texts: the strict pattern, and the ruling on decimal and thousands marks."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.stages.read.words.numbers import decimal_evidence, decimal_proofs, parse_number


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("12.3", "point", 12.3),
        ("12", None, 12.0),
        (".5", "point", 0.5),
        ("5.", "point", 5.0),
        ("-0.03", "point", -0.03),
        ("\u22120.03", "point", -0.03),
        ("1.2E+03", "point", 1200.0),
        ("1.2e3", "point", 1200.0),
        ("1.2x10^3", "point", 1200.0),
        ("1.2×10³", "point", 1200.0),
        ("1.2 × 10⁻³", "point", 0.0012),
        ("12 500", "point", 12500.0),
        ("12\u202f500", None, 12500.0),
        ("12\u00a0500,5", "comma", 12500.5),
        ("1,234", "point", 1234.0),
        ("1.234", "comma", 1234.0),
        ("1.234,5", "comma", 1234.5),
        ("1.234,5", None, 1234.5),
        ("1,234.5", "point", 1234.5),
        ("1,234,567", "point", 1234567.0),
        ("1.234.567", "comma", 1234567.0),
        ("0,05", None, 0.05),
        ("'61.0", "point", 61.0),
    ],
)
def test_a_number_is_read(text, decimal, value):
    assert parse_number(text, decimal)[:2] == (value, "")


@pytest.mark.parametrize(
    ("text", "decimal", "code"),
    [
        ("1,234", None, "decimal-unclear"),
        ("1.234", None, "decimal-unclear"),
        ("1,234", "mixed", "decimal-unclear"),
        ("4,8", "point", "decimal-unclear"),
        ("4.8", "comma", "decimal-unclear"),
        ("1.234,5", "point", "decimal-unclear"),
        *(
            (text, "point", "not-a-number")
            for text in ("nan", "inf", "Infinity", "-inf", "1_000", "0x1F", "１２", "٣", "", ".", "-", "7.1.2")
        ),
        *(
            (text, "point", "not-a-number")
            for text in ("8-11", "12/13", "9±2", "1e", "e5", "1,2,3", "12 50", "12 5000", "1 2345", "--5", "1.2.3e5")
        ),
        ("1e400", "point", "number-range"),
        ("1e-400", "point", "number-range"),
        ("1e99999", "point", "not-a-number"),
    ],
)
def test_a_text_is_refused(text, decimal, code):
    value, found, _ = parse_number(text, decimal)
    assert math.isnan(value)
    assert found == code


def test_minus_zero_is_zero():
    assert math.copysign(1, parse_number("-0", None).value) == 1


@pytest.mark.parametrize(
    ("text", "decimal", "notice"), [("1,234", "point", "thousands-mark"), ("'61", None, "apostrophe"), ("61", None, "")]
)
def test_a_mended_number_is_noticed(text, decimal, notice):
    assert parse_number(text, decimal).notice == notice


@pytest.mark.parametrize(
    ("texts", "evidence"),
    [
        (["12.3"], "point"),
        (["0.05"], "point"),
        (["<0.5 U"], "point"),
        (["1,234.5"], "point"),
        (["1,234,567"], "point"),
        (["12,34"], "comma"),
        (["0,05"], "comma"),
        (["1.234,5"], "comma"),
        (["1.234", "1,234", "15", "ND", ""], None),
        (["03.04.2026", "7.1.2", "28/12/2026"], None),
        (["12.3", "4,8"], "mixed"),
        (["12.3"] * 10 + ["4,8"], "point"),
        (["4,8"] * 3 + ["12.3"], "comma"),
        (["0.123"], "point"),
        (["1234.567"], "point"),
    ],
)
def test_the_decimal_mark_is_proved(texts, evidence):
    assert decimal_evidence(texts) == evidence


def test_the_proofs_are_named():
    assert decimal_proofs(["15", "1,234", "12.3", "4,8"]) == ("12.3", "4,8")


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_any_finite_number_reads_back(number):
    found = parse_number(repr(number), "point")
    assert found.value == number


@given(st.integers(0, 999_999_999), st.sampled_from(["point", "comma"]))
def test_grouped_whole_numbers_read_back(number, decimal):
    text = f"{number:,}" if decimal == "point" else f"{number:,}".replace(",", ".")
    assert parse_number(text, decimal).value == number


@given(st.text(max_size=8), st.sampled_from([None, "point", "comma", "mixed"]))
def test_any_text_gives_a_finite_number_or_a_code(text, decimal):
    found = parse_number(text, decimal)
    assert math.isfinite(found.value) != bool(found.code)
