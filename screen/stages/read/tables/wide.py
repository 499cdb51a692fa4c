"""Wide tables: a column of substances with results to the right, or a row of substances with results below.

In: a coded grid, its evidence and a range of rows. Out: the tables found there.
"""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import numpy.typing as npt

from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.across import build_across
from screen.stages.read.tables.down import build_down
from screen.stages.read.tables.evidence import FIELD_NAMES, Evidence, like_result
from screen.stages.read.tables.layouts import Table
from screen.stages.read.words.meanings import reads_as_unit

__all__ = ["find_wide"]

Bools = npt.NDArray[np.bool_]


def find_wide(grid: Grid, evidence: Evidence, first: int, last: int) -> list[Table]:
    """The wide tables in the rows ``first`` to ``last``."""
    rows = np.arange(first, last + 1)
    seen = evidence.matrices(rows, range(len(grid.columns)))
    field, substance, number, filled = seen["field"], seen["substance"], seen["number"], seen["filled"]
    if not substance.any() and not _is(field, "analyte").any():
        return []
    headers = _across_headers(field, substance, number, filled)
    stops = [*(int(row) + first for row in headers), last + 1]
    tables: list[Table] = []
    before = first
    for place, header in enumerate(stops[:-1]):
        start = header
        if start > before:
            tables.extend(_down(grid, evidence, before, start - 1, seen, first))
        end = before
        for columns in _side_by_side(field[header - first], substance[header - first]):
            table = build_across(grid, evidence, before, header, stops[place + 1], columns)
            if table is None:
                continue
            same = next(
                (one for one in tables[::-1] if one.layout == "samples-down" and _repeats(grid, one, table)), None
            )
            if same is not None:
                same.headers = (*same.headers, *table.headers)
                same.body = np.concatenate([same.body, table.body])
                same.bands = np.concatenate([same.bands, table.bands])
                same.dropped_rows.update(table.dropped_rows)
                same.why.append(f"row {header + 1} repeats the header")
            else:
                tables.append(table)
            end = max(end, table.bottom + 1)
        before = end
    if before <= last:
        tables.extend(_down(grid, evidence, before, last, seen, first))
    return tables


def _side_by_side(field: npt.NDArray[np.int16], substance: Bools) -> list[range]:
    """The columns of each table of a header row: a second column of sample ids begins a second table."""
    starts = [int(one) for one in np.flatnonzero(_is(field, "sample"))]
    cuts = [one for before, one in itertools.pairwise(starts) if substance[before:one].any() and substance[one:].any()]
    edges = [0, *cuts, len(field)]
    return [range(left, right) for left, right in itertools.pairwise(edges)]


def _is(field: npt.NDArray[np.int16], *names: str) -> Bools:
    codes = [FIELD_NAMES.index(name) for name in names if name in FIELD_NAMES]
    return np.isin(field, codes) if codes else np.zeros(field.shape, dtype=bool)


def _across_headers(
    field: npt.NDArray[np.int16], substance: Bools, number: Bools, filled: Bools
) -> npt.NDArray[np.int64]:
    """Rows whose substances have results below them, and none beside them."""
    below = np.zeros(number.shape, dtype=bool)
    if len(number) > 1:
        below[:-1] = np.logical_or.accumulate(number[::-1], axis=0)[::-1][1:]
    beside = number.sum(axis=1)
    for row in np.flatnonzero(substance.any(axis=1) & (beside <= 1)):
        roles = _is(field[row + 1 : row + 5], "value").any(axis=0)
        below[row] |= _under_its_name(filled[row], below[row] & roles)
    good = substance & below
    count = good.sum(axis=1)
    samples = _is(field, "sample", "lab_sample", "station", "core").any(axis=1)
    labelled = _is(field[:, :1], "analyte", "moisture", "solids", "carbon").any(axis=1)
    heads = ((count >= 2) | ((count == 1) & samples & ~labelled)) & (beside < count) & (beside <= 1)
    for row in np.flatnonzero(heads & _is(field, "analyte").any(axis=1)):
        for column in np.flatnonzero(_is(field[row], "analyte")):
            heads[row] &= substance[row + 1 :, column].sum() < 2  # the substances stand below, ``TEQ`` beside a sample
    return np.flatnonzero(heads)


def _under_its_name(filled: Bools, below: Bools) -> Bools:
    """Names with results below the empty cells that follow them, over which they are merged."""
    names = np.cumsum(filled)
    found = np.zeros(int(names[-1]) + 1, dtype=bool)
    np.logical_or.at(found, names, below)
    under: Bools = found[names] & filled
    return under


