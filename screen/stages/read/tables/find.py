"""Finding the tables of a sheet. In: a coded grid. Out: tables, each with its header, body, fields, and the reasons.

Evidence is counted over the coded cells: words that name a field, names of substances, cells that look like results. A
*long* table has a row of field names with an analyte and a result; *analytes down* has a column of substances with
results to the right; *samples down* has a row of substances with results below. Whatever the layout, a table says from
where each field of a value comes: its row, its column's header, the columns beside it, or the labels above.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from screen.letters import column_letter
from screen.reference.units import read_unit
from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.evidence import Evidence, Knows
from screen.stages.read.tables.labels import read_labels
from screen.stages.read.tables.layouts import Place, Table, ValueColumn, without_tail
from screen.stages.read.tables.limit_rows import take_limit_rows
from screen.stages.read.tables.wide import find_wide
from screen.stages.read.words.fields import COMPANIONS, SAMPLE_FIELDS, field_of, name_header, second_field
from screen.stages.read.words.meanings import BASES, basis_code

__all__ = ["find_tables"]

Rows = npt.NDArray[np.int64]
_ATTRIBUTES = ("moisture", "solids", "carbon", "water_content")
#: So many rows below a header tell what its columns hold.
_LOOKED_AT = 500


def find_tables(grid: Grid, knows: Knows) -> list[Table]:
    """The tables of a sheet, in order of their first row and column. ``knows`` tells names of substances."""
    if not grid.rows or not grid.columns:
        return []
    evidence = Evidence(grid, knows)
    tables = _find_long(grid, evidence)
    if not tables:
        tables = _find_titled(grid, evidence, knows)
    taken = [(table.top, table.bottom) for table in tables]
    for first, last in _free(taken, grid.rows):
        tables.extend(find_wide(grid, evidence, first, last))
    tables.sort(key=lambda table: (table.top, table.left))
    for position, table in enumerate(tables):
        above = max((one.bottom + 1 for one in tables[:position] if one.bottom < table.top), default=0)
        table.labels |= read_labels(grid, evidence, table, above)
        _attributes_above(grid, table, tables[:position])
        _block_sample(grid, table, above)
        below = [one.top for one in tables if one.top > table.bottom]
        take_limit_rows(grid, evidence, table, min(below, default=grid.rows))
    return tables


def _free(taken: list[tuple[int, int]], rows: int) -> list[tuple[int, int]]:
    free, start = [], 0
    for top, bottom in sorted(taken):
        if top > start:
            free.append((start, top - 1))
        start = max(start, bottom + 1)
    if start < rows:
        free.append((start, rows - 1))
    return free


# --- long tables ------------------------------------------------------------------------------------------------------


def _find_long(grid: Grid, evidence: Evidence) -> list[Table]:
    heads: list[tuple[int, list[tuple[int, str]]]] = []
    for row in evidence.rows_with(["value", "value_text"]):
        fields = _with_analytes(grid, evidence, int(row), evidence.fields_in_row(int(row)))
        heads.extend((int(row), part) for part in _parts(grid, int(row), fields))
    repeats: dict[tuple[object, ...], int] = {}
    tables: list[Table] = []
    for position, (row, part) in enumerate(heads):
        left, right = _reach(grid, row, part, [other for at, other in heads if at == row])
        later = [at for at, other in heads[position + 1 :] if at > row and _overlap(other, left, right)]
        end = min(later) if later else grid.rows
        key = (left, right, tuple(grid.cell(row, column) for column in range(left, right + 1)))
        if key in repeats and _continues(tables[repeats[key]], grid, row):
            table = tables[repeats[key]]
            body, bands = _long_body(grid, evidence, table, row + 1, end)
            table.headers = (*table.headers, row)
            table.body = np.concatenate([table.body, body])
            table.bands = np.concatenate([table.bands, bands])
            table.why.append(f"row {row + 1} repeats the header")
            continue
        table = _long_table(grid, evidence, row, part, left, right)
        table.body, table.bands = _long_body(grid, evidence, table, row + 1, end)
        if len(table.body):
            repeats[key] = len(tables)
            tables.append(table)
    return tables


def _with_analytes(grid: Grid, evidence: Evidence, row: int, found: list[tuple[int, str]]) -> list[tuple[int, str]]:
    """The header cells of a row of samples and results, and one with a word of its own above a column of substances."""
    names = [name for _, name in found]
    if {"analyte", "cas"} & set(names) or names.count("value") != 1 or not {"sample", "lab_sample"} & set(names):
        return found
    fields = dict(found)
    for column in range(len(grid.columns)):
        codes = grid.columns[column].codes[row + 1 : row + 1 + _LOOKED_AT]
        known = evidence.substance[column][codes]
        if column not in fields and grid.cell(row, column) and known.sum() * 2 > (codes != 0).sum():
            return sorted([*found, (column, "analyte")])
    return found


def _find_titled(grid: Grid, evidence: Evidence, knows: Knows) -> list[Table]:
    """Tables of one substance that only a title or the sheet names: ``TOC`` above samples and results."""
    tables: list[Table] = []
    for row in evidence.rows_with(["value"]):
        part = evidence.fields_in_row(int(row))
        names = [name for _, name in part]
        sampled = {"sample", "lab_sample", "station"} & set(names)
        if not sampled or names.count("value") != 1 or {"analyte", "cas"} & set(names):
            continue
        place = _title(grid, int(row), knows)
        if place is None or (tables and tables[-1].bottom >= row):
            continue
        left, right = _reach(grid, int(row), part, [part])
        table = _long_table(grid, evidence, int(row), part, left, right)
        table.labels["analyte"] = place
        codes = grid.columns[table.values[0].column].codes[row + 1 :]
        key = table.row_fields[next(name for name in ("sample", "lab_sample", "station") if name in sampled)]
        keyed = grid.columns[key].codes[row + 1 :] != 0
        whole = (codes != 0) & keyed
        stop = int(np.flatnonzero(~whole)[0]) if not whole.all() else len(whole)
        table.body = np.arange(row + 1, row + 1 + stop)
        table.bands = np.full(stop, -1, dtype=np.int64)
        if stop:
            where = "the sheet's name" if place.row < 0 else f"cell {column_letter(place.column)}{place.row + 1}"
            table.why.append(f"{where} names the one substance")
            tables.append(table)
    return tables


def _title(grid: Grid, row: int, knows: Knows) -> Place | None:
    """The nearest text above a header row, or the sheet's name, that names a substance."""
    for above in range(row - 1, max(row - 8, -1), -1):
        filled = [column for column in range(len(grid.columns)) if grid.cell(above, column)]
        text = grid.cell(above, filled[0]).strip() if len(filled) == 1 else ""
        if text and knows([text])[0]:
            return Place(text, above, filled[0])
    name = grid.sheet.strip()
    return Place(name, -1, 0) if len(name) > 1 and knows([name])[0] else None


