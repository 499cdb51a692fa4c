"""What was understood of a batch, for the page. In: sheets and settings, as ``siltmark read`` takes them.

Out: its summary as ``siltmark read --json`` gives it, with the very cells around each table, question and message, and
the samples with their places and waters.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screen.letters import column_letter, column_number
from screen.settings import Settings

if TYPE_CHECKING:
    from screen.model import Batch, Problem
    from screen.stages.read.cells.grid import Grid

__all__ = ["understand"]

_BODY_ROWS = 6
_AROUND = 2
_WIDEST = 12
_LONGEST = 60
#: Messages shown with their cells, and samples listed, at most.
_MOST_MESSAGES = 200
_MOST_SAMPLES = 500
_SAMPLE_COLUMNS = ("sample", "lab_sample", "station", "core", "depth_top_cm", "depth_bottom_cm", "water", "river_km")


def understand(paths: Sequence[Path], settings: Settings, progress: Any = None) -> dict[str, Any]:
    """The summary of the sheets under ``paths``, with cells; see the module's head for what is added to it.

    The water that the settings tell is left out, so that what the field record says of it can be seen.
    """
    from screen.cli.common import SEVERITIES, gravest_first
    from screen.stages.read.batch import read
    from screen.stages.read.summary import FIELD_WORDS, LAYOUTS, summarise

    settings = dataclasses.replace(settings, water=None)
    batch = read(paths, settings, progress=progress)
    summary = summarise(batch)
    grids = _grids(paths, settings)
    for table in summary["tables"]:
        table["words"] = LAYOUTS[str(table["layout"])]
        table["fields"] = [[FIELD_WORDS.get(name, name.replace("_", " ")), at] for name, at in table["fields"].items()]
        table["cells"] = _table_cells(grids.get((table["file"], table["sheet"])), table)
    for question in summary["questions"]:
        question["cells"] = _around(
            grids, summary, question["file"], question["sheet"], _asked(question, batch.problems)
        )
    return {
        **summary,
        "messages": [
            {
                "word": SEVERITIES[one.severity],
                "text": one.text,
                "code": one.code,
                "cells": _around(grids, summary, one.file, one.sheet, _place(one)),
            }
            for one in gravest_first(batch.problems)[:_MOST_MESSAGES]
        ],
        "more_messages": max(len(batch.problems) - _MOST_MESSAGES, 0),
        "nothing_read": bool(batch.results.empty),
        "samples_placed": _samples(batch),
        "stations": [str(one) for one in batch.samples["station"].dropna().drop_duplicates()],
        "waters": _waters(batch),
    }


def _samples(batch: Batch) -> list[dict[str, Any]]:
    frame = batch.samples.head(_MOST_SAMPLES)
    frame = frame[[name for name in _SAMPLE_COLUMNS if name in frame.columns]].astype(object)
    return [
        {str(name): None if value != value or value is None else value for name, value in row.items()}
        for row in frame.to_dict("records")
    ]


def _waters(batch: Batch) -> dict[str, int]:
    """How many samples there are of each water; "" is one that the field record does not say."""
    counts = batch.samples["water"].astype(object).fillna("").value_counts(sort=False)
    return {str(name): int(number) for name, number in counts.items()}


def _grids(paths: Sequence[Path], settings: Settings) -> dict[tuple[str, str], Grid]:
    from screen.stages.read.cells.files import find_sheets, read_grids

    sources, _ = find_sheets([*paths, *settings.field])
    return {(grid.file, grid.sheet): grid for source in sources for grid in read_grids(source, settings)[0]}


def _cell(address: str) -> tuple[int, int] | None:
    """Row and column from 0 of an address such as C8; None for no cell."""
    found = re.fullmatch(r"([A-Z]+)([0-9]+)", address or "")
    return (int(found[2]) - 1, column_number(found[1])) if found else None


def _place(problem: Problem) -> tuple[int, int] | None:
    """The cell of a message, with -1 for a column that it does not name."""
    if problem.row is None:
        return None
    return _cell(f"{problem.column}{problem.row}") or (problem.row - 1, -1)


def _asked(question: Mapping[str, Any], problems: Sequence[Problem]) -> tuple[int, int] | None:
    """The cell of a question; where it names none, that of the message which says the same."""
    if question["cell"]:
        return _cell(question["cell"])
    same = (one for one in problems if (one.code, one.file) == (question["code"], question["file"]))
    return next((place for one in same if (place := _place(one))), None)


def _table_cells(grid: Grid | None, table: Mapping[str, Any]) -> dict[str, Any] | None:
    """The head of a table and its first rows, with what each column was taken for."""
    ends = [_cell(end) for end in str(table["range"]).split(":")]
    if grid is None or ends[0] is None or ends[-1] is None:
        return None
    (top, left), (bottom, right) = ends[0], ends[-1]
    shown = _window(
        grid, range(top, min(bottom, top + _BODY_ROWS) + 1), range(left, min(right, left + _WIDEST - 1) + 1)
    )
    shown["rest"] = {"rows": max(bottom - top - _BODY_ROWS, 0), "columns": max(right - left - _WIDEST + 1, 0)}
    return shown


def _around(
    grids: Mapping[tuple[str, str], Grid], summary: Mapping[str, Any], file: str, sheet: str, at: tuple[int, int] | None
) -> dict[str, Any] | None:
    """The cell that a message speaks of, with those around it and the head of its table."""
    grid = grids.get((file, sheet or ""))
    if grid is None or at is None:
        return None
    row, column = at
    rows = set(range(row - _AROUND, row + _AROUND + 1)) | (
        {top} if (top := _head(summary, file, sheet, row)) >= 0 else set()
    )
    left = 0 if len(grid.columns) <= _WIDEST else max(column - _WIDEST // 2, 0)
    columns = set(range(left, left + _WIDEST)) | ({0} if left else set())
    shown = _window(grid, sorted(rows), sorted(columns))
    if column >= 0:
        shown["at"] = [row + 1, column_letter(column)]
    return shown


def _head(summary: Mapping[str, Any], file: str, sheet: str, row: int) -> int:
    """The first row of the table in which a row stands; -1 for none."""
    for table in summary["tables"]:
        ends = [_cell(end) for end in str(table["range"]).split(":")]
        mine = (table["file"], table["sheet"]) == (file, sheet or "")
        if mine and ends[0] and ends[-1] and ends[0][0] <= row <= ends[-1][0]:
            return ends[0][0]
    return -1


def _window(grid: Grid, rows: Sequence[int], columns: Sequence[int]) -> dict[str, Any]:
    rows = [one for one in rows if 0 <= one < grid.rows]
    columns = [one for one in columns if 0 <= one < len(grid.columns)]
    return {
        "letters": [column_letter(one) for one in columns],
        "rows": [{"number": row + 1, "cells": [_short(grid.cell(row, one)) for one in columns]} for row in rows],
    }


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"