def _repeats(grid: Grid, table: Table, again: Table) -> bool:
    if (table.left, table.right) != (again.left, again.right):
        return False
    first, second = table.headers[0], again.headers[0]
    return all(grid.cell(first, column) == grid.cell(second, column) for column in range(table.left, table.right + 1))


def _down(
    grid: Grid, evidence: Evidence, first: int, last: int, seen: dict[str, npt.NDArray[Any]], offset: int
) -> list[Table]:
    """Tables with a column of substances in the rows ``first`` to ``last``, side by side and one under another."""
    span = slice(first - offset, last + 1 - offset)
    field, substance = seen["field"][span], seen["substance"][span]
    number, filled = seen["number"][span], seen["filled"][span]
    if not len(field) or field.shape[1] < 2:
        return []
    right = np.zeros(number.shape, dtype=bool)
    right[:, :-1] = np.logical_or.accumulate(number[:, ::-1], axis=1)[:, ::-1][:, 1:]
    analyte = _is(field, "analyte")
    keyed = substance & right
    headed = np.zeros(number.shape[1], dtype=bool)
    for row, column in np.argwhere(analyte & ~right):
        keyed[row + 1 :, column] |= filled[row + 1 :, column] & right[row + 1 :, column]
        headed[column] = True
    known = (substance & right).sum(axis=0)
    count = keyed.sum(axis=0)
    labelled = _is(field, "sample", "lab_sample").any(axis=0)
    anchors: list[int] = []
    for column in np.flatnonzero((known >= 2) | (headed & (count >= 1)) | ((known >= 1) & labelled)):
        rows = keyed[:, column]
        if anchors:
            between = number[rows][:, anchors[-1] + 1 : column]
            if not between.any():
                if known[column] > known[anchors[-1]]:
                    anchors[-1] = int(column)
                continue
        anchors.append(int(column))
    tables = []
    start = 0
    for place, anchor in enumerate(anchors):
        stop = anchors[place + 1] if place + 1 < len(anchors) else len(grid.columns)
        opens = _is(field, "sample")[:, : anchor + 1].any(axis=1) | analyte[:, anchor]
        opens |= _heads_again(grid, first, range(anchor, stop), keyed[:, anchor], field, number)
        parts = _stacked(np.flatnonzero(keyed[:, anchor]), np.flatnonzero(opens), len(field))
        above = first
        for begin, end in parts:
            table = build_down(grid, evidence, above, first + begin, first + end, anchor, start, stop)
            if table is not None:
                tables.append(table)
                above = table.bottom + 1
        start = max([start, *(table.right + 1 for table in tables)])
    return tables


def _stacked(rows: npt.NDArray[np.int64], opens: npt.NDArray[np.int64], end: int) -> list[tuple[int, int]]:
    """First row of substances and the row after the end, for each table of one column: a new header begins the next."""
    if not len(rows):
        return []
    parts, start = [], int(rows[0])
    for opened in opens[opens > start]:
        inside = rows[(rows >= start) & (rows < opened)]
        after = rows[rows > opened]
        if len(inside) and len(after):
            parts.append((start, int(opened)))
            start = int(after[0])
    parts.append((start, end))
    return parts


def _heads_again(
    grid: Grid, first: int, columns: range, keyed: Bools, field: npt.NDArray[np.int16], number: Bools
) -> Bools:
    """Rows between substances that name other samples, though no word for a field says so.

    Their cells right of the substances are distinct names, as many as half the columns of results; in front stands
    nothing, or the row repeats a cell of the head above the first substance (``Units``).
    """
    found = np.zeros(len(field), dtype=bool)
    rows = np.flatnonzero(keyed)
    if len(rows) < 2:
        return found
    inside = slice(columns.start + 1, columns.stop)
    valued: Bools = np.any(number[rows][:, inside], axis=0)
    head = {
        (column, text)
        for row in range(max(int(rows[0]) - 6, 0), int(rows[0]))
        for column in columns
        if (text := grid.cell(first + row, column))
    }
    between = ~keyed & ~number[:, inside].any(axis=1)
    between[: rows[0]] = between[rows[-1] :] = False
    for row in np.flatnonzero(between):
        cells = {column: grid.cell(first + int(row), column).strip() for column in columns}
        names = [
            text
            for column, text in cells.items()
            if column > columns.start and valued[column - inside.start] and text and not field[row, column]
        ]
        odd = any(like_result(text) or reads_as_unit(text) for text in names)
        if odd or not names or len(set(names)) < len(names) or len(names) * 2 < int(valued.sum()):
            continue
        front = cells[columns.start]
        repeats = any((column, text) in head for column, text in cells.items() if text)
        found[row] = not field[row, columns.start] and (not front or repeats)
    return found
