"""Dates of sampling as people write them. In: distinct texts. Out: ISO dates (local, never shifted) and a code.

``03/04/2026`` is two dates. It is settled by the setting, else by another date of the same file whose day is above 12;
without either it stays open. Dotted dates have the day first (intake handbook, section 6).
"""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections.abc import Iterable

import numpy as np
import pandas as pd

__all__ = ["DATE_CODES", "read_dates"]

DATE_CODES = {
    "date-ambiguous": "day and month can be read either way round",
    "date-unreadable": "the text is not a date",
}

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NAMED = "|".join(_MONTHS)
_TIME = r"(?:[t ,]+\d{1,2}:\d{2}.*)?"
_YEAR_FIRST = re.compile(rf"(\d{{4}})[-/.](\d{{1,2}})[-/.](\d{{1,2}}){_TIME}")
_COMPACT = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})")
_DAY_NAME = re.compile(rf"(\d{{1,2}})[-/. ]+({_NAMED})[a-z]*\.?[-/., ]+(\d{{4}}|\d{{2}}){_TIME}")
_NAME_DAY = re.compile(rf"({_NAMED})[a-z]*\.?[-/. ]+(\d{{1,2}})(?:st|nd|rd|th)?[-/., ]+(\d{{4}}|\d{{2}}){_TIME}")
_DOTTED = re.compile(rf"(\d{{1,2}})\.(\d{{1,2}})\.(\d{{4}}|\d{{2}}){_TIME}")
_EITHER = re.compile(rf"(\d{{1,2}})[/-](\d{{1,2}})[/-](\d{{4}}|\d{{2}}){_TIME}")


def read_dates(texts: Iterable[str], order: str | None = None) -> pd.DataFrame:
    """``date`` (ISO text, empty where missing) and ``code`` (empty, or one of DATE_CODES), one row for each text.

    ``order`` is ``day-first``, ``month-first`` or None. Two-digit years up to 68 are of this century (POSIX).
    """
    codes, distinct = pd.factorize(pd.Series(list(texts), dtype=object).fillna(""))
    folded = [unicodedata.normalize("NFKC", str(text)).strip().casefold() for text in distinct]
    settled = order or _order_of(folded)
    read = [_read(text, settled) for text in folded]
    dates = np.array([one[0] for one in read], dtype=object)
    notes = np.array([one[1] for one in read], dtype=object)
    return pd.DataFrame({"date": dates[codes], "code": notes[codes]}, dtype=object)


def _order_of(folded: list[str]) -> str | None:
    """The order that the dates themselves prove, where they do not prove both."""
    pairs = [(int(found[1]), int(found[2])) for text in folded if (found := _EITHER.fullmatch(text))]
    day_first = any(first > 12 >= second for first, second in pairs)
    month_first = any(second > 12 >= first for first, second in pairs)
    if day_first == month_first:
        return None
    return "day-first" if day_first else "month-first"


def _read(text: str, order: str | None) -> tuple[str, str]:
    if not text:
        return "", ""
    if found := _YEAR_FIRST.fullmatch(text) or _COMPACT.fullmatch(text):
        return _iso(found[1], found[2], found[3])
    if found := _DAY_NAME.fullmatch(text):
        return _iso(found[3], str(_MONTHS.index(found[2]) + 1), found[1])
    if found := _NAME_DAY.fullmatch(text):
        return _iso(found[3], str(_MONTHS.index(found[1]) + 1), found[2])
    if found := _DOTTED.fullmatch(text):
        return _iso(found[3], found[2], found[1])
    if found := _EITHER.fullmatch(text):
        first, second = int(found[1]), int(found[2])
        if order is None and first != second and first <= 12 and second <= 12:
            return "", "date-ambiguous"
        month_leads = second > 12 if max(first, second) > 12 else order == "month-first"
        return _iso(found[3], found[1], found[2]) if month_leads else _iso(found[3], found[2], found[1])
    return "", "date-unreadable"


def _iso(year: str, month: str, day: str) -> tuple[str, str]:
    full = int(year) if len(year) == 4 else int(year) + (2000 if int(year) <= 68 else 1900)
    try:
        return datetime.date(full, int(month), int(day)).isoformat(), ""
    except ValueError:
        return "", "date-unreadable"
