"""Which field a header names. In: the text of a header. Out: the field, and the unit that the header gives with it.

The words are data: ``guidelines/vocabulary/headers.csv`` (field, text), ``column_ends.csv`` (ends such as ``_Q``) and
``not_samples.csv`` (columns beside the samples that are none: criteria, statistics, recoveries).
"""

from __future__ import annotations

import re
from functools import cache
from typing import NamedTuple

from screen.reference.locate import read_table
from screen.reference.name_words import split_unit
from screen.stages.read.words.vocabulary import fold, words

__all__ = [
    "ANALYTE_FIELDS",
    "COMPANIONS",
    "SAMPLE_FIELDS",
    "End",
    "Header",
    "field_of",
    "name_header",
    "not_a_sample",
    "second_field",
    "split_end",
    "stems",
]

#: Fields that say something of a sample, whatever was measured in it.
SAMPLE_FIELDS = frozenset(
    "sample lab_sample station station_name river_km river_mile core parent sample_type matrix matrix_part date year "
    "time time_zone depth_top depth_bottom depth_unit depth latitude longitude easting northing".split()
)
#: Fields that say something of the thing measured.
ANALYTE_FIELDS = frozenset("analyte cas analyte_class method fraction".split())
#: Fields that stand beside one value.
COMPANIONS = frozenset(
    "qualifier validator sign detection not_detected maximum mdl rl limit limit_kind limit_unit unit basis uncertainty "
    "dilution use value_text".split()
)
_IN_BRACKETS = re.compile(
    r"^(?P<name>.*?\S)\s*[\(\[](?P<rest>[^()\[\]]*(?:\([^()]*\))?[^()\[\]]*)[\)\]]\s*$", re.DOTALL
)
#: Recoveries and differences, whatever stands before them: ``LCS % Rec``, ``S1 RPD``.
_QUALITY = re.compile(
    r"%\s?rec\w*|\brecover(?:y|ies)\b|\b%?\s?rpd\b|%\s?r\b|%\s?rsd\b|\bspike (?:added|conc)", re.IGNORECASE
)
_AFTER = re.compile(r"^(?P<name>.*?[^\s,;:])\s*[,;:\s]\s*(?P<rest>\S.*)$", re.DOTALL)


class Header(NamedTuple):
    """``field`` ("" for none), ``rank`` (lower is the better word), ``rest``: what the header says besides."""

    field: str = ""
    rank: int = 0
    rest: str = ""


class End(NamedTuple):
    """A header cut into its ``stem`` and what its end says: ``role`` (value, qualifier, mdl, rl) and ``unit``."""

    stem: str
    role: str
    unit: str


@cache
def _headers() -> dict[str, tuple[str, int]]:
    frame = read_table("vocabulary/headers.csv")
    found: dict[str, tuple[str, int]] = {}
    for rank, (field, text) in enumerate(zip(frame["field"], frame["text"], strict=True)):
        found.setdefault(fold(text) or text, (field, rank))
    return found


@cache
def _second_fields() -> dict[str, str]:
    frame = read_table("vocabulary/headers.csv")
    found: dict[str, str] = {}
    for field, text in zip(frame["field"], frame["text"], strict=True):
        if field != _headers()[fold(text) or text][0]:
            found.setdefault(fold(text) or text, field)
    return found


def second_field(text: str) -> str:
    """The field that the text names where another column holds the one that it names first, or an empty text.

    ``Fieldid`` is the sample's id; beside ``Sampnum`` it is the place.
    """
    return _second_fields().get(fold(text) or text, "")


def field_of(text: str) -> str:
    """The field that the whole text names, or an empty text."""
    return _headers().get(fold(text) or text, ("", 0))[0]


@cache
def name_header(text: str) -> Header:
    """The field of a header, with a unit behind it: ``Result (mg/kg dry)``, ``Depth (cm)``, ``MDL, ug/kg``."""
    if not text or len(text) > 80:
        return Header()
    known = _headers()
    if whole := known.get(fold(text) or text):
        return Header(*whole)
    if cut := _IN_BRACKETS.match(text):
        found = known.get(fold(cut["name"]))
        if found:
            return Header(*found, cut["rest"].strip())
    for cut in _cuts(text):
        found = known.get(fold(cut["name"]))
        if found and _is_measure(cut["rest"]):
            return Header(*found, cut["rest"].strip())
    return Header()


def _cuts(text: str) -> list[re.Match[str]]:
    cut = _AFTER.match(text)
    found: list[re.Match[str]] = []
    while cut and len(found) < 4:
        found.append(cut)
        cut = re.match(
            rf"^(?P<name>{re.escape(cut['name'])}[,;:\s]+\S*?[^\s,;:])\s*[,;:\s]\s*(?P<rest>\S.*)$", text, re.DOTALL
        )
    return found


def _is_measure(text: str) -> bool:
    from screen.stages.read.words.meanings import reads_as_unit

    return reads_as_unit(text) or fold(text) in ("cm", "m", "mm", "in", "ft", "inches", "feet", "bls", "cmbls")


def not_a_sample(text: str) -> str:
    """The kind of a column that looks like a sample and is none (``criterion`` ...), or an empty text."""
    if not text:
        return ""
    table = words("not_samples", "kind")
    if found := table.get(fold(text) or text):
        return found
    parts = re.split(r"[\s(\[,;:/]+", text.strip())
    if not any(part.isdigit() for part in parts):
        for part in parts:
            if len(part) > 2 and table.get(fold(part)) == "criterion":
                return "criterion"
    if _QUALITY.search(text):
        return "quality"
    last = parts[-1]
    if len(parts) > 1 and len(last) > 3 and table.get(fold(last)) == "statistic":  # ``1998 Mean``
        return "statistic"
    cut = _IN_BRACKETS.match(text)
    return table.get(fold(cut["name"]), "") if cut else ""


@cache
def _ends() -> tuple[tuple[str, str, str], ...]:
    frame = read_table("vocabulary/column_ends.csv")
    rows = zip(frame["text"].str.casefold(), frame["role"], frame["unit"], strict=True)
    return tuple(sorted(rows, key=lambda row: -len(row[0])))


@cache
def split_end(text: str) -> tuple[End, ...]:
    """The ways to cut a header into a stem and a known end: ``PCB_8_Q``, ``QE-31 Result``, ``DDT_4_4_D``."""
    folded = text.strip().casefold().rstrip(")].")
    found = []
    for end, role, unit in _ends():
        if folded.endswith(end) and len(folded) > len(end):
            stem = folded[: -len(end)]
            mark = stem[-1]
            if mark in " _-.([/" or (end in ("c", "q", "d", "ngg") and stem[-1:].isalnum()):
                found.append(End(stem.rstrip(" _-.([/"), role, unit))
    return tuple(found)


@cache
def stems(text: str) -> frozenset[str]:
    """What a header may be called in the header beside it: itself, without its unit, without a known end."""
    plain = {text, split_unit(text)[0], *(end.stem for end in split_end(text) if end.role == "value")}
    if cut := _IN_BRACKETS.match(text):
        plain.add(cut["name"])
    return frozenset(fold(one) for one in plain if one)
