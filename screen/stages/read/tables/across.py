"""A wide table with samples down and substances across. In: its header row. Out: the table."""

from __future__ import annotations

import numpy as np

from screen.letters import column_letter
from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.down import looks_like_cas, only_flags
from screen.stages.read.tables.evidence import FIELD_NAMES, Evidence, like_number
from screen.stages.read.tables.layouts import Place, Table, ValueColumn, without_tail
from screen.stages.read.words.fields import COMPANIONS, SAMPLE_FIELDS, name_header, not_a_sample, split_end, stems
from screen.stages.read.words.meanings import reads_as_unit, unit_in_text

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
    table.right = _right_end(seen["filled"][here:], table.right, within.stop)
    roles = _roles_row(field[:, first_value : table.right + 1], here)
    if "sample" not in table.row_fields:
        _other_sample(grid, table, first_value, field[here], seen, here, top)
    if table.anchor < 0:
        table.anchor = table.left
        table.why.append("no column names the samples")
    if roles is not None:
        table.headers = (*table.headers, roles + top)
        table.why.append(f"row {roles + top + 1} says what stands in each column")
    _header_rows(grid, table, seen, field, top, header, first_value)
    _label_rows(grid, table, seen, field, top, header)
    _body(grid, table, seen, field, top, header)
    if not len(table.body):
        return None
    if roles is None:
        _columns(grid, table, seen, header, top, field[here], columns)
    else:
        _grouped_columns(grid, table, seen, header, top, field[here], field[roles], first_value)
    if not table.values:
        return None
    _group_heads(grid, table, top, header, first_value)
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


def _right_end(filled: np.ndarray, right: int, stop: int) -> int:
    """The last column of the table: what stands right beside the last name, without a name above it, is its own too."""
    below: np.ndarray = np.any(filled[1:], axis=0)
    while right + 1 < stop and below[right + 1] and not filled[0, right + 1]:
        right += 1
    return right


def _roles_row(field: np.ndarray, here: int) -> int | None:
    """The row under the names that says what stands in each column: ``Result, Qual, MDL``; None where there is none."""
    for place in range(here + 1, min(here + 5, len(field))):
        named = [name for name in field[place] if name]
        roles = [name for name in named if name in COMPANIONS or name == "value"]
        if roles and len(roles) == len(named) and len(set(roles)) > 1:
            return place
    return None


def _header_rows(
    grid: Grid, table: Table, seen: dict[str, np.ndarray], field: np.ndarray, top: int, header: int, first_value: int
) -> None:
    """Rows of units, CAS numbers and limits above and below the header."""
    here = header - top
    columns = [int(column) for column in np.flatnonzero(seen["substance"][here])]
    if len(table.headers) > 1:
        columns = list(range(first_value, table.right + 1))
    for place in [*range(max(here - 3, 0), here), *range(here + 1, min(here + 5, len(field)))]:
        if place + top in table.headers:
            continue
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


def _label_rows(
    grid: Grid, table: Table, seen: dict[str, np.ndarray], field: np.ndarray, top: int, header: int
) -> None:
    """Rows below that a label in the column of samples names: ``Reporting limit`` under the last sample.

    Where two rows of one label differ, nothing says which of them holds for which sample: neither is used.
    """
    labels = field[:, table.anchor]
    for name in ("mdl", "rl", "limit", "unit"):
        found = np.flatnonzero((labels == name) & seen["filled"][:, table.anchor + 1 :].any(axis=1)) + top
        rows = [int(row) for row in found if row > header and row not in table.headers]
        if not rows:
            continue
        every = [*rows, *([table.column_fields[name]] if name in table.column_fields else [])]
        said = {tuple(grid.cell(row, column) for column in range(table.anchor + 1, table.right + 1)) for row in every}
        if len(said) == 1:
            table.column_fields.setdefault(name, rows[0])
            table.headers = tuple(sorted((*table.headers, *rows)))
            table.why.append(f"row {rows[0] + 1} gives {name} for each column")
        else:
            table.column_fields.pop(name, None)
            table.dropped_rows.update(dict.fromkeys(rows, "limit-row"))


