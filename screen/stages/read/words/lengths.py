"""Lengths and depth intervals as people write them.

In: texts such as ``4 1/2 in``, ``1.5 ft``, ``0' 6"``, ``0-10 cm``, ``10/20``, ``surface``, and the unit that a header
gives. Out: centimetres in full precision and a code, empty where the text was read. A length without a unit is refused,
never guessed; so is a date, which is what a spreadsheet makes of ``3-9``.
Unit factors are data: ``guidelines/vocabulary/length_units.csv``.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import cache

import numpy as np
import pandas as pd

from screen.reference.locate import read_table

__all__ = ["MENDS", "REFUSED", "WARNED", "known_unit", "read_interval", "read_intervals", "read_length", "read_lengths"]

#: Codes that go with a missing length, and what a person is told. None of these gives a number.
REFUSED = {
    "depth-unit-missing": "the length has no unit",
    "depth-unit-unknown": "the unit of the length is not known",
    "depth-date": "a date stands where a length should be; the length that was typed is lost",
    "depth-unreadable": "the text is not a length",
    "depth-ambiguous": "the text can be read as a length in two ways",
    "depth-negative": "a depth below zero has no meaning without a datum",
    "depth-datum": "the text speaks of a datum, so it may be an elevation and not a depth below the bed",
}
#: Codes that go with numbers that are used all the same.
WARNED = {
    "depth-order": "the top of the interval is not above its bottom",
    "depth-single": "one depth is given, not an interval; it is taken as the top and the bottom stays open",
}
MENDS = {
    "depth-unit-missing": "Write the unit in the cell or in the header, as in 0-10 cm.",
    "depth-unit-unknown": "Use mm, cm, m, in or ft.",
    "depth-date": "Format the cell as text and type the interval again.",
    "depth-unreadable": "Write it as in 0-10 cm, 4 1/2 in or 0.15 m.",
    "depth-ambiguous": "Write the interval with the word to and decimals, as in 0 to 0.5 in.",
    "depth-negative": "Give depths below the bed as positive figures.",
    "depth-datum": "Give depths below the bed; give the bed level and its datum in the table of cores.",
    "depth-order": "Check the two depths.",
    "depth-single": "Give top and bottom.",
}

#: Characters of the longest text that is looked into; no length or interval in words has as many.
_LONGEST = 100
_FRACTIONS = str.maketrans(
    {
        "½": " 1/2",
        "⅓": " 1/3",
        "⅔": " 2/3",
        "¼": " 1/4",
        "¾": " 3/4",
        "⅛": " 1/8",
        "⅜": " 3/8",
        "⅝": " 5/8",
        "⅞": " 7/8",
    }
)
_DENOMINATORS = (2, 3, 4, 8, 16, 32, 64)
_METRIC = ("mm", "cm", "dm", "m", "km")
_QUOTES = (("′′", '"'), ("''", '"'), ("″", '"'), ("”", '"'), ("“", '"'), ("′", "'"), ("’", "'"), ("‘", "'"))
_DECIMAL = r"(?:\d+(?:[.,]\d+)?|[.,]\d+)"
_NUMBER = rf"(?:\d+[ -]+\d+/\d+|\d+/\d+|{_DECIMAL})"
_PART = re.compile(rf"\s*({_NUMBER})\s*([a-z]+(?: [a-z]+)?|['\"])?\.?\s*")
_DATE = re.compile(
    r"\d{4}-\d{1,2}-\d{1,2}(?:[t ].*)?"
    r"|\d{1,2}[-/. ](?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*(?:[-/. ]\d{2,4})?"
    r"|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*[-/. ]\d{1,4}"
    r"|\d{1,2}[./]\d{1,2}[./]\d{2,4}"
)
_DATUM = re.compile(r"\b(?:mudline|bml|elev\w*|datum|msl|mllw|mhw|navd\w*|lat|chart)\b")
_BELOW_BED = re.compile(
    r"\b(?:below|under)\s+(?:the\s+)?(?:bed|sediment|surface|sediment surface)\b|\b(?:bss|bgs|depth)\b"
)
_SURFACE = re.compile(r"\b(?:surface|surficial|surf\.?)\b")
_SEPARATOR = re.compile(r"\bto\b|\bbis\b|-|/|\buntil\b|\bthrough\b")


@cache
def _units() -> dict[str, tuple[str, Fraction]]:
    table = read_table("vocabulary/length_units.csv")
    rows = zip(table["unit"], table["cm"], table["words"], strict=True)
    return {word: (unit, Fraction(cm)) for unit, cm, words in rows for word in words.split(";")}


def known_unit(text: str) -> str:
    """The short name of a unit of length (``Inches`` gives ``in``), or an empty text."""
    found = _units().get(_fold(text).strip(" .()[]"))
    return found[0] if found else ""


def read_length(text: str, default_unit: str = "", into: str = "cm") -> tuple[float, str]:
    """One length in cm (or the unit ``into``) and a code.

    ``default_unit`` is the unit of the header; a unit in the text itself goes before it. Mixed fractions, feet with
    inches, a decimal comma and a sign are read. Missing (NaN) with one of REFUSED where the text cannot be read; NaN
    with an empty code for an empty text.
    """
    folded = _fold(text)
    if not folded:
        return np.nan, ""
    if len(folded) > _LONGEST:
        return np.nan, "depth-unreadable"
    if _DATE.fullmatch(folded):
        return np.nan, "depth-date"
    sign = -1 if folded.startswith("-") else 1
    exact, code = _exact(folded.lstrip("+-"), default_unit)
    return (np.nan if exact is None else float(sign * exact / _units()[into][1])), code


def read_interval(text: str, unit: str = "") -> tuple[float, float, str]:
    """Top and bottom of a depth interval in cm, and a code.

    ``>50`` has no bottom, ``surface`` is top 0 without a bottom, and a single depth is a top (code ``depth-single``).
    An interval whose top is not above its bottom keeps its numbers and has the code ``depth-order``. All else that
    cannot be read without a guess is missing, with one of REFUSED.
    """
    folded = _fold(text)
    if not folded:
        return np.nan, np.nan, ""
    if len(folded) > _LONGEST:
        return np.nan, np.nan, "depth-unreadable"
    if _DATE.fullmatch(folded):
        return np.nan, np.nan, "depth-date"
    if _DATUM.search(folded):
        return np.nan, np.nan, "depth-datum"
    bare = _SURFACE.sub(" ", _BELOW_BED.sub(" ", folded)).strip(" ()[],;:")
    if not bare:
        return (0.0, np.nan, "") if _SURFACE.search(folded) else (np.nan, np.nan, "depth-unreadable")
    if bare.startswith("-"):
        return np.nan, np.nan, "depth-negative"
    if bare.startswith(">"):
        top, code = _exact(bare[1:], unit)
        return (np.nan if top is None else float(top)), np.nan, code
    return _interval(bare, unit)


def _interval(text: str, unit: str) -> tuple[float, float, str]:
    readings, failures = set(), []
    for match in _SEPARATOR.finditer(text):
        left, right = text[: match.start()].strip(), text[match.end() :].strip()
        bottom, code = _exact(right, unit)
        if bottom is None:
            failures.append(code)
            continue
        top, code = _exact(left, _unit_at_end(right) or unit)
        if top is None:
            failures.append(code)
            continue
        readings.add((top, bottom))
    single, single_code = _exact(text, unit)
    if single is not None and readings and known_unit(_unit_at_end(text) or unit) in _METRIC:
        single = None  # 1/2 cm is 1 to 2 cm; only inches and feet are written in fractions
    ordered = {reading for reading in readings if reading[0] < reading[1]}
    if len(ordered) == 1 and single is None:
        top, bottom = ordered.pop()
        return float(top), float(bottom), ""
    if readings and (single is not None or len(readings) > 1):
        return np.nan, np.nan, "depth-ambiguous"
    if readings:
        top, bottom = readings.pop()
        return float(top), float(bottom), "depth-order"
    if single is not None:
        return float(single), np.nan, "" if single == 0 else "depth-single"
    codes = [code for code in (*failures, single_code) if code != "depth-unreadable"]
    return np.nan, np.nan, codes[0] if codes else "depth-unreadable"


def _exact(text: str, default_unit: str) -> tuple[Fraction | None, str]:
    """An unsigned length as an exact fraction of a centimetre."""
    total, position, last = Fraction(0), 0, None
    while position < len(text):
        match = _PART.match(text, position)
        if match is None:
            return None, "depth-unreadable"
        number = _number(match.group(1))
        if number is None:
            return None, "depth-ambiguous" if "," in match.group(1) else "depth-unreadable"
        word = match.group(2) or default_unit
        if not match.group(2) and (position > 0 or match.end() < len(text)):
            return None, "depth-unreadable"  # several numbers need their own units
        found = _units().get(_fold(word).strip(" .()[]"))
        if found is None:
            if match.end() < len(text):
                return None, "depth-unreadable"
            return None, "depth-unit-unknown" if word else "depth-unit-missing"
        if last is not None and found[1] >= last:
            return None, "depth-unreadable"
        total, last = total + number * found[1], found[1]
        position = match.end()
        if position < len(text) and text[position] == "-":
            position += 1  # the hyphen of 5'-3"
    return (total, "") if last is not None else (None, "depth-unreadable")


def _number(text: str) -> Fraction | None:
    if "/" in text:
        *whole, fraction = re.split(r"[ -]+", text)
        above, below = (int(part) for part in fraction.split("/"))
        if below not in _DENOMINATORS or above >= below:
            return None
        return Fraction(above, below) + (int(whole[0]) if whole else 0)
    before, comma, after = text.partition(",")
    if comma and len(after) == 3 and before.strip("0"):
        return None  # 1,234 may be a thousand or a decimal
    return Fraction(text.replace(",", "."))


def _unit_at_end(text: str) -> str:
    """The unit of a length that names only one, for the number before the separator that names none."""
    words = {match.group(2) for match in _PART.finditer(text) if match.group(2)}
    return str(words.pop()) if len(words) == 1 else ""


def _fold(text: str) -> str:
    """Fractions spelled out, then NFKC, quotes and dashes made one, lower case, single spaces."""
    plain = unicodedata.normalize("NFKC", str(text).translate(_FRACTIONS)).replace("⁄", "/")
    for found, put in _QUOTES:
        plain = plain.replace(found, put)
    plain = re.sub("[‐‑‒–—―−]", "-", plain)
    return re.sub(r"\s+", " ", plain).strip().casefold()


def read_lengths(texts: Iterable[str], units: str | Sequence[str] = "", into: str = "cm") -> pd.DataFrame:
    """The lengths in ``into`` (a column of that name) and ``code`` of many texts, one row each.

    Every distinct pair of text and unit is read once.
    """
    pairs, codes = _distinct(texts, units)
    read = [read_length(text, unit, into) for text, unit in pairs]
    return pd.DataFrame(
        {
            into: np.array([one[0] for one in read], dtype=float)[codes] if read else np.empty(0),
            "code": np.array([one[1] for one in read], dtype=object)[codes] if read else np.empty(0, dtype=object),
        }
    )


def read_intervals(texts: Iterable[str], units: str | Sequence[str] = "") -> pd.DataFrame:
    """``top_cm``, ``bottom_cm`` and ``code`` of many texts, one row each; each distinct one is read once."""
    pairs, codes = _distinct(texts, units)
    read = [read_interval(text, unit) for text, unit in pairs]
    return pd.DataFrame(
        {
            "top_cm": np.array([one[0] for one in read], dtype=float)[codes] if read else np.empty(0),
            "bottom_cm": np.array([one[1] for one in read], dtype=float)[codes] if read else np.empty(0),
            "code": np.array([one[2] for one in read], dtype=object)[codes] if read else np.empty(0, dtype=object),
        }
    )


def _distinct(texts: Iterable[str], units: str | Sequence[str]) -> tuple[list[tuple[str, str]], np.ndarray]:
    listed = list(texts)
    beside = [units] * len(listed) if isinstance(units, str) else list(units)
    text_codes, text_values = pd.factorize(pd.Series(listed, dtype=object).fillna(""))
    unit_codes, unit_values = pd.factorize(pd.Series(beside, dtype=object).fillna(""))
    both, pairs = pd.factorize(text_codes.astype("int64") * max(len(unit_values), 1) + unit_codes)
    one_text, one_unit = np.divmod(np.asarray(pairs), max(len(unit_values), 1))
    return list(zip(np.asarray(text_values)[one_text], np.asarray(unit_values)[one_unit], strict=True)), both
