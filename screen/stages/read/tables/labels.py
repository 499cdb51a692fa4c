"""Labels and titles around a table: ``Sample ID: QE-1``, ``Units: mg/kg``, ``Table 1, dry weight``.

In: a grid and a table found in it. Out: the labels by field, and the notes of a sheet as lines of text.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import cache

import numpy as np
import numpy.typing as npt

from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.evidence import FIELD_NAMES, Evidence
from screen.stages.read.tables.layouts import Place, Table
from screen.stages.read.words.fields import COMPANIONS, SAMPLE_FIELDS, field_of

__all__ = ["beside_labels", "lines", "read_labels"]

_LABELLED = (
    SAMPLE_FIELDS | COMPANIONS | {"method", "moisture", "solids", "fraction", "dilution", "analyte_class", "other"}
)
_MOST = 400
#: What parts the statements of one cell: a line's end, wide space, an upright; a comma only before another label.
_PARTS = re.compile(r"\s*(?:[\n\t|]|\s{2,})\s*|\s*[;,]\s+(?=[^\W\d_][^:;,]{0,30}:\s)")


def read_labels(grid: Grid, evidence: Evidence, table: Table, above: int) -> dict[str, Place]:
    """Field -> the text that a label gives it, from the rows between ``above`` and the table's header.

    A label stands in front of a colon in the same cell, or in a cell with the text to its right. The lowest one counts,
    and of labels side by side the one nearest to the table's columns.
    """
    found: dict[str, Place] = {}
    rows = list(range(above, table.top))[-_MOST:]
    for row in rows:
        cells = [(column, grid.cell(row, column)) for column in _filled(grid, row)]
        at = 0
        while at < len(cells):
            column, text = cells[at]
            own = [(field, after) for _, field, after in statements(text) if field in _LABELLED]
            for field, after in own:
                _keep(found, field, Place(after, row, column), table)
            if own:
                at += 1
                continue
            code = evidence.field[column][grid.columns[column].codes[row]]
            field = FIELD_NAMES[code] if code else field_of(text.rstrip(": "))
            if field in _LABELLED and at + 1 < len(cells):
                beside, value = cells[at + 1]
                ends = text.rstrip().endswith(":") or (len(cells) <= 4 and beside - column <= 3)
                other = FIELD_NAMES[evidence.field[beside][grid.columns[beside].codes[row]]]
                if ends and not other:
                    _keep(found, field, Place(value, row, beside), table)
                    at += 2
                    continue
            at += 1
    found.pop("other", None)
    return found


@cache
def statements(text: str) -> tuple[tuple[str, str, str], ...]:
    """What a cell states, one after the other: each with the field and the text of its label, if it has one."""
    parts: list[str] = []
    for part in filter(None, _PARTS.split(text.strip())):
        if parts and parts[-1].endswith(":"):
            parts[-1] = f"{parts[-1]} {part}"
        else:
            parts.append(part)
    found = []
    for part in parts:
        before, colon, after = part.partition(":")
        field = field_of(before) if colon and after.strip() else ""
        found.append((part, field, after.strip()))
    return tuple(found)


def beside_labels(place: Place, labels: Collection[str]) -> list[Place]:
    """What a cell says beside its ``labels``: the whole of it where it has none, nothing where it is one."""
    if not labels:
        return [place]
    rest = [part for part, _, after in statements(place.text) if part not in labels and after not in labels]
    return [Place(part, place.row, place.column) for part in rest]


def _filled(grid: Grid, row: int) -> list[int]:
    return [position for position, column in enumerate(grid.columns) if column.codes[row]]


def _keep(found: dict[str, Place], field: str, place: Place, table: Table) -> None:
    before = found.get(field)
    if before is not None and before.row == place.row:
        outside = [max(table.left - one.column, one.column - table.right, 0) for one in (before, place)]
        if outside[0] <= outside[1] and not (outside[0] == outside[1] == 0 and place.column <= table.right):
            return
    if max(table.left - place.column, 0) > 0 or place.column > table.right + 3:
        beside = [one for one in found if found[one].row == place.row]
        if beside:
            return
    found[field] = place


def lines(grid: Grid, outside: npt.NDArray[np.bool_] | None = None) -> list[Place]:
    """The texts of a sheet in rows outside its tables: titles, notes, legends. ``outside`` marks the rows."""
    found: list[Place] = []
    for column, one in enumerate(grid.columns):
        rows = np.flatnonzero(one.codes if outside is None else (one.codes != 0) & outside)
        found.extend(Place(str(one.texts[one.codes[row]]), int(row), column) for row in rows[:2000])
    found.sort(key=lambda place: (place.row, place.column))
    return found
