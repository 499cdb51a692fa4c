"""Units and bases of the records, by the strength of the place where they stand (intake handbook 4).

In: records and their substances. Out: ``Measures``: the unit as shown, the basis, and the exact factor to the
substance's standard unit, each distinct pair of unit and substance worked out once. Nothing is assumed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.reference.units import factor, molar_factor, read_unit
from screen.settings import Settings
from screen.stages.read.cells.coded import first_of, pair_codes, spread
from screen.stages.read.cells.grid import TEXT, Column
from screen.stages.read.records.answers import Answers
from screen.stages.read.records.melt import Records
from screen.stages.read.records.readings import Substances, column_of
from screen.stages.read.words.meanings import BASES, basis_code, basis_in_text, unit_in_text

__all__ = ["Measures", "Silent", "limit_scales", "read_basis_and_unit"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Silent:
    """Sheets, by their number, of which no record states a unit, and of which none states a basis."""

    unit: Bools
    basis: Bools


@dataclass(slots=True)
class Measures:
    """Unit and basis of each record: the unit as shown, its code of refusal, the basis, and the factor to standard."""

    unit: Column
    code: Column
    message: Column
    notice: Column
    basis: npt.NDArray[np.int8]
    conflict: Bools
    factor: Floats
    canonical: Column
    equivalents: Bools
    silent: Silent


def read_basis_and_unit(
    records: Records, substances: Substances, settings: Settings, answers: Answers, silent: Silent | None = None
) -> Measures:
    """Units and bases by the strength of the place where they stand (intake handbook 4).

    The settings' unit and basis serve only for sheets that state none: those of ``silent``, which the records
    themselves tell where they are all that their sheets have.
    """
    substance_texts = column_of(substances.codes, pd.Series([*substances.names, ""], dtype=object))
    own = records.get("unit")
    named = substances.said_unit
    wants_percent = substances.flag((substances.facts["unit"] == "%").to_numpy())
    said_percent = np.array([text == "%" for text in named.texts], dtype=bool)[named.codes]
    unit = first_of(own, _only(named, ~said_percent | wants_percent))
    for name in ("value_rest", "analyte_rest", "unit_column"):
        weak = records.get(name)
        readable = np.array(
            [bool(read_unit(str(text)).unit) or name == "unit_column" for text in weak.texts], dtype=bool
        )
        unit = first_of(unit, _only(weak, readable[weak.codes]))
    water = substances.in_groups("conventional")
    unit = first_of(unit, _only(spread(records.get("band"), unit_in_text), ~water))
    unit = first_of(unit, _only(records.get("unit_label"), ~water))
    unit = first_of(unit, _only(records.get("unit_title"), ~water))
    if "limit_unit" in records.fields:
        unit = first_of(unit, _only(records.get("limit_unit"), _without_number(records)))
    if (unit.codes == 0).any():  # the percent sign of the cell itself
        unit = first_of(unit, spread(records.get("value"), lambda text: "%" if "%" in text else ""))
    stated_somewhere = unit.codes != 0
    narrow, broad = answers.override(records, "unit", substance_texts)
    unreadable = np.array([bool(text) and read_unit(str(text)).unit is None for text in unit.texts], dtype=bool)
    unit = first_of(_only(broad, unreadable[unit.codes]), unit)
    unit = first_of(narrow, first_of(unit, broad))
    no_unit = _silent(records, stated_somewhere) if silent is None else silent.unit
    if settings.unit:
        unit = first_of(unit, _only(_constant(settings.unit, len(records)), no_unit[records.grid] & ~water))
    codes, first = pair_codes(unit, substances.codes)
    rows = []
    for row in first:
        text = str(unit.texts[unit.codes[row]])
        place = int(substances.codes[row])
        rows.append(_one_unit(text, substances, place))
    table = pd.DataFrame(rows, columns=["unit", "basis", "code", "message", "notice", "factor", "equivalents", "ratio"])
    ratio = table["ratio"].to_numpy(dtype=np.float64)
    basis, conflict, no_basis = _bases(
        records, substances, settings, answers, unit, codes, table, substance_texts, silent
    )
    return Measures(
        unit,
        column_of(codes, table["code"]),
        column_of(codes, table["message"]),
        column_of(codes, table["notice"]),
        basis,
        conflict,
        table["factor"].to_numpy(dtype=np.float64)[codes] * np.fmax(ratio[codes], substances.mass_ratio),
        column_of(codes, table["unit"]),
        table["equivalents"].to_numpy(dtype=bool)[codes],
        Silent(no_unit, no_basis),
    )


def _without_number(records: Records) -> Bools:
    """Records whose value is no number, so that the unit of their limit is theirs."""
    found = np.ones(len(records), dtype=bool)
    for name in ("value", "value_text"):
        column = records.get(name)
        found &= ~np.array([any(mark.isdigit() for mark in str(text)) for text in column.texts], dtype=bool)[
            column.codes
        ]
    return found


def limit_scales(records: Records, measures: Measures) -> dict[str, Floats]:
    """What the limits of each field that have a unit of their own are multiplied by to be in the unit of the value.

    A unit of a limit stands in its own column or in the limit's header. NaN where it cannot be brought to the unit of
    the value, or where it states another basis.
    """
    found: dict[str, Floats] = {}
    for name in ("mdl", "rl", "limit", "limit_b"):
        if name not in records.fields:
            continue
        own = first_of(records.get(f"{name}_rest"), records.get("limit_unit_b" if name == "limit_b" else "limit_unit"))
        if not (own.codes != 0).any():
            continue
        codes, first = pair_codes(own, measures.unit, measures.basis)
        scales = [
            _one_scale(
                str(own.texts[own.codes[row]]),
                str(measures.unit.texts[measures.unit.codes[row]]),
                BASES[measures.basis[row]],
            )
            for row in first
        ]
        found[name] = np.array(scales, dtype=np.float64)[codes]
    return found


def _one_scale(own: str, wanted: str, basis: str) -> float:
    if not own or own == wanted:
        return 1.0
    limit, value = read_unit(own), read_unit(wanted)
    if limit.basis in ("dry", "wet") and basis in ("dry", "wet") and limit.basis != basis:
        return float("nan")
    if limit.unit is None or value.unit is None:
        return float("nan") if limit.unit is not None else 1.0
    scale = factor(limit.unit, value.unit)
    return float("nan") if scale is None else float(scale)


def _constant(text: str, length: int) -> Column:
    return Column(
        np.ones(length, np.int32), np.array(["", text], object), np.array([0, TEXT], np.uint8), np.full(2, np.nan)
    )


def _only(column: Column, where: Bools) -> Column:
    return Column(np.where(where, column.codes, 0).astype(np.int32), column.texts, column.kinds, column.numbers)


def _silent(records: Records, stated: Bools) -> Bools:
    """Sheets in which no record states it."""
    silent = np.ones(int(records.grid.max(initial=0)) + 1, dtype=bool)
    silent[records.grid[stated]] = False
    return silent


def _one_unit(text: str, substances: Substances, place: int) -> tuple[object, ...]:
    name = substances.names[place] if place >= 0 else ""
    group = str(substances.facts["group"].iloc[place]) if place >= 0 else ""
    if not text:
        return "", 0, "unit-missing", "no unit is given in the row, the header or a note", "", np.nan, False, 1.0
    read = read_unit(text, group)
    if read.unit is None:
        return "", 0, read.code, read.message, "", np.nan, False, 1.0
    basis = BASES.index(read.basis) if read.basis in BASES else 0
    if place < 0:
        return read.unit, basis, "", "", "", np.nan, read.toxic_equivalents, 1.0
    standard = str(substances.facts["unit"].iloc[place])
    scale = factor(read.unit, standard)
    if scale is None:
        moles = molar_factor(name)
        through = factor(read.unit, "mg/kg")
        scale = moles * through if moles is not None and through is not None and standard == "umol/g" else None
    whole = molar_factor(f"{name} (as {read.expressed})") if read.expressed else None
    ratio = whole or 1.0
    if read.expressed and whole is None and not name.endswith(f"(as {read.expressed})"):
        message = f"the unit {text!r} states the mass as {read.expressed}; {name} is not stated so in its name"
        return read.unit, basis, "unit-expressed", message, "", np.nan, read.toxic_equivalents, 1.0
    if scale is None:
        message = f"the unit {text!r} cannot be brought to {standard or 'the unit'} of {name}"
        return read.unit, basis, "unit-unfit", message, "", np.nan, read.toxic_equivalents, 1.0
    notice = read.message
    if whole is not None:
        notice = f"{text}: a mass of {read.expressed}, multiplied by {whole:.4g} to that of {name}"
    return read.unit, basis, "", "", notice, scale, read.toxic_equivalents, ratio


def _bases(
    records: Records,
    substances: Substances,
    settings: Settings,
    answers: Answers,
    unit: Column,
    unit_codes: Ints,
    table: pd.DataFrame,
    substance_texts: Column,
    silent: Silent | None,
) -> tuple[npt.NDArray[np.int8], Bools, Bools]:
    def coded_bases(column: Column) -> npt.NDArray[np.int8]:
        return np.array([basis_code(str(text)) for text in column.texts], dtype=np.int8)[column.codes]

    def codes_of(name: str) -> npt.NDArray[np.int8]:
        return coded_bases(records.get(name))

    def of_rest(name: str) -> npt.NDArray[np.int8]:
        column = records.get(name)
        read = [read_unit(str(text)).basis if read_unit(str(text)).unit else "" for text in column.texts]
        bare = [BASES.index(one) if one in BASES else 0 for one in read]
        said = [
            code or (basis_code(str(text)) if str(text) and not read_unit(str(text)).unit else 0)
            for code, text in zip(bare, column.texts, strict=True)
        ]
        return np.array([code if code < BASES.index("refused") else 0 for code in said], dtype=np.int8)[column.codes]

    def in_words(name: str) -> npt.NDArray[np.int8]:
        column = records.get(name)
        said = [basis_in_text(str(text)).basis for text in column.texts]
        return np.array([BASES.index(one) if one in BASES else 0 for one in said], dtype=np.int8)[column.codes]

    from_unit = table["basis"].to_numpy(dtype=np.int8)[unit_codes] if len(unit_codes) else np.zeros(0, dtype=np.int8)
    strict = [
        codes_of("basis"),
        from_unit,
        coded_bases(substances.said_basis),
        in_words("analyte_other"),
        of_rest("value_rest"),
        of_rest("analyte_rest"),
        of_rest("unit_column"),
        codes_of("basis_column"),
        in_words("band"),
        codes_of("basis_label"),
        of_rest("unit_label"),
        codes_of("basis_title"),
    ]
    basis = np.zeros(len(records), dtype=np.int8)
    conflict = np.zeros(len(records), dtype=bool)
    for level in strict:
        conflict |= (basis > 0) & (level > 0) & (level != basis)
        basis = np.where(basis > 0, basis, level)
    basis = np.where(basis > 0, basis, codes_of("basis_default"))
    stated = basis > 0
    narrow, broad = answers.override(records, "basis", substance_texts)
    said, fills = coded_bases(narrow), coded_bases(broad)
    basis = np.where((fills > 0) & (conflict | (basis == 0)), fills, basis)
    basis = np.where(said > 0, said, basis)
    conflict &= (said == 0) & (fills == 0)
    no_basis = _silent(records, stated) if silent is None else silent.basis
    if settings.basis:
        basis = np.where((basis == 0) & no_basis[records.grid], BASES.index(settings.basis), basis)
    needs = substances.flag(substances.facts["needs_basis"].to_numpy(dtype=bool), missing=True)
    return basis.astype(np.int8), conflict & needs, no_basis
