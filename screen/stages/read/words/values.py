"""Value cells: distinct cells in, what each says out (number, sign, flags, words), before any limit is looked at."""

from __future__ import annotations

import datetime as dt
import re
from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.reference.locate import read_table
from screen.stages.read.cells.grid import BOOLEAN, DATE, EMPTY, ERROR, NO_VALUE, NUMBER, TEXT
from screen.stages.read.words.numbers import NUMBER_PATTERN, Decimal, parse_number, plain_signs
from screen.stages.read.words.qualifiers import Legend, flag_effects, split_flags
from screen.stages.read.words.vocabulary import fold

__all__ = ["parse_values"]


class _Reading(NamedTuple):
    """What one cell says; the fields are the columns of ``parse_values``."""

    number: float = np.nan
    sign: str = ""
    flags: str = ""
    word: str = ""
    limit_named: str = ""
    percent: bool = False
    code: str = ""
    notice: str = ""
    hint: str = ""


_TEXT_FIELDS = ("sign", "flags", "word", "limit_named", "code", "notice", "hint")


def parse_values(
    texts: npt.NDArray[np.object_],
    kinds: npt.NDArray[np.uint8],
    numbers: npt.NDArray[np.float64],
    decimal: Decimal | None,
    legend: Legend | None = None,
) -> pd.DataFrame:
    """What each distinct cell says. The three arrays are those of a ``Column`` (any length, same order).

    One row per distinct cell, default index; texts are categoricals in which "" is a category and nothing is missing:

    - ``number`` float64, NaN where there is none. Not yet judged: may be 0 or negative.
    - ``sign``: "", ``<``, ``<=``, ``>``, ``>=``. ``ND0.5``, ``ND(0.5)``, ``LT 0.5`` give ``<``; ``GT 5`` gives ``>``.
    - ``flags``: the flags of the cell, split, in the order met, joined by one blank (``J B``, ``U``, ``J C20``).
    - ``word``: "", ``nondetect``, ``trace``, ``not-analysed`` (blank cell too). A cell of flags alone has no word.
    - ``limit_named``: "", ``reporting``, ``detection`` (``<RL``, ``<MDL``).
    - ``percent`` bool: the cell has a percent sign.
    - ``code``: "" or why the cell is refused (a key of ``detection.REASONS``).
    - ``notice``: "" or a notice code (``apostrophe``, ``thousands-mark``, ``at-most``).
    - ``hint``: "" or what a date may have been.

    ``legend`` is that of the sheet (``read_legend``); it may explain numbers in brackets and words such as NA.
    Plain numbers take a fast path; millions of distinct cells are fine.
    """
    count = len(texts)
    number = np.full(count, np.nan)
    stored = (kinds == NUMBER) & np.isfinite(numbers)
    number[stored] = numbers[stored]
    written = np.flatnonzero(kinds == TEXT)
    matches = map(_PLAIN[decimal].fullmatch, texts[written].tolist())
    places = written[np.fromiter(map(bool, matches), dtype=bool, count=len(written))]
    plain = texts[places].tolist()
    if decimal == "comma":
        plain = [text.replace(",", ".") for text in plain]
    number[places] = np.fromiter(map(float, plain), dtype=np.float64, count=len(plain))
    fast = stored.copy()
    fast[places] = True
    filler = fast & np.isin(number, _fillers())
    slow = np.flatnonzero(~fast)
    readings = [_read(str(texts[place]), int(kinds[place]), decimal, legend) for place in slow]
    number[slow] = [reading.number for reading in readings]
    percent = np.zeros(count, dtype=bool)
    percent[slow] = [reading.percent for reading in readings]
    columns: dict[str, object] = {"number": number, "percent": percent}
    for name in _TEXT_FIELDS:
        known = {"": 0}
        codes = np.zeros(count, dtype=np.int32)
        codes[slow] = [known.setdefault(getattr(reading, name), len(known)) for reading in readings]
        if name == "code":
            codes[filler] = known.setdefault("filler-code", len(known))
        columns[name] = pd.Categorical.from_codes(codes, categories=pd.Index(list(known), dtype=object))
    return pd.DataFrame(columns)[list(_Reading._fields)]