def _continues(table: Table, grid: Grid, row: int) -> bool:
    """A repeated header is a page break where the table names its samples itself, and a new block where it does not."""
    return "sample" in table.row_fields or "station" in table.row_fields


def _parts(grid: Grid, row: int, found: list[tuple[int, str]]) -> list[list[tuple[int, str]]]:
    """The header cells of one row, cut into tables that stand side by side; what is no long header is left out."""
    if not any(name in ("analyte", "cas") for _, name in found):
        return []
    names = [name for _, name in found]
    key = "analyte" if "analyte" in names else "cas"
    if names.count("value") > 1 and names.count(key) > 1:
        first = names[0]
        cuts = [place for place, name in enumerate(names) if name == first]
        if len(cuts) == names.count("value"):
            parts = [found[start:stop] for start, stop in zip(cuts, [*cuts[1:], len(found)], strict=True)]
            return [part for part in parts if {"value", key} <= {name for _, name in part}]
    if names.count("value") > names.count(key):
        said = {name_header(grid.cell(row, column)).rest for column, name in found if name == "value"}
        if names.count(key) > 1 or len(said) < names.count("value") or not {"sample", "lab_sample"} & set(names):
            return []  # results of several samples side by side: wide tables
    return [found]


def _reach(grid: Grid, row: int, part: list[tuple[int, str]], parts: list[list[tuple[int, str]]]) -> tuple[int, int]:
    starts = sorted(other[0][0] for other in parts)
    mine = part[0][0]
    after = [start for start in starts if start > mine]
    left, right = mine, part[-1][0]
    while left > 0 and grid.cell(row, left - 1) and not any(other[-1][0] == left - 1 for other in parts):
        left -= 1
    limit = after[0] if after else len(grid.columns)
    while right + 1 < limit and (
        grid.cell(row, right + 1) or (not after and right + 2 < limit and grid.cell(row, right + 2))
    ):
        right += 1
    return left, right


