"""Is a guideline set in order? In: either file of the pair. Out: findings with file, line and mend, empty for none."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

from screen.likeness import nearest
from screen.reference.check_about import check_about
from screen.reference.names import name_book
from screen.reference.rules import sum_rules
from screen.reference.set_files import (
    FIGURE_COLUMNS,
    ROW_COLUMNS,
    Finding,
    RawSet,
    SetError,
    is_builtin,
    read_basis_word,
    read_pair,
    standing_basis,
)
from screen.reference.substances import table
from screen.reference.units import UnitReading, factor, read_unit

__all__ = ["EVIDENCE", "Finding", "check_raw", "check_set"]

EVIDENCE = ("seen", "from_memory", "conflict", "own")
#: Kinds of the substance table that no level can be set for.
_NO_LEVEL = ("ambiguous", "mixed-peak", "surrogate", "attribute")
_CAS = re.compile(r"(\d{2,7})-(\d{2})-(\d)")


def check_set(path: Path | str) -> list[Finding]:
    """All that is wrong with the set that ``path`` (either file of the pair) belongs to, in file and line order.

    For ``siltmark guidelines check``: an empty list means that the set is in order.
    """
    try:
        raw = read_pair(Path(path))
    except SetError as error:
        return list(error.findings)
    return check_raw(raw)


def check_raw(raw: RawSet) -> list[Finding]:
    """The same for files that have been read."""
    about = check_about(raw)
    levels = [level for level in _list(raw.data.get("levels")) if isinstance(level, str)]
    found = [*about, *_header(raw, levels)]
    if "substance" in raw.header:
        found += _records(raw, levels)
        found += _sums_without_row(raw)
    return sorted(found, key=lambda one: (one.file, one.line))


def _list(value: object) -> list[object]:
    return value if isinstance(value, list) else []


def _nearest(word: str, known: Iterable[str]) -> str:
    near = nearest(word, known)
    return f"Did you mean {near[0]!r}?" if near else ""


def _header(raw: RawSet, levels: list[str]) -> Iterator[Finding]:
    file = str(raw.table)
    line = 1
    known = [*ROW_COLUMNS, *levels, *(f"{level} {column}" for level in levels for column in FIGURE_COLUMNS)]
    for place, column in enumerate(raw.header):
        if not column:
            yield Finding(file, line, f"Column {place + 1} has no name.", "Name it in the first row, or take it out.")
        elif column not in known:
            mend = _nearest(column, known) or f"A level must stand in the levels list of {raw.about.name}."
            yield Finding(file, line, f"The column {column!r} is not known.", mend)
        elif column in raw.header[:place]:
            yield Finding(file, line, f"The column {column!r} stands twice.", "Keep one of the two.")
    for column in ("substance", *levels):
        if column not in raw.header:
            what = f"The level {column!r}" if column in levels else f"The column {column!r}"
            mend = f"Add a column {column!r}" + (
                f", or take it from the levels of {raw.about.name}." if column in levels else "."
            )
            yield Finding(file, line, f"{what} has no column.", mend)
    if "unit" not in raw.header and any(f"{level} unit" not in raw.header for level in levels):
        yield Finding(file, line, "There is no column 'unit'.", "Add one, with the unit of every row.")
    for number, count in raw.ragged:
        message = f"The row has {count} cells, the first row has {len(raw.header)}."
        yield Finding(file, number, message, "A text with a comma in it stands in double quotes.")


def _records(raw: RawSet, levels: list[str]) -> Iterator[Finding]:
    sums = raw.data.get("sums")
    sums = sums if isinstance(sums, dict) else {}
    builtin = is_builtin(raw.table)
    first_line: dict[str, int] = {}
    for line, cells in raw.records:
        name = cells.get("substance", "")
        if name in first_line:
            message = f"{name!r} stands twice, first in line {first_line[name]}."
            yield _at(raw, line, message, "Keep one row for each substance.")
        elif name:
            first_line[name] = line
        yield from _substance(raw, line, cells, sums)
        wanted, group = _standard(name, sums)
        yield from _figures(raw, line, cells, levels, wanted, group, builtin)


def _at(raw: RawSet, line: int, message: str, mend: str = "") -> Finding:
    return Finding(str(raw.table), line, message, mend)


def _substance(raw: RawSet, line: int, cells: dict[str, str], sums: dict[str, object]) -> Iterator[Finding]:
    name, cas = cells.get("substance", ""), cells.get("cas", "")
    known = _kinds()
    if not name:
        yield _at(raw, line, "The row names no substance.", "Fill the column 'substance', or take the row out.")
    elif name not in sums:
        kind = known.get(name)
        if kind is None:
            yield _at(raw, line, f"The substance {name!r} is not known.", _named_here(raw, name, sums))
        elif kind == "lab-total":
            mend = f"Name the totals that it stands for under [sums] in {raw.about.name}."
            yield _at(raw, line, f"{name!r} is a sum.", mend)
        elif kind in _NO_LEVEL:
            yield _at(raw, line, f"No level can be set for {name!r}.", "Name the substance itself.")
    if not cas:
        return
    found = _CAS.fullmatch(cas)
    if not found or not _check_digit(found[1] + found[2], int(found[3])):
        message = f"{cas!r} is not a CAS number: its check digit does not fit."
        yield _at(raw, line, message, "Look it up again, or leave the cell empty.")
    elif name in known and name not in sums and (right := _cas()[name]) and cas not in right:
        mend = f"Its number is {right[0]}." if right[0] else "It has no CAS number: leave the cell empty."
        yield _at(raw, line, f"{cas} is not the CAS number of {name}.", mend)


def _named_here(raw: RawSet, name: str, sums: dict[str, object]) -> str:
    """How to mend a name that is neither of the substance table nor a sum of the set."""
    known = _kinds()
    found = name_book().resolve(name)
    canonical = found.substance
    if found.code == "ambiguous-name":
        meant = found.message.partition(". ")[2].partition(":")[0]
        return f"It is ambiguous ({meant}): write the full name of the one, or name the sum under [sums]."
    if canonical and known.get(canonical) == "lab-total":
        ids = _lab_total_of()[canonical].split(";")
        such = f', such as "{name}" = ["{ids[0]}"]' if ids[0] else ""
        return f"As a sum it names its totals under [sums] in {raw.about.name}{such}."
    if canonical and known.get(canonical) not in _NO_LEVEL:
        return f"Its name here is {canonical!r}."
    near = _nearest(name, [*sums, *(one for one, kind in known.items() if kind not in ("lab-total", *_NO_LEVEL))])
    return near or "Use a name of the substance table, or name its totals under [sums]."


def _check_digit(digits: str, last: int) -> bool:
    return sum(place * int(digit) for place, digit in enumerate(reversed(digits), start=1)) % 10 == last


def _standard(name: str, sums: dict[str, object]) -> tuple[str | None, str]:
    """The unit that figures for ``name`` are brought to, and its group; (None, "") where that is not known."""
    if name in sums:
        flat = [one for item in _list(sums[name]) for one in (item if isinstance(item, list) else [item])]
        known = [one for one in flat if one in sum_rules().totals.index]
        return (str(sum_rules().totals.at[known[0], "unit"]), "") if known else (None, "")
    return _units().get(name, (None, ""))


def _figures(
    raw: RawSet, line: int, cells: dict[str, str], levels: list[str], wanted: str | None, group: str, builtin: bool
) -> Iterator[Finding]:
    held: list[tuple[str, str, float]] = []
    said: set[tuple[str, str]] = set()
    if not any(cells.get(level) for level in levels):
        yield _at(raw, line, "The row has no figure for any level.", "Give one, or take the row out.")
    for level in levels:
        text = cells.get(level, "")
        if not text:
            continue
        value = _number(text)
        if value is None:
            mend = _plain(text) or "A level is a bare number; say anything else in the column 'note'."
            yield _at(raw, line, f"{text!r} in the column {level!r} is not a number above zero.", mend)
        own = {column: cells.get(f"{level} {column}") or cells.get(column, "") for column in FIGURE_COLUMNS}
        reading = read_unit(own["unit"], group)
        basis = own["basis"] or standing_basis(raw.data, reading.basis)
        for key, found in (
            ("unit", _unit(raw, line, own["unit"], reading, basis, wanted)),
            ("basis", _basis(raw, line, own["basis"])),
            ("evidence", _evidence(raw, line, own["evidence"], own["source"], builtin)),
        ):
            if found and (key, found.message) not in said:
                said.add((key, found.message))
                yield found
        scale = factor(reading.unit, wanted) if reading.unit and wanted else None
        if value is not None and scale is not None:
            held.append((level, basis, value * scale))
    for later, (level, basis, value) in enumerate(held):
        for other, other_basis, other_value in held[:later]:
            if basis == other_basis and value < other_value * (1 - 1e-9):
                message = f"{level!r} is lower than {other!r}, which stands before it in the levels."
                yield _at(raw, line, message, "Levels rise from the mildest to the gravest on one basis.")
                break


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and value > 0 and "_" not in text else None


def _plain(text: str) -> str:
    bare = re.sub(r"(?<=\d)[, ](?=\d{3}\b)", "", text).lstrip("<>~ ")
    return f"Write {bare}." if bare != text and _number(bare) is not None and text[:1] not in "<>~" else ""


def _unit(raw: RawSet, line: int, text: str, reading: UnitReading, basis: str, wanted: str | None) -> Finding | None:
    if reading.unit is None:
        return _at(raw, line, reading.message, "Give a unit such as mg/kg or ug/kg.")
    carbon = basis == "oc"
    if reading.basis == "wet":
        return _at(raw, line, f"The unit {text!r} is per wet weight.", "Levels are per dry weight or per carbon.")
    if (reading.basis == "oc" and not carbon) or (reading.basis == "dry" and carbon):
        message = f"The unit {text!r} and the basis {basis!r} say different things."
        return _at(raw, line, message, "Put the basis in the column 'basis'.")
    if reading.expressed == "Sn":
        mend = "Name a total as tin under [sums], such as tributyltin-tin, and give the unit without Sn."
        return _at(raw, line, f"{text!r} is a mass of tin, and organotins are held as the cation.", mend)
    if wanted and factor(reading.unit, wanted) is None:
        return _at(raw, line, f"{text!r} cannot be brought to {wanted}.", f"Give the level in {wanted}.")
    return None


def _basis(raw: RawSet, line: int, word: str) -> Finding | None:
    try:
        if word:
            read_basis_word(word)
    except ValueError as error:
        return _at(raw, line, str(error), "Known are dry, oc, oc-1% (any per cent), al-5% and below-20um.")
    return None


def _evidence(raw: RawSet, line: int, evidence: str, source: str, builtin: bool) -> Finding | None:
    if evidence and evidence not in EVIDENCE:
        mend = _nearest(evidence, EVIDENCE) or f"Known are {', '.join(EVIDENCE)}."
        return _at(raw, line, f"The evidence {evidence!r} is not known.", mend)
    if builtin and (not evidence or evidence == "own" or not source):
        missing = "source" if evidence and evidence != "own" else "evidence"
        return _at(raw, line, f"A figure of a built-in set has no {missing}.", f"Fill the column {missing!r}.")
    return None


def _sums_without_row(raw: RawSet) -> Iterator[Finding]:
    sums = raw.data.get("sums")
    names = {cells.get("substance") for _, cells in raw.records}
    for name in sums if isinstance(sums, dict) else ():
        if name not in names:
            message = f"{name!r} under [sums] has no row in {raw.table.name}."
            yield Finding(str(raw.about), raw.line_of(name, "sums"), message, "Add its row, or take it out.")


@cache
def _kinds() -> dict[str, str]:
    return dict(table()["kind"])


@cache
def _lab_total_of() -> dict[str, str]:
    return dict(table()["lab_total_of"])


@cache
def _cas() -> dict[str, list[str]]:
    frame = table()
    return {
        name: [cas, *(one for one in other.split(";") if one)]
        for name, cas, other in zip(frame.index, frame["cas"], frame["other_cas"], strict=True)
    }


@cache
def _units() -> dict[str, tuple[str | None, str]]:
    frame = table()
    return dict(zip(frame.index, zip(frame["unit"], frame["group"], strict=True), strict=True))
