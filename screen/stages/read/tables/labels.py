"""Labels and titles around a table: ``Sample ID: QE-1``, ``Units: mg/kg``, ``Table 1, dry weight``.

In: a grid and a table found in it. Out: the labels by field, and the notes of a sheet as lines of text.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.evidence import FIELD_NAMES, Evidence
from screen.stages.read.tables.layouts import Place, Table
from screen.stages.read.words.fields import COMPANIONS, SAMPLE_FIELDS, field_of

__all__ = ["lines", "read_labels"]

_LABELLED = (
    SAMPLE_FIELDS | COMPANIONS | {"method", "moisture", "solids", "fraction", "dilution", "analyte_class", "other"}
)
_MOST = 400


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
            before, colon, after = text.partition(":")
            field = field_of(before) if colon and after.strip() else ""
            if field in _LABELLED:
                _keep(found, field, Place(after.strip(), row, column), table)
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
