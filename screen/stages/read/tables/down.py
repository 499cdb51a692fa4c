"""A wide table with substances down a column and samples across. In: where its substances begin. Out: the table."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import numpy.typing as npt

from screen.stages.read.cells.grid import Grid, column_letter
from screen.stages.read.tables.evidence import FIELD_NAMES, Evidence, like_result
from screen.stages.read.tables.layouts import Place, Table, ValueColumn
from screen.stages.read.words.fields import (
    ANALYTE_FIELDS,
    COMPANIONS,
    SAMPLE_FIELDS,
    name_header,
    not_a_sample,
    split_end,
    stems,
)
from screen.stages.read.words.meanings import reads_as_unit
from screen.stages.read.words.qualifiers import flag_effects, split_flags

__all__ = ["build_down", "looks_like_cas", "only_flags"]

_CAS = re.compile(r"^\s*\d{2,7}-\d{2}-\d\s*$")
_INTERVAL = re.compile(
    r"\d+(?:[.,]\d+)?\s*(?:-|–|to|/|bis|à)\s*\d+(?:[.,]\d+)?\s*(?:cm|mm|m|in|ft|inches|feet|\"|')?", re.IGNORECASE
)
_ROW_FIELDS = ANALYTE_FIELDS | {"unit", "basis", "mdl", "rl", "limit", "limit_unit", "dilution"}
_LABEL_FIELDS = SAMPLE_FIELDS | {"unit", "basis", "method", "dilution"}
_MEASURED = {"moisture", "solids", "carbon", "water_content"}


def only_flags(grid: Grid, rows: npt.NDArray[np.int64], column: int) -> bool:
    """Whether every cell that is filled holds known flags and nothing else, at least one of them."""
    texts = {text for row in rows[:2000] if (text := grid.cell(int(row), column).strip())}
    return bool(texts) and all(
        len(text) < 12 and all(flag_effects(flag) is not None for flag in split_flags(text)) for text in texts
    )


def looks_like_cas(text: str) -> bool:
    """Whether the text is built like a CAS registry number."""
    return _CAS.match(text) is not None


def build_down(
    grid: Grid, evidence: Evidence, top: int, begin: int, end: int, anchor: int, left: int, stop: int
) -> Table | None:
    """The table whose first substance stands at row ``begin`` of column ``anchor``.

    Its header is looked for from row ``top`` on, its body ends before row ``end``, its columns lie from ``left`` to
    before ``stop``.
    """
    rows = np.arange(top, end)
    seen = evidence.matrices(rows, range(len(grid.columns)))
    field = np.array(FIELD_NAMES, dtype=object)[seen["field"]]
    inside = slice(anchor + 1, stop)
    first = begin - top
    known = seen["substance"][:, anchor]
    has_number = seen["number"][:, inside].any(axis=1)
    has_cell = seen["filled"][:, inside].any(axis=1)
    label = field[:, anchor]
    meta = np.isin(label, [*(_LABEL_FIELDS | {"analyte", "other", "note", "page"})]) & ~known
    body = np.zeros(len(rows), dtype=bool)
    body[first:] = (seen["filled"][:, anchor] & ~meta & (has_number | (known & has_cell)))[first:]
    body_rows = np.flatnonzero(body)
    if not len(body_rows):
        return None
    final = int(body_rows[-1])
    last_known = np.flatnonzero(body & known)
    table = Table(
        layout="analytes-down",
        left=left,
        right=stop - 1,
        headers=(),
        body=rows[body_rows],
        bands=_bands(seen["filled"], anchor, inside, first, body_rows, rows, label),
        values=[],
        anchor=anchor,
    )
    heads = [place for place in range(final + 1) if not body[place]]
    labels = _labels(grid, table, heads, rows, field, anchor, left, first)
    _row_fields(grid, table, heads, rows, field, labels, anchor, left, stop, body_rows)
    names = _names_row(grid, seen, table, heads, rows, field, labels, anchor, stop, first, body_rows)
    _columns(grid, seen, table, rows, field, names, heads, labels, stop, body_rows)
    if not table.values:
        return None
    used = {value.column for value in table.values} | set(table.row_fields.values()) | set(table.dropped)
    used |= {column for value in table.values for column in value.beside.values()}
    table.left, table.right = min(anchor, *used), max(anchor, *used)
    known_count = len(last_known)
    table.why.insert(
        0,
        f"column {column_letter(anchor)} names {known_count} known substances of {len(body_rows)} rows, "
        "with results beside them",
    )
    if names is not None:
        table.why.append(f"row {int(rows[names]) + 1} names the samples")
    return table


def _bands(
    filled: npt.NDArray[np.bool_],
    anchor: int,
    inside: slice,
    first: int,
    body_rows: npt.NDArray[np.int64],
    rows: npt.NDArray[np.int64],
    label: npt.NDArray[np.object_],
) -> npt.NDArray[np.int64]:
    alone = (filled.sum(axis=1) == 1) & filled[:, : anchor + 1].any(axis=1) & (label == "")
    alone[body_rows] = False
    alone[: max(first - 1, 0)] = False
    above = np.where(alone, rows, -1)
    return np.maximum.accumulate(above)[body_rows] if len(above) else above


def _labels(
    grid: Grid,
    table: Table,
    heads: list[int],
    rows: npt.NDArray[np.int64],
    field: npt.NDArray[np.object_],
    anchor: int,
    left: int,
    first: int,
) -> dict[int, str]:
    """Header row -> the field that its label names. A row of several field names is a row of column headers."""
    found: dict[int, str] = {}
    for place in heads:
        here = [(column, field[place, column]) for column in range(left, anchor + 1) if field[place, column]]
        if not here:
            continue
        beside = [field[place, column] for column in range(anchor + 1, field.shape[1]) if field[place, column]]
        if field[place, anchor] == "analyte" or (len(here) > 1 and {"cas", "unit"} & {name for _, name in here}):
            found[place] = "analyte"
        elif here[-1][1] in _LABEL_FIELDS and len(beside) <= 2:
            found[place] = here[-1][1]
    for place, name in found.items():
        if name in _LABEL_FIELDS and name not in table.column_fields:
            table.column_fields[name] = int(rows[place])
            rest = name_header(grid.cell(int(rows[place]), anchor)).rest
            if rest:
                table.rests[name] = Place(rest, int(rows[place]), anchor)
    table.headers = tuple(int(rows[place]) for place in found)
    return found


def _row_fields(
    grid: Grid,
    table: Table,
    heads: list[int],
    rows: npt.NDArray[np.int64],
    field: npt.NDArray[np.object_],
    labels: dict[int, str],
    anchor: int,
    left: int,
    stop: int,
    body_rows: npt.NDArray[np.int64],
) -> None:
    table.row_fields["analyte"] = anchor
    headed = [place for place in heads if labels.get(place) == "analyte" or place not in labels]
    for place in headed:
        for column in range(left, stop):
            name = field[place, column]
            if column == anchor:
                rest = name_header(grid.cell(int(rows[place]), column)).rest if name == "analyte" else ""
                if rest:
                    table.rests["analyte"] = Place(rest, int(rows[place]), column)
            if column == anchor or not name:
                continue
            if name == "analyte":
                table.spare[column] = name
            if name not in _ROW_FIELDS:
                continue
            same = [one for one in range(left, stop) if field[place, one] == name]
            if len(same) == 1 and name not in table.row_fields and name != "analyte":
                table.row_fields[name] = column
                rest = name_header(grid.cell(int(rows[place]), column)).rest
                if rest:
                    table.rests[name] = Place(rest, int(rows[place]), column)
    taken = set(table.row_fields.values())
    for column in range(left, stop):
        if column in taken:
            continue
        texts = [text for text in (grid.cell(int(row), column) for row in rows[body_rows[:200]]) if text]
        if not texts:
            continue
        if "cas" not in table.row_fields and sum(map(looks_like_cas, texts)) * 2 > len(texts):
            table.row_fields["cas"] = column
        elif "unit" not in table.row_fields and sum(map(reads_as_unit, texts)) * 2 > len(texts):
            table.row_fields["unit"] = column


def _names_row(
    grid: Grid,
    seen: dict[str, npt.NDArray[Any]],
    table: Table,
    heads: list[int],
    rows: npt.NDArray[np.int64],
    field: npt.NDArray[np.object_],
    labels: dict[int, str],
    anchor: int,
    stop: int,
    first: int,
    body_rows: npt.NDArray[np.int64],
) -> int | None:
    """The header row that names the samples: by its label, as the column headers, or right above the body."""
    taken = set(table.row_fields.values())
    columns = [
        column for column in range(anchor + 1, stop) if column not in taken and seen["number"][body_rows, column].any()
    ]
    if not columns:
        return None

    depths = _depth_row(grid, rows, [place for place in heads if place < first], labels, columns)
    if depths is not None and "depth" not in table.column_fields:
        table.column_fields["depth"] = int(rows[depths])
        table.headers = (*table.headers, int(rows[depths]))
        table.why.append(f"row {int(rows[depths]) + 1} gives the depths")

    def named(place: int) -> int:
        texts = [grid.cell(int(rows[place]), column) for column in columns]
        return sum(
            1
            for text, column in zip(texts, columns, strict=True)
            if text and not field[place, column] and not reads_as_unit(text)
        )

    whole = _whole_row(grid, rows, [place for place in heads if place < first], field, columns)
    for wanted in ("sample", "analyte", "lab_sample", "station", "core"):
        for place, name in labels.items():
            if wanted == "analyte" and whole is not None and 0 < named(place) < len(columns):
                continue
            if name == wanted and named(place):
                if wanted == "analyte":
                    table.column_fields["sample"] = int(rows[place])
                elif wanted != "sample":
                    table.column_fields.setdefault("sample", int(rows[place]))
                return place
    if whole is not None and labels.get(whole) != "analyte":
        table.column_fields["sample"] = int(rows[whole])
        table.headers = (*table.headers, int(rows[whole]))
        return whole
    for place in sorted((place for place in heads if place < first and place not in labels), reverse=True):
        here = named(place)
        if place == depths:
            continue
        if here and (here * 2 >= len(columns) or _merged_over(grid, int(rows[place]), columns)):
            if (
                seen["filled"][place].sum() == 1
                and len(columns) > 1
                and not _merged_over(grid, int(rows[place]), columns)
            ):
                continue
            table.column_fields["sample"] = int(rows[place])
            table.headers = (*table.headers, int(rows[place]))
            return place
    return None


def _whole_row(
    grid: Grid,
    rows: npt.NDArray[np.int64],
    heads: list[int],
    field: npt.NDArray[np.object_],
    columns: list[int],
) -> int | None:
    """The lowest header row that has a name of its own above every column of results, where there are several."""
    for place in reversed(heads):
        texts = [grid.cell(int(rows[place]), column).strip() for column in columns]
        distinct = len(set(texts)) == len(texts) > 1 and all(texts)
        if distinct and not any(field[place, column] for column in columns):
            plain = [text for text in texts if reads_as_unit(text) or like_result(text) or _INTERVAL.fullmatch(text)]
            if not plain and not any(not_a_sample(text) for text in texts):
                return place
    return None


def _depth_row(
    grid: Grid, rows: npt.NDArray[np.int64], heads: list[int], labels: dict[int, str], columns: list[int]
) -> int | None:
    """A header row without a label that holds nothing but intervals of depth."""
    for place in heads:
        texts = [text for column in columns if (text := grid.cell(int(rows[place]), column).strip())]
        if place not in labels and len(texts) > 1 and all(_INTERVAL.fullmatch(text) for text in texts):
            return place
    return None


def _merged_over(grid: Grid, row: int, columns: list[int]) -> bool:
    return any(top <= row <= bottom and left >= columns[0] and right > left for top, left, bottom, right in grid.merged)


def _columns(
    grid: Grid,
    seen: dict[str, npt.NDArray[Any]],
    table: Table,
    rows: npt.NDArray[np.int64],
    field: npt.NDArray[np.object_],
    names: int | None,
    heads: list[int],
    labels: dict[int, str],
    stop: int,
    body_rows: npt.NDArray[np.int64],
) -> None:
    """The columns of results, those that stand beside one, and those that are no samples."""
    taken = set(table.row_fields.values())
    columns = range(table.anchor + 1, stop)
    head = int(rows[names]) if names is not None else None
    said = [
        place
        for place in heads
        if labels.get(place) in ("analyte", "unit")
        or (place not in labels and _speaks(grid, int(rows[place]), field[place, columns.start : stop], columns, head))
    ]
    current: ValueColumn | None = None
    dropped = ""
    for column in columns:
        if column in taken:
            continue
        name = grid.cell(int(rows[names]), column) if names is not None else ""
        roles, words = [], []
        for place in said:
            text = grid.cell(int(rows[place]), column)
            if not text or (labels.get(place) == "unit" and reads_as_unit(text)):
                continue
            if field[place, column]:
                roles.append(str(field[place, column]))
            elif kind := not_a_sample(text):
                words.append(kind)
        role = next((one for one in roles if one in COMPANIONS), "value" if "value" in roles else "")
        filled = bool(seen["filled"][body_rows, column].any())
        numbers = bool(seen["number"][body_rows, column].any())
        if words:
            dropped = table.dropped[column] = words[0]
            current = None
        elif role in COMPANIONS:
            if current is not None and role not in current.beside:
                current.beside[role] = column
            elif current is not None and role == "qualifier" and "qualifier_other" not in current.beside:
                current.beside["qualifier_other"] = column
            elif current is not None:
                table.spare[column] = role
            elif filled:
                table.dropped[column] = dropped or "unnamed-column"
        elif roles and role != "value":
            if filled:
                table.dropped[column] = "other-column"
        elif name and (beside := _end_of(name, current)):
            assert current is not None
            current.beside.setdefault(beside, column)
        elif (name or role == "value") and filled:
            if not numbers and not _all_results(grid, rows[body_rows], column):
                if (
                    current is not None
                    and "qualifier" not in current.beside
                    and only_flags(grid, rows[body_rows], column)
                ):
                    current.beside["qualifier"] = column
                    continue
                table.dropped[column] = "text-column"
                continue
            named = column if name or current is None else current.named
            current, dropped = ValueColumn(column, named, name=name), ""
            table.values.append(current)
        elif filled and not numbers and current is not None and "qualifier" not in current.beside:
            current.beside["qualifier"] = column
            if "qualifier" not in " ".join(table.why):
                table.why.append(f"column {column_letter(column)} has no header and holds only flags: qualifiers")
        elif numbers and current is not None and _own_depth(grid, table, column):
            current = ValueColumn(column, current.named, name=current.name)
            table.values.append(current)
        elif filled and not name and current is None and names is None and not dropped:
            current = ValueColumn(column, column)
            table.values.append(current)
        elif filled:
            table.dropped[column] = dropped or "unnamed-column"


def _speaks(grid: Grid, row: int, fields: npt.NDArray[np.object_], columns: range, names: int | None) -> bool:
    """Whether a row says what stands in its columns; one odd word of a title, such as ``x``, does not."""
    if row == names or len(columns) <= 2 or sum(1 for one in fields if one) > 1:
        return True
    return any(not_a_sample(grid.cell(row, column)) for column in columns)


def _own_depth(grid: Grid, table: Table, column: int) -> bool:
    """Whether the row of depths tells this column apart, though the sample's name stands over several columns."""
    row = table.column_fields.get("depth")
    return row is not None and bool(grid.cell(row, column))


def _end_of(name: str, current: ValueColumn | None) -> str:
    """The role of a column such as ``QE-1 Q`` beside ``QE-1`` or ``QE-1 Result``, or an empty text."""
    if current is None:
        return ""
    for end in split_end(name):
        if end.role != "value" and stems(current.name) & stems(end.stem):
            return end.role
    return ""


def _all_results(grid: Grid, rows: npt.NDArray[np.int64], column: int) -> bool:
    return all(like_result(grid.cell(int(row), column)) for row in rows[:500])