_WHOLE = re.compile(r"[0-9]{1,30}")
_PLAIN: dict[Decimal | None, re.Pattern[str]] = {
    None: _WHOLE,
    "mixed": _WHOLE,
    "point": re.compile(r"[0-9]{1,30}(?:\.[0-9]{1,30})?"),
    "comma": re.compile(r"[0-9]{1,30}(?:,[0-9]{1,30})?"),
}


@cache
def _words() -> dict[str, tuple[str, str]]:
    frame = read_table("vocabulary/values.csv")
    frame = frame[~frame["word"].isin(["filler", "error"])]
    keys = [fold(text) or text for text in frame["text"]]
    return dict(zip(keys, zip(frame["word"], frame["limit"], strict=True), strict=True))


@cache
def _error_words() -> frozenset[str]:
    """What spreadsheets write into a text file in place of a value that they could not work out."""
    frame = read_table("vocabulary/values.csv")
    return frozenset(frame.loc[frame["word"] == "error", "text"].str.casefold())


@cache
def _fillers() -> tuple[float, ...]:
    frame = read_table("vocabulary/values.csv")
    return tuple(float(text) for text in frame.loc[frame["word"] == "filler", "text"])


_OTHER_KINDS = {BOOLEAN: "boolean", ERROR: "error-cell", NO_VALUE: "formula-without-value"}
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
_DATE_TEXT = re.compile(
    rf"[0-9]{{1,2}}[-/. ]{_MONTH}(?:[-/. ][0-9]{{2,4}})?|{_MONTH}[-/. ][0-9]{{1,4}}"
    r"|[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}.*|[0-9]{1,2}([-/.])[0-9]{1,2}\1[0-9]{4}",
    re.IGNORECASE,
)
_LIMIT_WORDS = r"(?:RL|MDL|DL|LOD|LOQ|PQL|QL|MRL|RDL|CRQL|CRDL|EQL|EDL|SDL|IDL|BG|NG|LD|LQ|ML)"
_VALUE = re.compile(
    rf"""(?P<nd>N\.?\s?D\.?|not\ detected|non-?detect|BDL|BRL|BQL)?\s?(?P<at>@|at\b|=|:)?\s?
    (?P<sign><=|>=|=<|=>|[<>≤≥]|LT\b|GT\b)?\s?(?:(?P<named>{_LIMIT_WORDS})\s?[=:]?\s?)?
    (?P<open>[(\[])?\s?(?P<inner><=?|≤)?\s?(?P<before>[A-Za-z]{{1,2}}[+-]?)?\s?
    (?P<number>{NUMBER_PATTERN})\s?(?P<close>[)\]])?\s?(?P<percent>%)?\s?(?P<after>[<>])?\s?(?P<tail>.*)""",
    re.VERBOSE | re.IGNORECASE,
)
_SIGNS = {"≤": "<=", "=<": "<=", "≥": ">=", "=>": ">=", "LT": "<", "GT": ">"}
_NOT_ONE = re.compile(r"\s*(?:[-±/~+:.,]|to\b|[0-9]|[x×*] ?[0-9])")
_ABOUT = re.compile(r"\s*(?:~|≈|ca\.?|approx\.?|about|c\.|circa)\s*[0-9]", re.IGNORECASE)
_UNIT_WORDS = re.compile(
    r"ppm|ppb|ppt|ng|mg|ug|[µμ]g|kg|g|pg|cm|mm|ml|l|(?:[nmuµμpk]?g|[um]mol)\s?/.*|.*/\s?k?g.*", re.IGNORECASE
)
_FLAG = re.compile(r"[A-Z]{1,4}[0-9]{0,3}[+-]?|[*#†‡§^$&]{1,3}")
_EXPONENT = re.compile(r"E[0-9]+")


def _read(text: str, kind: int, decimal: Decimal | None, legend: Legend | None) -> _Reading:
    """What one cell says that is no plain number."""
    if kind == DATE:
        return _Reading(code="date-for-number", hint=_before_it_was_a_date(text))
    if kind in _OTHER_KINDS:
        return _Reading(code=_OTHER_KINDS[kind])
    plain = plain_signs(text)
    if kind == EMPTY or not plain:
        return _Reading(word="not-analysed")
    upper = plain.upper()
    if legend and upper in legend:
        return _Reading(word="not-analysed") if legend[upper] == {"not_analysed"} else _Reading(flags=upper)
    if plain.casefold() in _error_words():
        return _Reading(code="error-cell")
    if not any(mark.isdigit() for mark in plain) or re.fullmatch("CC?[0-9]{1,3}", upper):
        return _worded(plain, legend)
    if _DATE_TEXT.fullmatch(plain):
        return _Reading(code="date-for-number")
    if _ABOUT.match(plain):
        return _Reading(code="not-one-number")
    return _numbered(plain, decimal, legend)