def _overlap(part: list[tuple[int, str]], left: int, right: int) -> bool:
    return part[0][0] <= right and part[-1][0] >= left


def _long_table(grid: Grid, evidence: Evidence, row: int, part: list[tuple[int, str]], left: int, right: int) -> Table:
    chosen: dict[str, int] = {}
    rests: dict[str, Place] = {}
    spare: dict[int, str] = {}
    heads: dict[int, str] = {}
    for column, name in part:
        head = name_header(grid.cell(row, column))
        heads[column] = name
        if name in chosen:
            before = name_header(grid.cell(row, chosen[name]))
            if name == "qualifier" or (_drier(before.rest), before.rank) <= (_drier(head.rest), head.rank):
                spare[column] = name
                continue
            spare[chosen[name]] = name
        chosen[name] = column
        rests.pop(name, None)
        if head.rest:
            rests[name] = Place(head.rest, row, column)
    for column in list(spare):
        second = second_field(grid.cell(row, column))
        if second and second not in chosen:
            chosen[second] = column
            del spare[column]
    _better_analytes(grid, evidence, row, chosen, spare)
    if "value" not in chosen:
        chosen["value"] = chosen.pop("value_text")
    value = chosen.pop("value")
    anchor = chosen.get("analyte", chosen.get("cas", left))
    for name in ("other", "note", "page"):
        chosen.pop(name, None)
    words = ", ".join(f"{column_letter(column)} {name}" for column, name in part if name != "other")
    return Table(
        layout="long",
        left=left,
        right=right,
        headers=(row,),
        body=np.zeros(0, dtype=np.int64),
        bands=np.zeros(0, dtype=np.int64),
        values=[ValueColumn(value, value)],
        row_fields=chosen,
        rests=rests,
        spare=spare,
        why=[f"row {row + 1} names the fields: {words}"],
        anchor=anchor,
    )


def _drier(rest: str) -> int:
    """Of two columns of results the one that says dry weight goes first, the one that says wet weight last."""
    return {"dry": 0, "wet": 2}.get(BASES[basis_code(rest)] or read_unit(rest).basis, 1)


def _better_analytes(grid: Grid, evidence: Evidence, row: int, chosen: dict[str, int], spare: dict[int, str]) -> None:
    """Of several columns for what was measured take the one with the most known substances below its header."""
    columns = [column for column, name in spare.items() if name == "analyte"]
    if "analyte" not in chosen or not columns:
        return

    def known(column: int) -> int:
        codes = grid.columns[column].codes[row + 1 : row + 1 + _LOOKED_AT]
        return int(evidence.substance[column][codes].sum())

    best = max([chosen["analyte"], *columns], key=known)
    if known(best) > known(chosen["analyte"]):
        spare[chosen["analyte"]] = "other"
        del spare[best]
        chosen["analyte"] = best


