"""Every reader of one text, with what must hold of its answer: a text in, nothing out; AssertionError where it fails.

``PARSERS`` is what the property tests, the long suite and the guided fuzzer feed. A new reader of texts belongs in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from functools import cache

import numpy as np

from screen.reference.folding import cas_check_digit_holds, fold, plain, read_cas
from screen.reference.grain_sizes import read_grain_size
from screen.reference.name_words import LONGEST_NAME, guard_in, read_band, said_in_name, split_unit, without_tail
from screen.reference.names import NameBook, name_book
from screen.reference.substances import describe
from screen.reference.units import factor, read_basis, read_unit, states_unit
from screen.stages.read.cells.grid import BOOLEAN, DATE, ERROR, NO_VALUE, NUMBER, TEXT
from screen.stages.read.field.tables import area_factor
from screen.stages.read.field.tables import name_header as field_header
from screen.stages.read.tables.down import looks_like_cas
from screen.stages.read.tables.evidence import like_number, like_result
from screen.stages.read.tables.legend import read_legend
from screen.stages.read.words.dates import DATE_CODES, read_dates
from screen.stages.read.words.fields import field_of, name_header, not_a_sample, split_end, stems
from screen.stages.read.words.ids import clean_id, near_ids
from screen.stages.read.words.lengths import known_unit, read_interval, read_length
from screen.stages.read.words.meanings import basis_code, basis_in_text, reads_as_unit, unit_in_text
from screen.stages.read.words.numbers import Decimal, decimal_evidence, decimal_proofs, parse_number
from screen.stages.read.words.qualifiers import flag_effects, split_flags
from screen.stages.read.words.values import parse_values

__all__ = ["PARSERS"]

DECIMALS: tuple[Decimal | None, ...] = (None, "point", "comma", "mixed")


@cache
def _book() -> NameBook:
    return name_book()


def _number(text: str) -> None:
    for decimal in DECIMALS:
        found = parse_number(text, decimal)
        assert not math.isinf(found.value), "an infinite number"
        assert math.isnan(found.value) == bool(found.code), "a number and a refusal, or neither"
    assert decimal_evidence([text]) in DECIMALS
    decimal_proofs([text])


def _value(text: str) -> None:
    kinds = (TEXT, DATE, BOOLEAN, ERROR, NO_VALUE, NUMBER)
    texts = np.array([text] * len(kinds), dtype=object)
    stored = np.array([np.nan] * (len(kinds) - 1) + [1.5])
    for decimal in DECIMALS:
        found = parse_values(texts, np.array(kinds, dtype=np.uint8), stored, decimal)
        assert len(found) == len(kinds)
        assert not np.isinf(found["number"]).any(), "an infinite number"
    like_number(text)
    like_result(text)
    for flag in split_flags(text):
        flag_effects(flag)


def _unit(text: str) -> None:
    for group in ("", "dioxin", "metal"):
        found = read_unit(text, group)
        assert (found.unit is None) == bool(found.code), "a unit and a refusal, or neither"
        if found.unit is not None:
            assert factor(found.unit, found.unit) == 1.0
    assert read_basis(text) in ("dry", "wet", "oc", "", None)
    states_unit(text)
    reads_as_unit(text)
    basis_in_text(text)
    unit_in_text(text)
    basis_code(text)


def _name(text: str) -> None:
    for band in ("", read_band(text), "pcb congeners"):
        found = _book().resolve(text, band=band, suggest=False)
        assert found.role in ("analyte", "lab-total", "surrogate", "derived", "none")
        if found.role == "analyte" and found.substance is not None:
            assert len(describe([found.substance])) == 1
    _book().resolve("Lead", cas=text, suggest=False)
    for read in (plain, fold, split_unit, said_in_name, guard_in, read_grain_size, looks_like_cas):
        read(text)
    without_tail(plain(text)[-LONGEST_NAME:])
    number, holds = read_cas(text)
    assert holds == (bool(number) and cas_check_digit_holds(number))


def _length(text: str) -> None:
    for unit in ("", "cm", "in", "ft"):
        value, code = read_length(text, unit)
        assert not math.isinf(value), "an infinite length"
        assert math.isnan(value) or not code, "a length and a refusal"
        top, bottom, _ = read_interval(text, unit)
        assert not math.isinf(top), "an infinite depth"
        assert not math.isinf(bottom), "an infinite depth"
    known_unit(text)
    area_factor(text)


def _date(text: str) -> None:
    for order in (None, "day-first", "month-first"):
        row = read_dates([text], order).iloc[0]
        assert row["code"] in ("", *DATE_CODES)
        if row["date"]:
            assert date.fromisoformat(row["date"]).isoformat() == row["date"]
            assert not row["code"]


def _header(text: str) -> None:
    field_of(text)
    name_header(text)
    not_a_sample(text)
    split_end(text)
    stems(text)
    field_header(text)
    read_legend([text])


def _id(text: str) -> None:
    once = clean_id(text)
    assert clean_id(once) == once, "cleaning an id twice gives another id"
    near_ids([text, once, f" {text}"])


PARSERS: dict[str, Callable[[str], None]] = {
    "number": _number,
    "value": _value,
    "unit": _unit,
    "name": _name,
    "length": _length,
    "date": _date,
    "header": _header,
    "id": _id,
}
