"""Qualifiers: the flag and detection texts of the records in, what they do to a result out.

A sheet's legend goes before the vocabulary file; a flag that neither explains is kept as text and does nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.reference.locate import read_table
from screen.stages.read.words.vocabulary import fold

__all__ = ["EFFECTS", "Legend", "Marks", "flag_effects", "resolve_marks", "says_flags", "split_flags"]

#: The effects that a flag can have, each a bool column of ``Marks.table``.
EFFECTS = (
    "nondetect",
    "estimated",
    "rejected",
    "tentative",
    "over_range",  # E: only organics (``combine`` looks at the group)
    "over_range_any",  # a legend says so: all groups
    "diluted",
    "blank",
    "emp_max",  # EMPC: any group
    "emp_max_dioxin",  # K: dioxins and furans only
    "trace",
    "detected",
    "more_than",
    "not_analysed",
)

#: Flag in capitals -> its effects (a subset of EFFECTS, maybe empty); "()" stands for numbers in brackets.
Legend = Mapping[str, frozenset[str]]

#: What a validator settles; the laboratory's own flags of these kinds then no longer count.
_SETTLED = frozenset({"estimated", "rejected", "tentative", "over_range", "over_range_any"})
_SETTLING = _SETTLED | {"nondetect", "detected"}
_COELUTION = re.compile(r"C{1,2}[0-9]{0,3}")
#: Single letters that laboratories run together, as in JB, UQ or CJG. R is read so only beside U, J, B, H and P.
_RUN_TOGETHER = re.compile(r"[UJBDEPCHNKGQXYZ*]{2,5}|[UJBHP]{0,2}R[UJBHP]{0,2}")
_FLAG_SHAPE = re.compile(r"[A-Z]{1,5}[0-9]{0,3}[+-]?[0-9]?[*#]{0,2}|[A-Z0-9]{1,3}|[*#+$^&†‡§]{1,3}|[<>=]=?|[0-9]{1,2}")
_UNIT = re.compile(r"\(?\b[mnpuµμ]?g\s?/\s?k?g\b\)?", re.IGNORECASE)
#: What a sentence in place of a flag says, where it leaves no doubt.
_SENTENCES = (
    (re.compile(r"\bnot detected\b|\bnon-?detect|\bundetected\b", re.IGNORECASE), frozenset({"nondetect"})),
    (re.compile(r"\brejected\b|\bunusable\b", re.IGNORECASE), frozenset({"rejected"})),
    (re.compile(r"\bestimated\b", re.IGNORECASE), frozenset({"estimated"})),
)
_PART = re.compile(r"[\s,;/()\[\]|]+")


@dataclass(frozen=True, slots=True)
class Marks:
    """The marks of the records, coded: ``codes`` (int32, one per record) points into ``table``.

    ``table`` has one row per distinct combination of texts: ``text`` (as shown in results.csv ``qualifier``: the
    laboratory's flags, then the validator's, joined by one blank; a detection text only where it is a flag), the
    EFFECTS as bool, ``coelutes_with`` (congener number as text, ``C`` without a number gives ``?``, else ""),
    ``limit_named`` ("", ``reporting``, ``detection``) and ``unexplained`` (flags that nothing explains, joined by one
    blank).
    """

    codes: npt.NDArray[np.int32]
    table: pd.DataFrame


def _spelled(text: str) -> str:
    """A word without its blanks and in small letters; its dots stay, for ``u.B.`` is not the flags U and B."""
    return "".join(text.casefold().split())


def _wording(text: str) -> frozenset[str] | None:
    """The effects of a known wording, or None."""
    known = _vocabulary()[1]
    return known.get(fold(text), known.get(_spelled(text)))


@cache
def _vocabulary() -> tuple[dict[str, frozenset[str]], dict[str, frozenset[str]], dict[str, str]]:
    """Effects by flag in capitals, effects by folded wording, and the limit that a text names.

    Words that stand in place of a value (``<MDL``, ``n.d.``) say the same in a column of flags.
    """
    frame = read_table("vocabulary/qualifiers.csv")
    flags: dict[str, frozenset[str]] = {}
    wordings: dict[str, frozenset[str]] = {}
    limits: dict[str, str] = {}
    for text, effects, limit in zip(frame["text"], frame["effects"], frame["limit"], strict=True):
        known = frozenset(effect for effect in effects.split(";") if effect)
        if text == text.upper():
            flags[text] = known
            limits[text] = limit
        else:
            wordings[fold(text)] = known
            limits[fold(text)] = limit
    in_cells = read_table("vocabulary/values.csv")
    for text, word, limit in zip(in_cells["text"], in_cells["word"], in_cells["limit"], strict=True):
        if word in ("nondetect", "trace"):
            wordings.setdefault(_spelled(text), frozenset({word}))
            limits.setdefault(_spelled(text), limit)
    return flags, wordings, limits


def flag_effects(flag: str, legend: Legend | None = None) -> frozenset[str] | None:
    """The effects of one flag (in capitals); None if neither the legend nor the vocabulary explains it.

    The legend wins, but words of it that say nothing understood do not turn a flag for not detected or rejected into
    a plain result.
    """
    usual = frozenset() if _COELUTION.fullmatch(flag) else _vocabulary()[0].get(flag)
    if not legend or flag not in legend:
        return usual
    return usual if not legend[flag] and usual and usual & {"nondetect", "rejected"} else legend[flag]


def says_flags(text: str) -> bool:
    """Whether the whole text is made of known flags, or is a known wording such as ``<MDL``."""
    return all(flag_effects(flag) is not None or _wording(flag) is not None for flag in split_flags(text))


def split_flags(text: str, legend: Legend | None = None) -> list[str]:
    """The single flags of a qualifier text, in capitals: ``JB`` and ``J,B`` -> J, B; ``UJ``, ``NJ``, ``C20`` stay.

    A text that is not made of flags comes back whole, after the known flag with which it may begin.
    """
    plain = text.strip()
    if not plain:
        return []
    if _wording(plain) is not None or flag_effects(plain.upper(), legend) is not None:
        return [plain.upper() if flag_effects(plain.upper(), legend) is not None else plain]
    parts = [part for part in _PART.split(_UNIT.sub(" ", plain)) if part]
    if not parts:
        return [plain]
    if len(parts) <= 2:
        parts = [part.upper() if len(part) <= 2 else part for part in parts]
    if all(_FLAG_SHAPE.fullmatch(part) for part in parts):
        return [flag for part in parts for flag in _single(part, legend)]
    return [parts[0], plain] if len(parts) > 1 and flag_effects(parts[0], legend) else [plain]


def _single(part: str, legend: Legend | None) -> list[str]:
    """One flag, or the letters that were run together in it."""
    if flag_effects(part, legend) is not None or not _RUN_TOGETHER.fullmatch(part):
        stem = part.rstrip("*#")
        return [stem, part[len(stem) :]] if stem != part and flag_effects(stem, legend) is not None else [part]
    flags: list[str] = []
    rest = part
    while rest:
        pair = rest[:2]
        step = 2 if len(pair) == 2 and pair != part and flag_effects(pair, legend) and pair in ("UJ", "NJ", "JN") else 1
        flags.append(rest[:step])
        rest = rest[step:]
    return flags


def resolve_marks(
    value_flags: pd.Categorical,
    qualifier: pd.Categorical | None = None,
    validator: pd.Categorical | None = None,
    detection: pd.Categorical | None = None,
    legend: Legend | None = None,
) -> Marks:
    """What the flags of each record do, resolved once per distinct combination.

    ``value_flags`` are the ``flags`` of ``parse_values``. All have one entry per record; missing means no text. The
    validator goes before the laboratory: where it says anything of a result, the laboratory's J, R, N and E no longer
    count; a laboratory's U still does, unless the validator says that the substance was detected. ``Y``/``N`` and
    ``1``/``0`` mean detected or not in ``detection`` only.
    """
    columns = [value_flags, qualifier, validator, detection]
    key = np.zeros(len(value_flags), dtype=np.int64)
    for column in columns:
        if column is not None:
            key = pd.factorize(key)[0] * (len(column.categories) + 1) + column.codes + 1
    codes, combinations = pd.factorize(key)
    first = np.zeros(len(combinations), dtype=np.int64)
    first[codes[::-1]] = np.arange(len(codes))[::-1]
    rows = [_combination([_text(column, row) for column in columns], legend) for row in first.tolist()]
    names = ["text", *EFFECTS, "coelutes_with", "limit_named", "unexplained"]
    table = pd.DataFrame(rows, columns=names)
    return Marks(codes.astype(np.int32), table.astype(dict.fromkeys(EFFECTS, bool)))


def _text(column: pd.Categorical | None, row: int) -> str:
    if column is None or column.codes[row] < 0:
        return ""
    return str(column.categories[column.codes[row]])


def _combination(texts: list[str], legend: Legend | None) -> list[object]:
    """One row of ``Marks.table`` from the four texts: value flags, qualifier, validator, detection."""
    cell, laboratory, validator, detection = texts
    lab_flags = _once([*split_flags(cell, legend), *split_flags(laboratory, legend)])
    val_flags = split_flags(validator, legend)
    effects: set[str] = set()
    unexplained: list[str] = []
    limit = ""
    for flag in lab_flags:
        effects |= _effects(flag, legend, unexplained)
        limit = limit or _limit(flag)
    decided: set[str] = set()
    for flag in val_flags:
        decided |= _effects(flag, legend, unexplained)
        limit = limit or _limit(flag)
    if decided & _SETTLING:
        effects -= _SETTLED
        if "detected" in decided:
            effects.discard("nondetect")
    effects |= decided
    shown = [*lab_flags, *val_flags]
    if detection.strip():
        found, flag = _detection(detection.strip(), legend)
        effects |= found
        limit = limit or _limit(detection.strip())
        shown += [flag] if flag else []
    if "not_analysed" not in effects:
        shown = [flag for flag in shown if flag != "NA"]
    pointer = next(
        (flag.lstrip("C") or "?" for flag in shown if _COELUTION.fullmatch(flag) and _explains_c(legend)), ""
    )
    text = " ".join(_once([flag for flag in shown if flag not in ("NA", "=")]))
    return [text, *(effect in effects for effect in EFFECTS), pointer, limit, " ".join(_once(unexplained))]


def _explains_c(legend: Legend | None) -> bool:
    return not (legend and "C" in legend)


def _once(flags: list[str]) -> list[str]:
    return list(dict.fromkeys(flags))


def _effects(flag: str, legend: Legend | None, unexplained: list[str]) -> frozenset[str]:
    known = flag_effects(flag, legend)
    if known is None:
        known = _wording(flag)
    if known is None and " " in flag and "blank" not in flag.casefold():
        known = next((effects for pattern, effects in _SENTENCES if pattern.search(flag)), None)
    if known is None:
        unexplained.append(flag)
        return frozenset()
    return known


def _limit(flag: str) -> str:
    limits = _vocabulary()[2]
    return limits.get(flag) or limits.get(fold(flag)) or limits.get(_spelled(flag), "")


_YES = ("Y", "YES", "1", "TRUE", "T", "D")
_NO = ("N", "NO", "0", "FALSE", "F")


def _detection(text: str, legend: Legend | None) -> tuple[frozenset[str], str]:
    """The effects of a detection text, and the flag to show if it is one."""
    upper = text.upper()
    if upper in _YES:
        return frozenset({"detected"}), ""
    if upper in _NO:
        return frozenset({"nondetect"}), ""
    known = _wording(text)
    if known is not None:
        return known, ""
    known = flag_effects(upper, legend)
    return known or frozenset(), upper if len(text) <= 5 else ""