def _worded(plain: str, legend: Legend | None) -> _Reading:
    """A cell without a number: a word of the vocabulary, or flags alone."""
    word, limit = _words().get(fold(plain) or plain, ("", ""))
    if word:
        return _Reading(word=word, limit_named=limit)
    flags = split_flags(plain, legend)
    if flags and all(flag_effects(flag, legend) is not None for flag in flags):
        return _Reading(flags=" ".join(flags))
    return _Reading(code="not-a-number")


def _numbered(plain: str, decimal: Decimal | None, legend: Legend | None) -> _Reading:
    """A cell with digits: sign, flags, number, percent sign, flags, each in the places where laboratories put them."""
    parts = _VALUE.fullmatch(plain.removeprefix("'"))
    if parts is None:
        return _Reading(code="not-a-number")
    tail = parts["tail"].strip()
    if tail and _NOT_ONE.match(tail):
        return _Reading(code="not-one-number")
    found = parse_number(("'" if plain.startswith("'") else "") + parts["number"], decimal)
    if found.code:
        single = parts["number"] == plain and sum(map(parts["number"].count, ".,")) > 1
        return _Reading(code="not-one-number" if single and found.code == "not-a-number" else found.code)
    flags, code = _flags(parts["before"] or "", tail, legend)
    if code:
        return _Reading(code=code)
    sign, code = _sign(parts)
    bracketed = bool(parts["open"])
    if bracketed != bool(parts["close"]):
        code = code or "not-a-number"
    if bracketed and not sign and not parts["named"]:
        effects = (legend or {}).get("()", frozenset())
        if "nondetect" in effects:
            sign = "<"
        elif "estimated" in effects:
            flags = ["J", *flags]
        else:
            code = code or "number-in-brackets"
    if not sign and not code and found.value in _fillers():
        code = "filler-code"
    if code:
        return _Reading(code=code)
    return _Reading(
        number=found.value,
        sign=sign,
        flags=" ".join(flags),
        percent=bool(parts["percent"]),
        notice=found.notice or ("at-most" if sign == "<=" else ""),
    )


def _sign(parts: re.Match[str]) -> tuple[str, str]:
    """The sign of a value, from all the places where one may stand; a refusal code if they disagree."""
    written = [parts["sign"], parts["inner"], parts["after"], "<" if parts["nd"] else None]
    signs = {_SIGNS.get(sign.upper(), sign) for sign in written if sign}
    if parts["at"] and not parts["nd"]:
        return "", "not-a-number"
    if parts["named"] and not signs:
        return "", "not-a-number"
    if len(signs) > 1:
        return ("<=", "") if signs == {"<", "<="} else ("", "not-a-number")
    return (signs.pop() if signs else ""), ""


def _flags(before: str, tail: str, legend: Legend | None) -> tuple[list[str], str]:
    """The flags around a number, or a refusal code for letters that are none (a unit, a word)."""
    flags: list[str] = []
    if before:
        flags = split_flags(before, legend)
        if before.upper() == "E" or not all(flag_effects(flag, legend) for flag in flags):
            return [], "not-a-number"
    if tail:
        if flag_effects(tail, legend) is None and _UNIT_WORDS.fullmatch(tail) and tail not in ("G", "L"):
            return [], "unit-in-cell"
        for flag in split_flags(tail, legend):
            known = flag_effects(flag, legend) is not None
            if not known and (not _FLAG.fullmatch(flag) or _EXPONENT.fullmatch(flag)):
                return [], "not-a-number"
            flags.append(flag)
    return flags, ""


def _before_it_was_a_date(text: str) -> str:
    """What a spreadsheet may have turned into a date: 2026-04-08 may have been 4-8 or 8-4."""
    try:
        day = dt.date.fromisoformat(text[:10])
    except ValueError:
        return ""
    pairs = [f"{day.month}-{day.day}", f"{day.day}-{day.month}"]
    if day.day == 1:
        pairs = [f"{day.month}-{day.year % 100:02d}", *pairs]
    return " or ".join(dict.fromkeys(pairs))
