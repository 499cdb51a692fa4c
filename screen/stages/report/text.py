"""The text of one cell of a CSV table: the rules, and whole columns at once.

In: values and pandas columns. Out: texts, the same whatever is installed: numbers in their shortest form that reads
back to the same double, flags as ``true`` and ``false``, ISO dates, text from outside kept from running as a formula.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = [
    "Coded",
    "Integers",
    "Numbers",
    "cell_text",
    "cell_texts",
    "guarded",
    "merged",
    "number_text",
    "number_texts",
    "prepare",
    "value_text",
]

_Array = npt.NDArray[Any]
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_NEEDS_QUOTES = re.compile(r'[",\r\n]')
#: What a text that may have to change before it is written has in it, among texts that each follow a NUL.
_CARE = ('"', ",", "\r", "\n", "\0=", "\0+", "\0-", "\0@", "\0\t")


def guarded(text: str) -> str:
    """``text``, with a ``'`` in front where a spreadsheet could run it as a formula; a plain number stays as it is."""
    return "'" + text if text[:1] in _LEADS and text and not _PLAIN_NUMBER.fullmatch(text) else text


_LEADS = frozenset("=+-@\t")


def cell_text(text: str) -> str:
    """``text`` as it stands in a CSV file: guarded, and in quotes only where a comma, quote or line end needs them."""
    if not _writable(text):
        text = text.encode("utf-8", "replace").decode("utf-8")
    text = guarded(text)
    return '"' + text.replace('"', '""') + '"' if _NEEDS_QUOTES.search(text) else text


def cell_texts(texts: Sequence[str]) -> Sequence[str]:
    """``cell_text`` of each; the very same object when none of them needs care."""
    joined = "\0" + "\0".join(texts)
    if any(mark in joined for mark in _CARE) or not _writable(joined):
        return [cell_text(text) for text in texts]
    return texts


def _writable(text: str) -> bool:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def number_text(value: float) -> str:
    """The shortest text that reads back to the same double, without a trailing ``.0``; empty for a missing number."""
    return "" if value != value else repr(float(value) + 0.0).removesuffix(".0")  # adding 0 takes the sign off -0


def number_texts(values: _Array) -> list[str]:
    """``number_text`` of each of ``values``, none of them missing."""
    if not len(values):
        return []
    joined = "\0".join(map(repr, (values + 0.0).tolist())) + "\0"
    return joined.replace(".0\0", "\0").split("\0")[:-1]


def value_text(value: object) -> str:
    """The CSV text of any single value: text, flag, number, date or nothing."""
    if isinstance(value, str):
        return cell_text(value)
    if isinstance(value, (bool, np.bool_)):
        return "true" if value else "false"
    if isinstance(value, (int, np.integer)):
        return str(int(value))
    if isinstance(value, (float, np.floating)):
        return number_text(float(value))
    if value is None or value is pd.NA or value is pd.NaT:
        return ""
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time(0) else value.isoformat()
    if isinstance(value, dt.date):
        return value.isoformat()
    return cell_text(str(value))


@dataclass(frozen=True, slots=True)
class Coded:
    """A column as texts and one code per row (-1: missing). ``texts`` are ready to be written."""

    codes: _Array
    texts: Sequence[str]


@dataclass(frozen=True, slots=True)
class Numbers:
    """A column of doubles, NaN where missing."""

    values: _Array


@dataclass(frozen=True, slots=True)
class Integers:
    """A column of whole numbers, none missing."""

    values: _Array


_FLAGS = ("false", "true")


