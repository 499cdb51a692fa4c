"""A wide table with samples down and substances across. In: its header row. Out: the table."""

from __future__ import annotations

import numpy as np

from screen.stages.read.cells.grid import Grid, column_letter
from screen.stages.read.tables.down import looks_like_cas, only_flags
from screen.stages.read.tables.evidence import FIELD_NAMES, Evidence, like_number
from screen.stages.read.tables.layouts import Place, Table, ValueColumn
from screen.stages.read.words.fields import COMPANIONS, SAMPLE_FIELDS, name_header, not_a_sample, split_end, stems
from screen.stages.read.words.meanings import reads_as_unit

__all__ = ["build_across"]

_MEASURED = {"moisture", "solids", "carbon", "water_content"}
_HEADER_LABELS = {"unit", "cas", "method", "mdl", "rl", "limit", "basis", "fraction", "analyte_class"}
_ROW_FIELDS = SAMPLE_FIELDS | {"method", "dilution", "run", "use", "status", "fraction"}


def build_across(grid: Grid, evidence: Evidence, top: int, header: int, end: int, within: range) -> Table | None:
    """The table whose substances stand in row ``header``, in the columns ``within``; its body ends before ``end``."""
    seen = evidence.matrices(np.arange(top, end), range(len(grid.columns)))
    for part in seen.values():
        part[:, : within.start] = 0
        part[:, within.stop :] = 0
    field = np.array(FIELD_NAMES, dtype=object)[seen["field"]]
    here = header - top
    columns = [int(column) for column in np.flatnonzero(seen["filled"][here])]
    if not columns:
        return None
    table = Table(
        "samples-down", columns[0], columns[-1], (header,), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), []
    )
    table.names = header
    _sample_fields(grid, table, columns, header, field[here], seen["substance"][here])
    first_value = min((c for c in columns if seen["substance"][here, c]), default=columns[-1])
    if "sample" not in table.row_fields:
        _other_sample(grid, table, first_value, field[here], seen, here, top)
    if table.anchor < 0:
        table.anchor = table.left
        table.why.append("no column names the samples")
    _header_rows(grid, table, seen, field, top, header, first_value)
    _body(grid, table, seen, field, top, header)
    if not len(table.body):
        return None
    _columns(grid, table, seen, header, top, field[here], columns)
    if not table.values:
        return None
    known = sum(1 for value in table.values if seen["substance"][here, value.column])
    table.why.insert(0, f"row {header + 1} names {known} known substances, with results below them")
    if table.row_fields.keys() & {"sample", "lab_sample", "station", "core"}:
        table.why.append(f"column {column_letter(table.anchor)} names the samples")
    return table


def _sample_fields(
    grid: Grid, table: Table, columns: list[int], header: int, field: np.ndarray, substance: np.ndarray
) -> None:
    for column in columns:
        name = field[column]
        if name in _ROW_FIELDS and not substance[column]:
            head = name_header(grid.cell(header, column))
            if name in table.row_fields:
                before = name_header(grid.cell(header, table.row_fields[name]))
                if before.rank <= head.rank:
                    table.spare[column] = name
                    continue
                table.spare[table.row_fields[name]] = name
            table.row_fields[name] = column
            table.rests.pop(name, None)
            if head.rest:
                table.rests[name] = Place(head.rest, header, column)
    table.anchor = table.row_fields.get("sample", -1)


def _other_sample(
    grid: Grid, table: Table, first_value: int, field: np.ndarray, seen: dict[str, np.ndarray], here: int, top: int
) -> None:
    """The laboratory's id, the station or the core; else a first column of distinct names."""
    for name in ("lab_sample", "station", "core"):
        if name in table.row_fields:
            table.anchor = table.row_fields[name]
            return
    rows = np.flatnonzero(seen["number"][here + 1 :].any(axis=1)) + here + 1 + top
    held = np.flatnonzero(seen["filled"][here + 1 :].any(axis=0))
    for column in (int(one) for one in held if one < first_value):
        if field[column] not in ("", "analyte", "other"):
            continue
        texts = [text for text in (grid.cell(int(row), column) for row in rows) if text]
        named = grid.cell(here + top, column) == "" or not all(like_number(text) for text in texts)
        if named and len(texts) * 2 >= len(rows) and len(set(texts)) >= 0.9 * len(texts):
            table.anchor = table.row_fields["sample"] = column
            table.left = min(table.left, column)
            table.why.append(
                f"column {column_letter(column)} has no word for samples above it; its distinct names stand first"
            )
            return