def _next_header(table: Table, field: np.ndarray, top: int, here: int) -> int:
    """The row where another table begins: the word for samples stands in their column again. Else the end."""
    again = np.flatnonzero(np.isin(field[here + 1 :, table.anchor], list(SAMPLE_FIELDS)))
    again = again[[int(row) + here + 1 + top not in table.headers for row in again]] if len(again) else again
    return top + (here + 1 + int(again[0]) if len(again) else len(field))


def _body(grid: Grid, table: Table, seen: dict[str, np.ndarray], field: np.ndarray, top: int, header: int) -> None:
    here = header - top
    rows = np.arange(top, _next_header(table, field, top, here))
    field, seen = field[: len(rows)], {name: part[: len(rows)] for name, part in seen.items()}
    filled = seen["filled"][:, table.left : table.right + 1].sum(axis=1)
    values = seen["number"][:, table.left : table.right + 1].sum(axis=1)
    named = seen["filled"][:, table.anchor]
    body = (filled >= 2) & (named | (values >= 1)) & (values + named.astype(int) >= 1)
    body[: here + 1] = False
    for row in (*table.headers, *table.dropped_rows):
        body[row - top] = False
    lone = (filled == 1) & ~body
    lone[: here + 1] = False
    for place in np.flatnonzero(body):
        text = grid.cell(int(rows[place]), table.anchor)
        if text.rstrip().endswith(":"):  # a label, no sample
            body[place] = False
            continue
        kind = not_a_sample(text)
        if kind and grid.columns[table.anchor].kinds[grid.columns[table.anchor].codes[rows[place]]] != 2:
            table.dropped_rows[int(rows[place])] = kind
            body[place] = False
        elif values[place] == 0 and not text:
            body[place] = False
    body = without_tail(body, values >= 1)
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
                flags = not numbers or only_flags(grid, table.body, column)
                if flags and current is not None and "qualifier" not in current.beside:
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


def _grouped_columns(
    grid: Grid,
    table: Table,
    seen: dict[str, np.ndarray],
    header: int,
    top: int,
    field: np.ndarray,
    roles: np.ndarray,
    first_value: int,
) -> None:
    """The columns where each name spans a result and what stands beside it, as the row of ``roles`` says."""
    groups: list[list[int]] = []
    for column in range(first_value, table.right + 1):
        if grid.cell(header, column):
            groups.append([column])
        elif groups:
            groups[-1].append(column)
    for named, *others in groups:
        text = grid.cell(header, named)
        group = [named, *others]
        known = bool(seen["substance"][header - top, named]) or field[named] in _MEASURED
        kind = "" if known else not_a_sample(text) or ("other-column" if field[named] else "")
        if kind or named in table.row_fields.values():
            table.dropped.update(dict.fromkeys(set(group) - set(table.row_fields.values()), kind or "other-column"))
            continue
        valued = [one for one in group if roles[one] == "value"] or [one for one in group if not roles[one]]
        if not valued:
            table.dropped.update(dict.fromkeys(group, "other-column"))
            continue
        value = ValueColumn(valued[0], named, name=text)
        table.values.append(value)
        for column in (one for one in group if one != value.column):
            role = str(roles[column])
            if role in COMPANIONS and role not in value.beside:
                value.beside[role] = column
            elif role == "qualifier" and "qualifier_other" not in value.beside:
                value.beside["qualifier_other"] = column
            elif bool(seen["filled"][table.body - top, column].any()):
                table.dropped[column] = "unnamed-column"


def _group_heads(grid: Grid, table: Table, top: int, header: int, first_value: int) -> None:
    """Titles of groups above the names, each with the unit of the columns under it: ``Metals (mg/kg)  PAHs (ug/kg)``.

    A group reaches to the next title, or as far as its title is merged.
    """
    merged = {(up, left): right for up, left, _, right in grid.merged}
    for row in range(header - 1, max(header - 4, top - 1), -1):
        if row in table.headers:
            continue
        heads = [column for column in range(first_value, table.right + 1) if grid.cell(row, column)]
        if len(heads) < 2 or not any(unit_in_text(grid.cell(row, column)) for column in heads):
            continue
        for head, behind in zip(heads, [*heads[1:], table.right + 1], strict=True):
            last = merged.get((row, head), behind - 1)
            for value in table.values:
                if head <= value.named <= last:
                    value.unit = Place(grid.cell(row, head), row, head)
        table.headers = tuple(sorted((row, *table.headers)))
        table.why.append(f"row {row + 1} gives units of groups of columns")
        return


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