def _long_body(grid: Grid, evidence: Evidence, table: Table, start: int, end: int) -> tuple[Rows, Rows]:
    """Rows of results and, for each, its band row: a lone text stands above what follows."""
    span = slice(start, end)
    filled = np.zeros(max(end - start, 0), dtype=np.int16)
    for column in range(table.left, table.right + 1):
        filled += grid.columns[column].codes[span] != 0
    value_column = table.values[0].column
    value = grid.columns[value_column].codes[span]
    has_value = value != 0
    like = evidence.number[value_column][value]
    named = np.zeros(len(filled), dtype=bool)
    known = np.zeros(len(filled), dtype=bool)
    for name in ("analyte", "cas"):
        if name in table.row_fields:
            column = table.row_fields[name]
            codes = grid.columns[column].codes[span]
            named |= codes != 0
            known |= evidence.substance[column][codes] if len(evidence.substance[column]) else False
    keyed = named.copy()
    for name in ("sample", "lab_sample", "station"):
        if name in table.row_fields:
            keyed |= grid.columns[table.row_fields[name]].codes[span] != 0
    wide_enough = 3 if len(table.row_fields) >= 3 else 2
    body = (has_value & keyed & (filled >= 2)) | (named & (filled >= wide_enough))
    odd = ~like & ~known & (filled <= max(2, (len(table.row_fields) + 1) // 2))
    if "analyte" in table.row_fields:
        column = table.row_fields["analyte"]
        labels = np.isin(evidence.field[column], evidence.codes_of(SAMPLE_FIELDS | COMPANIONS | {"analyte"}))
        odd |= labels[grid.columns[column].codes[span]] & ~known
    body = without_tail(body & ~odd, like | known)
    if "sample" not in table.row_fields and "analyte" in table.row_fields:
        body[_next_block(grid, evidence, table, start, end) - start :] = False
    lone = (filled == 1) & ~body
    rows = np.arange(start, start + len(filled))
    above = np.where(lone, rows, -1)
    bands = np.maximum.accumulate(above) if len(above) else above
    picked = np.flatnonzero(body)
    return rows[picked], bands[picked]


def _next_block(grid: Grid, evidence: Evidence, table: Table, start: int, end: int) -> int:
    """The row where the labels of the next block begin (``Sample ID:``), in a table that names no samples itself."""
    column = table.row_fields["analyte"]
    labels = np.isin(evidence.field[column], evidence.codes_of(("sample", "lab_sample", "station")))
    labels &= ~evidence.substance[column]
    rows = np.flatnonzero(labels[grid.columns[column].codes[start:end]])
    return int(rows[0]) + start if len(rows) else end


def _attributes_above(grid: Grid, table: Table, before: list[Table]) -> None:
    """A long table without samples takes those of the lines above it that give one sample's id and its moisture."""
    if table.layout != "long" or {"sample", "lab_sample", "station"} & {*table.row_fields, *table.labels}:
        return
    above = [one for one in before if one.bottom < table.top]
    lines = max(above, key=lambda one: one.bottom, default=None)
    if lines is None or lines.layout != "analytes-down" or len(lines.values) != 1:
        return
    if all(field_of(grid.cell(int(row), lines.anchor).rstrip(": ")) in _ATTRIBUTES for row in lines.body):
        column = lines.values[0].column
        for name in SAMPLE_FIELDS & lines.column_fields.keys():
            row = lines.column_fields[name]
            if grid.cell(row, column):
                table.labels.setdefault(name, Place(grid.cell(row, column), row, column))


def _block_sample(grid: Grid, table: Table, above: int) -> None:
    """A long table without samples takes the name that stands right above its results, where there is one."""
    if (
        table.layout != "long"
        or "sample" in table.row_fields
        or "sample" in table.labels
        or "station" in table.row_fields
    ):
        return
    column = table.values[0].column
    for row in range(table.headers[0] - 1, max(above, table.headers[0] - 4) - 1, -1):
        text = grid.cell(row, column)
        if (
            text
            and column > table.left
            and not field_of(text)
            and name_header(text).field not in (SAMPLE_FIELDS | COMPANIONS)
        ):
            table.labels["sample"] = Place(text, row, column)
            return
