"""The cells of a field record as values. In: a table and a field. Out: one value per row, and what could not be read.

Lengths and depths come out in cm, river positions in km from the mouth, areas in m2, dates in ISO form, coordinates in
decimal degrees. What is not plainly one value is missing, with a message that names the cell.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
import pandas as pd

from screen.letters import column_letter
from screen.model import Problem
from screen.reference.locate import read_table
from screen.settings import Settings
from screen.stages.read.field.tables import IDS, FieldTable, area_factor
from screen.stages.read.words.dates import DATE_CODES, read_dates
from screen.stages.read.words.lengths import MENDS, REFUSED, WARNED, read_intervals, read_lengths

__all__ = ["read_depths", "read_field"]

#: What stands in a cell that says nothing; never so in a column of ids.
_NOTHING = ("-", "--", "—", "–", "n/a", "na", "nr", "not recorded", "not measured", "?")
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_RIVER = re.compile(r"^(?:river\s+(?:km|mile)|rkm|rm|km|mile)\s*(?=[\d.])", re.IGNORECASE)
_AREA = re.compile(r"(\d+(?:[.,]\d+)?)\s*(.*)")
_DEGREES = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*°?\s*([nsew]?)", re.IGNORECASE)
_SEXAGESIMAL = re.compile(
    r"\s*([nsew]?)\s*([+-]?\d+)\s*[°d\s]\s*(\d+(?:[.,]\d+)?)\s*['′’m]?\s*(?:(\d+(?:[.,]\d+)?)\s*[\"″”s]?)?\s*([nsew]?)\s*",
    re.IGNORECASE,
)


def read_field(table: FieldTable, field: str, settings: Settings) -> tuple[pd.Series, list[Problem]]:
    """One field of a table, one value per row (float64, or objects with None where missing), and its problems."""
    texts = _said(table, field)
    if field in IDS.values():
        return _id(table, field)
    if field in ("water_depth", "bed_level", "penetration", "recovered"):
        return _length(table, field, texts, "cm")
    if field == "river_km":
        return _length(table, field, [_RIVER.sub("", text) for text in texts], "km")
    if field in ("latitude", "longitude"):
        return _spread(table, field, texts, lambda text: _degrees(text, field, table.units[field]), numbers=True)
    if field == "area_m2":
        return _spread(table, field, texts, lambda text: _area(text, table.units[field]), numbers=True)
    if field in ("role", "water"):
        return _spread(table, field, texts, lambda text: _word(field, text), numbers=False)
    if field == "date":
        read = read_dates(texts, settings.dates)
        messages = {code: (text, _DATE_MEND) for code, text in DATE_CODES.items()}
        return _blank(read["date"]), _say_codes(table, field, texts, read["code"], messages)
    if table.dates[field].any() and field != "time":
        texts = [text.removesuffix(" 00:00:00").removesuffix("T00:00:00") for text in texts]
    return _blank(pd.Series(texts, dtype=object)), []


def read_depths(table: FieldTable) -> tuple[pd.Series, pd.Series, list[Problem]]:
    """Top and bottom in cm of a table of samples, from two columns or from one that holds the interval."""
    if "top" in table.texts or "bottom" in table.texts:
        top, first = _depth(table, "top")
        bottom, second = _depth(table, "bottom")
        return top, bottom, [*first, *second]
    if "interval" not in table.texts:
        missing = pd.Series(np.nan, index=range(len(table.rows)))
        return missing, missing.copy(), []
    texts = _said(table, "interval")
    read = read_intervals(texts, _units(table, "interval"))
    read.loc[table.dates["interval"], ["top_cm", "bottom_cm"]] = np.nan
    read.loc[table.dates["interval"], "code"] = "depth-date"
    return read["top_cm"], read["bottom_cm"], _say_codes(table, "interval", texts, read["code"], _LENGTH_MESSAGES)


_DATE_MEND = 'Write dates as in 2026-05-12, or settle their order with dates = "day-first" under [reading].'
_LENGTH_MESSAGES = {code: (text, MENDS[code]) for code, text in (REFUSED | WARNED).items()}
_Reading = tuple[object, str, str, str]


def _depth(table: FieldTable, field: str) -> tuple[pd.Series, list[Problem]]:
    if field not in table.texts:
        return pd.Series(np.nan, index=range(len(table.rows))), []
    texts = ["0" if text.casefold() in ("surface", "surf") else text for text in _said(table, field)]
    read = read_lengths(texts, _units(table, field))
    zero = np.array([text == "0" for text in texts], dtype=bool)
    read.loc[zero, "cm"], read.loc[zero, "code"] = 0.0, ""
    below = read["cm"] < 0
    read.loc[below, "cm"], read.loc[below, "code"] = np.nan, "depth-negative"
    read.loc[table.dates[field], "cm"], read.loc[table.dates[field], "code"] = np.nan, "depth-date"
    return read["cm"], _say_codes(table, field, texts, read["code"], _LENGTH_MESSAGES)


def _units(table: FieldTable, field: str) -> list[str]:
    """The unit of each row: the row's own column of units, else the header's."""
    header = table.units[field]
    if "depth_unit" not in table.texts:
        return [header] * len(table.rows)
    return [text or header for text in _said(table, "depth_unit")]


def _length(table: FieldTable, field: str, texts: Sequence[str], into: str) -> tuple[pd.Series, list[Problem]]:
    read = read_lengths(texts, table.units[field], into)
    read.loc[table.dates[field], into], read.loc[table.dates[field], "code"] = np.nan, "depth-date"
    return read[into], _say_codes(table, field, texts, read["code"], _LENGTH_MESSAGES)


def _id(table: FieldTable, field: str) -> tuple[pd.Series, list[Problem]]:
    texts = table.texts[field]
    codes = np.where(table.dates[field], "field-id-date", "")
    message = ("a date stands where an id should be; the id that was typed is lost", _ID_MEND)
    problems = _say_codes(table, field, list(texts), codes, {"field-id-date": message}, "refused")
    return _blank(pd.Series(np.where(table.dates[field], "", texts), dtype=object)), problems


_ID_MEND = "Format the column as text and type the id again."


def _said(table: FieldTable, field: str) -> list[str]:
    return ["" if text.casefold() in _NOTHING else str(text) for text in table.texts[field]]


def _blank(column: pd.Series) -> pd.Series:
    return column.astype(object).where(column != "", None)


def _spread(
    table: FieldTable, field: str, texts: Sequence[str], read: Callable[[str], _Reading], *, numbers: bool
) -> tuple[pd.Series, list[Problem]]:
    """Read each distinct text once and spread the values; readings are (value, code, message, mend)."""
    codes, distinct = pd.factorize(pd.Series(list(texts), dtype=object))
    readings = [read(str(text)) if text else (np.nan if numbers else None, "", "", "") for text in distinct]
    values = np.array([one[0] for one in readings], dtype=float if numbers else object)[codes]
    problems = [
        _problem(table, field, place, readings[code][1], f"{texts[place]!r}: {readings[code][2]}", readings[code][3])
        for place, code in enumerate(codes)
        if readings[code][1]
    ]
    return pd.Series(values), problems


def _degrees(text: str, field: str, unit: str) -> _Reading:
    found = _DEGREES.fullmatch(text.replace("−", "-"))
    if found:
        value = float(found[1].replace(",", "."))
        letter = (found[2] or (unit if unit.casefold() in ("n", "s", "e", "w") else "")).casefold()
        if letter and letter not in ("ns" if field == "latitude" else "ew"):
            return np.nan, "coordinate-letter", f"the letter does not belong to a {field}", "Check the two columns."
        return (-value if letter in ("s", "w") and value > 0 else value), "", "", ""
    parts = _SEXAGESIMAL.fullmatch(text.replace("−", "-"))
    if parts is None:
        message = f"this is not a {field} in decimal degrees; it is kept in the ledger and not used"
        return np.nan, "coordinate-unreadable", message, "Write WGS 84 decimal degrees, as in -70.2513."
    degrees = abs(int(parts[2])) + float(parts[3].replace(",", ".")) / 60
    degrees += float((parts[4] or "0").replace(",", ".")) / 3600
    negative = parts[2].startswith("-") or (parts[1] or parts[5]).casefold() in ("s", "w")
    mend = f"If it means {-degrees if negative else degrees:.6f}, write that."
    return np.nan, "coordinate-minutes", "degrees with minutes are kept in the ledger and not used", mend


def _area(text: str, unit: str) -> _Reading:
    found = _AREA.fullmatch(text)
    factor = area_factor(found[2].strip() or unit) if found else None
    if not found or factor is None:
        message = "this is not an area with a unit"
        return np.nan, "area-unreadable", message, "Write the area with its unit, as in 3500 m2 or 0.35 ha."
    return float(found[1].replace(",", ".")) * factor, "", "", ""


@cache
def _words() -> dict[tuple[str, str], str]:
    table = read_table("vocabulary/field_values.csv")
    return dict(zip(zip(table["field"], table["word"], strict=True), table["value"], strict=True))


def _word(field: str, text: str) -> _Reading:
    value = _words().get((field, text.casefold()))
    if value is None:
        known = sorted({one for (name, _), one in _words().items() if name == field})
        return None, f"{field}-unknown", f"this {field} is not known", f"Write {' or '.join(known)}."
    return value, "", "", ""


def _say_codes(
    table: FieldTable,
    field: str,
    texts: Sequence[str],
    codes: Sequence[str] | pd.Series | np.ndarray,
    messages: dict[str, tuple[str, str]],
    severity: str = "warning",
) -> list[Problem]:
    return [
        _problem(table, field, place, str(code), f"{texts[place]!r}: {messages[code][0]}", messages[code][1], severity)
        for place, code in enumerate(codes)
        if code
    ]


def _problem(
    table: FieldTable, field: str, place: int, code: str, message: str, mend: str, severity: str = "warning"
) -> Problem:
    row, column = int(table.rows[place]) + 1, column_letter(table.columns[field])
    return Problem(code, f"{message}.", mend, severity, table.file, table.sheet, row, column)