def _header_rows(
    grid: Grid, table: Table, seen: dict[str, np.ndarray], field: np.ndarray, top: int, header: int, first_value: int
) -> None:
    """Rows of units, CAS numbers and limits above and below the header."""
    here = header - top
    columns = [int(column) for column in np.flatnonzero(seen["substance"][here])]
    for place in [*range(max(here - 3, 0), here), *range(here + 1, min(here + 5, len(field)))]:
        texts = [text for text in (grid.cell(place + top, column) for column in columns) if text]
        if not texts:
            continue
        label = next((str(one) for one in field[place, :first_value] if one), "")
        if label in _HEADER_LABELS:
            name = label
        elif sum(map(looks_like_cas, texts)) * 2 > len(texts):
            name = "cas"
        elif sum(map(reads_as_unit, texts)) * 2 > len(texts):
            name = "unit"
        elif place > here:
            break
        else:
            continue
        if name not in table.column_fields:
            table.column_fields[name] = place + top
            table.headers = tuple(sorted((*table.headers, place + top)))
            table.why.append(f"row {place + top + 1} gives {name} for each column")


def _body(grid: Grid, table: Table, seen: dict[str, np.ndarray], field: np.ndarray, top: int, header: int) -> None:
    here = header - top
    rows = np.arange(top, top + len(field))
    filled = seen["filled"][:, table.left : table.right + 1].sum(axis=1)
    values = seen["number"][:, table.left : table.right + 1].sum(axis=1)
    named = seen["filled"][:, table.anchor]
    body = (filled >= 2) & (named | (values >= 1)) & (values + named.astype(int) >= 1)
    body[: here + 1] = False
    for row in table.headers:
        body[row - top] = False
    lone = (filled == 1) & ~body
    lone[: here + 1] = False
    for place in np.flatnonzero(body):
        text = grid.cell(int(rows[place]), table.anchor)
        kind = not_a_sample(text)
        if kind and grid.columns[table.anchor].kinds[grid.columns[table.anchor].codes[rows[place]]] != 2:
            table.dropped_rows[int(rows[place])] = kind
            body[place] = False
        elif values[place] == 0 and not text:
            body[place] = False
    above = np.where(lone, rows, -1)
    bands = np.maximum.accumulate(above) if len(above) else above
    table.body, table.bands = rows[body], bands[body]


def _columns(
    grid: Grid, table: Table, seen: dict[str, np.ndarray], header: int, top: int, field: np.ndarray, columns: list[int]
) -> None:
    here = header - top
    body = table.body - top
    current: ValueColumn | None = None
    taken = set(table.row_fields.values()) | set(table.spare)
    counted: dict[str, int] = {}
    for column in columns:
        counted[field[column]] = counted.get(field[column], 0) + 1
    for column in range(table.left, table.right + 1):
        if column in taken:
            continue
        text = grid.cell(header, column)
        known = bool(seen["substance"][here, column])
        name = str(field[column])
        numbers = bool(seen["number"][body, column].any())
        if known or name in _MEASURED:
            current = ValueColumn(column, column, name=text)
            table.values.append(current)
        elif name in COMPANIONS and counted[name] == 1 and name in ("unit", "basis"):
            table.row_fields[name] = column
        elif name in COMPANIONS:
            if current is not None and name == "qualifier" and name in current.beside:
                current.beside.setdefault("qualifier_other", column)
            elif current is None or name in current.beside:
                table.dropped[column] = "other-column"
            else:
                current.beside[name] = column
        elif beside := _end_of(text, current, column):
            assert current is not None
            current.beside.setdefault(beside, column)
        elif kind := not_a_sample(text):
            table.dropped[column] = kind
            current = None
        elif name:
            table.dropped[column] = "other-column"
            current = None
        elif not text:
            if bool(seen["filled"][body, column].any()):
                if not numbers and current is not None and "qualifier" not in current.beside:
                    current.beside["qualifier"] = column
                else:
                    table.dropped[column] = "unnamed-column"
        elif numbers:
            current = ValueColumn(column, column, name=text)
            table.values.append(current)
        elif current is not None and "qualifier" not in current.beside and only_flags(grid, table.body, column):
            current.beside["qualifier"] = column
            table.why.append(f"column {column_letter(column)} holds only flags: qualifiers")
        else:
            table.dropped[column] = "text-column"
            current = None


def _end_of(text: str, current: ValueColumn | None, column: int) -> str:
    """The role of a column such as ``PCB_8_Q`` beside ``PCB_8_NGG``: the same stem, or right behind it."""
    if current is None or not text:
        return ""
    valued = any(end.role == "value" for end in split_end(current.name))
    for end in split_end(text):
        near = valued and column - current.column <= 2
        if end.role != "value" and (stems(current.name) & stems(end.stem) or near):
            return end.role
    return ""
