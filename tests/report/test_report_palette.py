"""Contrast of the inks, by the formula of WCAG 2.2 (relative luminance, contrast ratio; criteria 1.4.3 and 1.4.11)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import screen.stages.report

_TEMPLATES = Path(screen.stages.report.__file__).parent / "templates"
_CSS = "".join((_TEMPLATES / name).read_text(encoding="utf-8") for name in ("tokens.css", "style.css"))
_SCHEMES = [
    dict(re.findall(r"--([a-z]+): (#[0-9a-f]{3,6})", block)) for block in re.findall(r":root \{(.*?)\}", _CSS, re.S)
]


def luminance(ink: str) -> float:
    digits = ink[1:] if len(ink) == 7 else "".join(2 * sign for sign in ink[1:])
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_itself():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#0072b2", "#ffffff") == pytest.approx(5.19, abs=0.01)


@pytest.mark.parametrize("scheme", _SCHEMES, ids=["light", "dark", "print"])
@pytest.mark.parametrize("ink", ["ink", "soft", "link"])
def test_text_on_paper_and_tint(scheme, ink):
    assert contrast(scheme[ink], scheme["paper"]) >= 4.5
    assert contrast(scheme[ink], scheme["tint"]) >= 4.5


@pytest.mark.parametrize("scheme", _SCHEMES, ids=["light", "dark", "print"])
@pytest.mark.parametrize("ink", ["below", "between", "above", "undetermined", "outline"])
def test_marks_on_paper(scheme, ink):
    assert contrast(scheme[ink], scheme["paper"]) >= 3


@pytest.mark.parametrize("scheme", _SCHEMES, ids=["light", "dark", "print"])
def test_above_stands_out_more_than_between(scheme):
    light = luminance(scheme["paper"]) > 0.5
    above, between = luminance(scheme["above"]), luminance(scheme["between"])
    assert above < between if light else above > between
