"""From tables to records: one row per value cell, whatever the layout was.

In: the grids and tables of one batch. Out: ``Records``: where each value stands, how many cells go with it, the value
cell itself and one coded column per field met. Units and bases keep the strength of the place where they stand:
``unit`` (the row), ``unit_column`` (the column's header), ``unit_label``, ``unit_title``; ``basis`` alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from screen.stages.read.cells.coded import (
    as_shown,
    constant,
    empty,
    first_of,
    join,
    only_shown,
    pair_codes,
    spread,
    stack,
    take,
    used,
)
from screen.stages.read.cells.grid import Column, Grid
from screen.stages.read.tables.layouts import Place, Table, ValueColumn
from screen.stages.read.tables.sheet_words import SheetWords
from screen.stages.read.words.fields import SAMPLE_FIELDS, field_of
from screen.stages.read.words.meanings import basis_in_text, reads_as_unit, unit_in_text

__all__ = ["Records", "melt", "melt_all", "no_records", "part_of", "pick", "under_one_another"]

Ints = npt.NDArray[np.int64]
#: Fields whose cells keep their kind: those that hold numbers, and ids, which a stored date spoils.
_KIND_COUNTS = ("value", "value_text", "mdl", "rl", "limit", "limit_b", "sample")
_MEASURED = ("moisture", "solids", "carbon", "water_content")


@dataclass(slots=True)
class Records:
    """One row per value cell. ``file`` and ``table`` are places in the batch; ``row`` and ``column`` count from 0."""

    file: npt.NDArray[np.int32]
    grid: npt.NDArray[np.int32]
    table: npt.NDArray[np.int32]
    row: npt.NDArray[np.int32]
    column: npt.NDArray[np.int32]
    cells: npt.NDArray[np.int32]
    fields: dict[str, Column] = field(default_factory=dict)

    def __len__(self) -> int:
        """The number of records."""
        return len(self.row)

    def get(self, name: str) -> Column:
        """A field, empty in every row where the batch has none."""
        return self.fields.get(name) or empty(len(self))


def melt(grid: Grid, table: Table, words: SheetWords) -> Records:
    """The records of one table; ``file``, ``grid`` and ``table`` are filled by ``melt_all``."""
    body, values = table.body, table.values
    count, wide = len(body), len(values)
    order = np.arange(count * wide).reshape(wide, count).T.ravel() if wide > 1 else None
    size = count * wide

    merged = _merged_down(grid)

    def by_row(column: int) -> Column:
        rows = merged[column][body] if column in merged else body
        one = take(as_shown(grid.columns[column]), rows)
        return one if wide == 1 else Column(np.repeat(one.codes, wide), one.texts, one.kinds, one.numbers)

    def by_value(row: int) -> Column:
        one = join([_header_cell(grid, row, value) for value in values])
        return Column(np.tile(one.codes, count), one.texts, one.kinds, one.numbers)

    def side_by_side(columns: Sequence[int | None], shown: bool = False) -> Column:
        cells = [None if one is None else grid.columns[one] for one in columns]
        cells = [one and only_shown(one) for one in cells] if shown else cells
        parts = [empty(count) if one is None else used(take(one, body)) for one in cells]
        return take(stack(parts), order) if order is not None else parts[0]

    fields: dict[str, Column] = {"value": side_by_side([value.column for value in values])}
    if any(grid.columns[value.column].shown is not None for value in values):
        fields["shown"] = side_by_side([value.column for value in values], shown=True)
    for name, place in table.labels.items():
        fields[f"{name}_label" if name in ("unit", "basis") else name] = _label(grid, place, size)
    for name, row in table.column_fields.items():
        fields[f"{name}_column" if name in ("unit", "basis") else name] = _without_label(name, by_value(row))
    for name, column in table.row_fields.items():
        if name not in _MEASURED:
            fields[name] = _over(by_row(column), fields.get(name))
    for column, name in table.spare.items():
        if name == "analyte" and table.layout == "long":
            fields["analyte_other"] = by_row(column)
            fields["analyte"] = _unless_missing(fields["analyte"], fields["analyte_other"])
        if name == "qualifier" and table.layout == "long":
            fields["qualifier_other"] = by_row(column)
    for name in {name for value in values for name in value.beside}:
        fields[name] = _over(side_by_side([value.beside.get(name) for value in values]), fields.get(name))
    for name in sorted({name for limits in table.limits_below.values() for name in limits}):
        rows = np.array([table.limits_below.get(row, {}).get(name, -1) for row in body.tolist()])
        below = [_at(grid.columns[value.column], rows) for value in values]
        fields[name] = _over(below[0] if order is None else take(stack(below), order), fields.get(name))
    if table.layout == "samples-down":
        fields["analyte"] = by_value(table.names)
    heads = ["" if value.unit is None else value.unit.text for value in values]
    if any(heads):
        units, bases = [unit_in_text(one) for one in heads], [basis_in_text(one).basis for one in heads]
        fields["unit_column"] = _over_columns(fields.get("unit_column"), units, count)
        fields["basis_column"] = _over_columns(fields.get("basis_column"), bases, count)
    if "unit" in table.rests:  # ``Units (dry weight)``
        rest = table.rests["unit"].text
        fields.setdefault("unit_column" if reads_as_unit(rest) else "basis_column", constant(rest, size))
    for name in ("value", "analyte", "depth", "depth_top", "depth_bottom", "mdl", "rl", "limit"):
        if name in table.rests:
            fields[f"{name}_rest"] = constant(table.rests[name].text, size)
    if table.layout == "analytes-down" and "unit" in table.row_fields:
        unit_cell = {name: grid.cell(row, table.row_fields["unit"]) for name, row in table.column_fields.items()}
        for name in ("depth", "depth_top", "depth_bottom"):
            if unit_cell.get(name):
                fields[f"{name}_rest"] = constant(unit_cell[name], size)
    fields["band"] = _bands(grid, table, wide)
    if table.layout == "long" and not {"sample", "lab_sample", "station"} & fields.keys():
        fields["sample"] = _samples_between(grid, table)
    fields["unit_title"] = constant(words.unit, size)
    fields["basis_title"] = constant(words.basis, size)
    fields["basis_default"] = constant(words.default_basis, size)
    rows = np.repeat(body, wide).astype(np.int32)
    columns = np.tile(np.array([value.column for value in values], dtype=np.int32), count)
    if "maximum" in fields:
        beside = [value.beside.get("maximum", table.row_fields.get("maximum", value.column)) for value in values]
        taken = _take_maxima(fields)
        columns[taken] = np.tile(np.array(beside, dtype=np.int32), count)[taken]
    blank = np.zeros(size, dtype=np.int32)
    if "not_detected" in fields:
        fields["detection"] = _over(spread(fields.pop("not_detected"), _turned), fields.get("detection"))
    records = Records(blank, blank, blank, rows, columns, _cells(grid, table), fields)
    return _with_measured(grid, table, records, words)


#: So many rows between results are looked at for names of samples.
_MOST_LONE = 20_000


def _at(column: Column, rows: Ints) -> Column:
    """The cells at ``rows``, empty where a row is -1."""
    one = take(column, rows)
    return used(Column(np.where(rows < 0, 0, one.codes).astype(np.int32), one.texts, one.kinds, one.numbers))


def _header_cell(grid: Grid, row: int, value: ValueColumn) -> Column:
    """The cell of a header row that speaks for a column of results: above it, or the one that is merged over it."""
    column = value.column
    if not grid.cell(row, column):
        if value.named != column:
            column = value.named
        else:
            row, column = _merged_cell(grid, row, column)
    return _cell(grid, row, column)


def _merged_cell(grid: Grid, row: int, column: int) -> tuple[int, int]:
    for top, left, bottom, right in grid.merged:
        if top <= row <= bottom and left <= column <= right:
            return top, left
    return row, column


def _merged_down(grid: Grid) -> dict[int, npt.NDArray[np.int64]]:
    """For each column with cells merged over several rows: the row whose cell speaks for each row."""
    found: dict[int, npt.NDArray[np.int64]] = {}
    for top, left, bottom, _ in grid.merged:
        if bottom > top and left < len(grid.columns) and top < grid.rows:
            rows = found.setdefault(left, np.arange(grid.rows))
            rows[top : bottom + 1] = top
    return found


def _cell(grid: Grid, row: int, column: int) -> Column:
    """One cell as a column of one row, as its number format shows it."""
    if row >= grid.rows or column >= len(grid.columns):
        return empty(1)
    return used(take(as_shown(grid.columns[column]), np.array([row])))


def _label(grid: Grid, place: Place, size: int) -> Column:
    """What a label gives, the same in every row; a cell of its own keeps its kind."""
    if place.row < 0 or grid.cell(place.row, place.column) != place.text:
        return constant(place.text, size)
    one = _cell(grid, place.row, place.column)
    return Column(np.repeat(one.codes, size), one.texts, one.kinds, one.numbers)


def _without_label(name: str, column: Column) -> Column:
    """Ids above their columns without the word in front: ``Client ID: QE-1``."""
    if name not in SAMPLE_FIELDS or not any(":" in str(text) for text in column.texts):
        return column

    def bare(text: str) -> str:
        before, _, after = text.partition(":")
        return after.strip() if after.strip() and field_of(before) in SAMPLE_FIELDS else text

    return spread(column, bare)


def _turned(text: str) -> str:
    """What a cell under ``Not detected`` says of detection: its yes is a no."""
    folded = text.strip().casefold()
    return {"y": "N", "yes": "N", "1": "N", "true": "N", "n": "Y", "no": "Y", "0": "Y", "false": "Y"}.get(folded, text)


def _take_maxima(fields: dict[str, Column]) -> npt.NDArray[np.bool_]:
    """Estimated maxima (EMPC) in a column of their own stand for results without a number, flagged as what they are.

    Returns where they do.
    """
    value, most = fields["value"], fields.pop("maximum")
    digits = [np.array([any(map(str.isdigit, str(text))) for text in one.texts], dtype=bool) for one in (value, most)]
    taken = ~digits[0][value.codes] & digits[1][most.codes]
    chosen = Column(np.where(taken, most.codes, 0).astype(np.int32), most.texts, most.kinds, most.numbers)
    flag = constant("EMPC", len(taken))
    flag = Column(np.where(taken, flag.codes, 0).astype(np.int32), flag.texts, flag.kinds, flag.numbers)
    flags = fields.get("qualifier")
    if flags is not None:
        codes, first = pair_codes(flag, flags)
        both = [f"{flag.texts[flag.codes[row]]} {flags.texts[flags.codes[row]]}".strip() for row in first]
        joined = join([constant(text, 1) for text in both])
        flag = Column(joined.codes[codes], joined.texts, joined.kinds, joined.numbers)
    fields["value"], fields["qualifier"] = first_of(chosen, value), flag
    return np.asarray(taken, dtype=bool)


def _over(strong: Column, weak: Column | None) -> Column:
    """``strong``, with ``weak`` where it is empty."""
    return strong if weak is None else first_of(strong, weak)


def _over_columns(strong: Column | None, texts: Sequence[str], rows: int) -> Column:
    """``strong``, with what each column of results gives where it is empty."""
    weak = join([constant(text, 1) for text in texts])
    every = Column(np.tile(weak.codes, rows), weak.texts, weak.kinds, weak.numbers)
    return every if strong is None else first_of(strong, every)


def _unless_missing(strong: Column, weak: Column) -> Column:
    """``strong``, with ``weak`` where it holds a mark for not available."""
    missing = np.array(
        [str(text).strip().casefold() in ("", "na", "n/a", "-", "--") for text in strong.texts], dtype=bool
    )
    return _over(
        Column(np.where(missing[strong.codes], 0, strong.codes), strong.texts, strong.kinds, strong.numbers), weak
    )


def _bands(grid: Grid, table: Table, wide: int) -> Column:
    rows, codes = np.unique(table.bands, return_inverse=True)
    texts = ["" if row < 0 else next((one for one in _row_texts(grid, int(row), table)), "") for row in rows]
    one = join([constant(text, 1) for text in texts]) if texts else empty(0)
    picked = one.codes[codes] if len(codes) else np.zeros(0, dtype=np.int32)
    return Column(np.repeat(picked, wide), one.texts, one.kinds, one.numbers)


def _samples_between(grid: Grid, table: Table) -> Column:
    """Ids that stand in rows of their own between the results, such as ``Sample: QE-1``, for the rows below each."""
    lone = np.setdiff1d(np.arange(table.headers[0] + 1, table.bottom + 1), table.body)[:_MOST_LONE]
    found: dict[int, str] = {}
    for row in lone:
        texts = _row_texts(grid, int(row), table)
        before, _, after = texts[0].partition(":") if texts else ("", "", "")
        if field_of(before) in ("sample", "lab_sample"):
            found[int(row)] = after.strip() or (texts[1] if len(texts) > 1 else "")
    if not found:
        return empty(len(table.body))
    places = np.searchsorted(np.array(list(found)), table.body)
    named = join([constant(text, 1) for text in ("", *found.values())])
    return take(named, places)


def _row_texts(grid: Grid, row: int, table: Table) -> list[str]:
    return [text for column in range(table.left, table.right + 1) if (text := grid.cell(row, column))]


def _cells(grid: Grid, table: Table) -> npt.NDArray[np.int32]:
    """Non-empty cells that go with each record: the row of a long table, else the value and what stands beside it."""
    body = table.body
    if table.layout == "long":
        total = np.zeros(len(body), dtype=np.int32)
        for column in range(table.left, table.right + 1):
            total += grid.columns[column].codes[body] != 0
        return total
    parts = []
    for value in table.values:
        one = (grid.columns[value.column].codes[body] != 0).astype(np.int32)
        for column in value.beside.values():
            one += grid.columns[column].codes[body] != 0
        parts.append(one)
    return np.column_stack(parts).ravel().astype(np.int32)


def _with_measured(grid: Grid, table: Table, records: Records, words: SheetWords) -> Records:
    """Moisture, solids or carbon that a long table repeats per row: one record per sample and distinct figure."""
    found = [records]
    if table.layout == "long":
        key = next(
            (table.row_fields[name] for name in ("sample", "lab_sample", "station") if name in table.row_fields), None
        )
        repeated = [name for name in _MEASURED if name in table.row_fields]
        found.extend(_repeated(grid, table, records, name, key) for name in repeated)
    for name in _MEASURED:
        place = table.labels.get(name)
        if place is not None and len(records):
            found.append(_labelled(grid, records, name, place))
    return found[0] if len(found) == 1 else _concat(found)


def _repeated(grid: Grid, table: Table, records: Records, name: str, key: int | None) -> Records:
    column = table.row_fields[name]
    codes = grid.columns[column].codes[table.body].astype(np.int64)
    owner = (
        grid.columns[key].codes[table.body].astype(np.int64)
        if key is not None
        else np.zeros(len(codes), dtype=np.int64)
    )
    both = owner * (int(codes.max(initial=0)) + 1) + codes
    _, first = np.unique(both, return_index=True)
    rows = np.sort(first[codes[first] != 0])
    records.cells[rows] -= 1
    kept = {
        one: take(records.fields[one], rows)
        for one in records.fields
        if one
        in (
            "sample",
            "lab_sample",
            "station",
            "core",
            "date",
            "depth",
            "depth_top",
            "depth_bottom",
            "depth_rest",
            "depth_top_rest",
            "depth_bottom_rest",
            "sample_type",
            "parent",
            "matrix",
            "time",
            "depth_unit",
        )
    }
    header = grid.cell(table.headers[0], column)
    kept["analyte"] = constant(header, len(rows))
    kept["value"] = take(grid.columns[column], table.body[rows])
    if name in table.rests:
        kept["unit_column"] = constant(table.rests[name].text, len(rows))
    blank = np.zeros(len(rows), dtype=np.int32)
    one = np.ones(len(rows), dtype=np.int32)
    return Records(
        blank, blank, blank, table.body[rows].astype(np.int32), np.full(len(rows), column, np.int32), one, kept
    )


def _labelled(grid: Grid, records: Records, name: str, place: Place) -> Records:
    first = np.zeros(1, dtype=np.int64)
    kept = {
        one: take(records.fields[one], first)
        for one in records.fields
        if one in ("sample", "lab_sample", "station", "date")
    }
    text = place.text
    label = "Percent Moisture" if name == "moisture" else "Percent Solids" if name == "solids" else ""
    if not label:
        return no_records()
    cell = grid.cell(place.row, place.column)
    percent = "%" in text or "%" in cell or (place.column > 0 and "%" in grid.cell(place.row, place.column - 1))
    percent = (
        percent
        or "percent" in grid.cell(place.row, max(place.column - 1, 0)).casefold()
        or "percent" in cell.casefold()
    )
    kept["analyte"] = constant(label, 1)
    kept["value"] = constant(text.replace("%", "").strip(), 1)
    kept["unit"] = constant("%" if percent else "", 1)
    blank = np.zeros(1, dtype=np.int32)
    one = np.ones(1, dtype=np.int32)
    at = (np.array([place.row], np.int32), np.array([place.column], np.int32))
    return Records(blank, blank, blank, *at, one, kept)


def melt_all(parts: Sequence[tuple[int, int, int, Records]]) -> Records:
    """All records under one another, by file, sheet, row and column. Each part: file, grid, table, records."""
    for file, grid, table, records in parts:
        size = len(records)
        records.file = np.full(size, file, dtype=np.int32)
        records.grid = np.full(size, grid, dtype=np.int32)
        records.table = np.full(size, table, dtype=np.int32)
    whole = _concat([records for *_, records in parts])
    if not len(whole):
        return whole
    place = (whole.grid.astype(np.int64) << 40) | (whole.row.astype(np.int64) << 18) | whole.column.astype(np.int64)
    if np.all(place[1:] >= place[:-1]):
        return whole
    return pick(whole, np.argsort(place, kind="stable"))


def no_records() -> Records:
    """No record at all."""
    nothing = np.zeros(0, dtype=np.int32)
    return Records(nothing, nothing, nothing, nothing, nothing, nothing)


def pick(records: Records, rows: npt.NDArray[np.integer]) -> Records:
    """The records at ``rows``."""
    return Records(
        records.file[rows],
        records.grid[rows],
        records.table[rows],
        records.row[rows],
        records.column[rows],
        records.cells[rows],
        {name: take(column, rows) for name, column in records.fields.items()},
    )


def part_of(records: Records, rows: npt.NDArray[np.integer]) -> Records:
    """The records at ``rows`` with no more distinct texts than they need."""
    part = pick(records, rows)
    part.fields = {name: used(column) for name, column in part.fields.items()}
    return part


def under_one_another(parts: Sequence[Records], offsets: Sequence[tuple[int, int, int]]) -> Records:
    """The records of several files in their order; ``offsets`` are what the numbers of file, sheet and table of each
    part are raised by."""
    raised = []
    for part, (file, grid, table) in zip(parts, offsets, strict=True):
        numbers = _raised(part.file, file), _raised(part.grid, grid), _raised(part.table, table)
        raised.append(Records(*numbers, part.row, part.column, part.cells, part.fields))
    return _concat(raised)


def _raised(numbers: npt.NDArray[np.int32], by: int) -> npt.NDArray[np.int32]:
    return numbers + np.int32(by) if by else numbers


def _concat(parts: Sequence[Records]) -> Records:
    if len(parts) == 1:
        return parts[0]
    if not parts:
        return no_records()
    names = list(dict.fromkeys(name for part in parts for name in part.fields))
    fields = {}
    for name in names:
        columns = [part.fields.get(name) or empty(len(part)) for part in parts]
        fields[name] = stack(columns) if name in _KIND_COUNTS else join([used(one) for one in columns])
    arrays = [
        np.concatenate([getattr(part, name) for part in parts]) if parts else np.zeros(0, dtype=np.int32)
        for name in ("file", "grid", "table", "row", "column", "cells")
    ]
    file, grid, table, row, column, cells = arrays
    return Records(file, grid, table, row, column, cells, fields)