def prepare(column: pd.Series[Any]) -> Coded | Numbers | Integers:
    """The column in one of three forms, each distinct text worked out once.

    Categoricals, flags and texts become ``Coded``; a whole-number column with gaps is ``Numbers`` as long as every
    number in it is a double, as row and cell counts are.
    """
    kind = column.dtype
    if isinstance(kind, pd.CategoricalDtype):
        categories = kind.categories
        if categories.inferred_type == "string":
            return Coded(column.cat.codes.to_numpy(), cell_texts(categories.tolist()))
        return Coded(column.cat.codes.to_numpy(), [value_text(item) for item in categories])
    if pd.api.types.is_bool_dtype(kind):
        missing = column.isna().to_numpy()
        flags = column.to_numpy(dtype=np.int8, na_value=0) if missing.any() else column.to_numpy(dtype=np.int8)
        return Coded(np.where(missing, np.int8(-1), flags), _FLAGS)
    if pd.api.types.is_integer_dtype(kind):
        if column.isna().any():
            return Numbers(column.to_numpy(dtype=np.float64, na_value=math.nan))
        return Integers(column.to_numpy(dtype=np.int64))
    if pd.api.types.is_float_dtype(kind):
        return Numbers(column.to_numpy(dtype=np.float64, na_value=math.nan))
    values = column.to_numpy(dtype=object)
    if pd.api.types.infer_dtype(values, skipna=False) != "string":
        return Coded(np.arange(len(values)), [value_text(item) for item in values.tolist()])
    return Coded(np.arange(len(values)), cell_texts(values.tolist()))


#: Number columns with at most this many distinct values a row are worth coding, as river_km and depths are.
_FEW = 0.02
#: How many runs of neighbouring rows, and how long, are looked at to tell whether two columns go together.
_RUNS, _RUN = 50, 100


def merged(columns: Sequence[Coded | Numbers | Integers]) -> list[Coded | Numbers | Integers]:
    """The same cells in fewer columns: neighbours that go together become one, their texts joined by a comma.

    A station, its river_km and its depth say little more than the sample does, so one look-up serves all of them.
    Only columns with few distinct values are joined, and only where a look at some rows shows that it pays.
    """
    out: list[Coded | Numbers | Integers] = []
    for column in columns:
        item = _coded_numbers(column) if isinstance(column, Numbers) else column
        last = out[-1] if out else None
        if isinstance(item, Coded) and isinstance(last, Coded) and _go_together(last, item):
            out[-1] = _pair(last, item)
        else:
            out.append(item)
    return out


def _look(values: _Array) -> _Array:
    if len(values) <= _RUNS * _RUN:
        return values
    starts = np.linspace(0, len(values) - _RUN, _RUNS).astype(np.int64)
    rows = (starts[:, None] + np.arange(_RUN)).ravel()
    return np.asarray(values[rows])


def _coded_numbers(column: Numbers) -> Coded | Numbers:
    look = _look(column.values)
    if len(pd.unique(look)) > len(look) // 4:
        return column
    codes, unique = pd.factorize(column.values)
    return column if len(unique) > _FEW * len(codes) else Coded(codes, number_texts(unique))


def _key(one: _Array, other: _Array, width: int) -> _Array:
    key: _Array = (one.astype(np.int64) + 1) * (width + 1) + other + 1
    return key


def _go_together(one: Coded, other: Coded) -> bool:
    if max(len(one.texts), len(other.texts)) > len(one.codes) // 8:
        return False
    first, second = _look(one.codes), _look(other.codes)
    apart = max(len(pd.unique(first)), len(pd.unique(second)))
    return len(pd.unique(_key(first, second, len(other.texts)))) <= min(max(1.2 * apart, 50), len(first) / 2)


def _pair(one: Coded, other: Coded) -> Coded:
    width = len(other.texts) + 1
    codes, keys = _numbered(_key(one.codes, other.codes, width - 1), (len(one.texts) + 1) * width)
    left, right = [*one.texts, ""], [*other.texts, ""]
    first, second = np.divmod(keys, width)
    pairs = zip((first - 1).tolist(), (second - 1).tolist(), strict=True)
    return Coded(codes, [f"{left[a]},{right[b]}" for a, b in pairs])


#: Whole numbers below this are numbered by counting, which is faster than hashing.
_COUNTED = 1 << 20


def _numbered(keys: _Array, size: int) -> tuple[_Array, _Array]:
    """A code for each of ``keys`` (whole numbers from 0 to before ``size``), and the key of each code."""
    if size > _COUNTED:
        return pd.factorize(keys)
    distinct = np.flatnonzero(np.bincount(keys, minlength=size))
    place = np.zeros(size, dtype=np.int32)
    place[distinct] = np.arange(len(distinct), dtype=np.int32)
    return place[keys], distinct
