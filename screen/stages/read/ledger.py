"""The ledger: what became of every cell. In: grids, tables, records and verdicts. Out: LEDGER, in the order read.

One entry for each value cell, with the cells that go with it; one for each other row that is not empty, each column
that is no result, and each hidden sheet. The entries' cells add up to the non-empty cells of the sheets that were
read.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.letters import column_letter
from screen.model import BECAME, LEDGER
from screen.stages.read.cells.grid import Grid
from screen.stages.read.decide.verdicts import Verdicts
from screen.stages.read.records.melt import Records, pick
from screen.stages.read.tables.layouts import Table

__all__ = ["build_ledger", "letters", "outside_rows", "unrecorded"]

_CONTEXT_COLUMNS = ("other-column", "text-column", "note", "limit-below")
#: What a row outside the tables, or what is left of one inside, may be.
_KINDS = ("note", "no-table", "title", "row-label", "header", "band")
_WORDS = {
    "header": "header: names of fields, samples, substances or units",
    "title": "title: text above a table",
    "note": "note: text outside the tables",
    "band": "band: heading inside a table",
    "row-label": "row-label: name, number or unit of the row's substance",
    "no-table": "no-table: no table was recognised on this sheet",
    "criterion": "criterion: a column or row of levels, not of samples",
    "background": "background: earlier or background figures, not samples of this batch",
    "statistic": "statistic: figures worked out from several samples",
    "factor": "factor: factors or quotients, not results",
    "quality": "quality: recoveries, targets or differences, not results",
    "limit-row": "limit-row: a second row of limits, and nothing says for which samples each holds",
    "limit-below": "limit-below: the limit of the substance above",
    "other-column": "other-column: not needed for a result",
    "text-column": "text-column: texts, no results",
    "unnamed-column": "unnamed-column: figures without a header",
    "hidden-sheet": "hidden-sheet: not read",
}


def outside_rows(grid: Grid, tables: Sequence[Table]) -> npt.NDArray[np.bool_]:
    """Which rows of a sheet are no part of a table's body: titles, headers, notes, legends."""
    outside = np.ones(grid.rows, dtype=bool)
    for table in tables:
        outside[table.body] = False
    return outside


def letters(columns: npt.NDArray[np.integer]) -> pd.Categorical:
    """Column letters of column numbers, as a categorical; negative is missing."""
    most = int(columns.max(initial=-1))
    names = pd.Index([column_letter(one) for one in range(most + 1)], dtype=object)
    return pd.Categorical.from_codes(columns.astype(np.int64), names)


def unrecorded(grids: Sequence[Grid], tables: Sequence[Sequence[Table]], records: Records) -> pd.DataFrame:
    """Entries for the cells of the sheets that no record stands for: grid, row, column (from 0), cells, text, became,
    reason, and ``before``: how many of the records stand before each. ``tables`` are those of each grid.
    """
    others = [_others(place, grid, tables[place], records) for place, grid in enumerate(grids)]
    rest = pd.concat(others, ignore_index=True) if others else _frame([], [], [], [], [], [], [])
    place = _place(rest["grid"].to_numpy(), rest["row"].to_numpy(), rest["column"].to_numpy())
    order = np.argsort(place, kind="stable")
    before = np.searchsorted(_place(records.grid, records.row, records.column), place[order], side="right")
    return rest.iloc[order].assign(before=before).reset_index(drop=True)


def _place(grid: npt.NDArray[Any], row: npt.NDArray[Any], column: npt.NDArray[Any]) -> npt.NDArray[np.int64]:
    """One number for each cell, in the order read."""
    number: npt.NDArray[np.int64] = (grid.astype(np.int64) << 40) | ((row.astype(np.int64) + 1) << 18)
    return number | (column.astype(np.int64) + 1)


def build_ledger(
    grids: Sequence[Grid],
    records: Records,
    places: npt.NDArray[np.integer],
    verdicts: Verdicts,
    ids: npt.NDArray[np.int64],
    rest: pd.DataFrame,
) -> tuple[pd.DataFrame, npt.NDArray[np.int64]]:
    """LEDGER of these records and of ``rest`` (``unrecorded``), and a number for each entry by which those of several
    parts of a batch are ordered.

    ``places`` are the places of the records among all of the batch; ``ids`` the result_id of each, 0 for none.
    """
    shown = (records.cells > 0) | (ids > 0)
    if not shown.all():
        kept = np.flatnonzero(shown)
        records, verdicts, ids, places = pick(records, kept), verdicts.at(kept), ids[kept], places[kept]
    became, reason = verdicts.as_categoricals()
    grid_codes = np.concatenate([records.grid, rest["grid"].to_numpy(dtype=np.int32)])
    rows = np.concatenate([records.row, rest["row"].to_numpy(dtype=np.int64)])
    columns = np.concatenate([records.column, rest["column"].to_numpy(dtype=np.int64)])
    value = records.get("value")
    noted = pd.Categorical(rest["text"]) if len(rest) else pd.Categorical([])
    text = _joined_codes(value.codes, value.texts, noted)
    number = np.concatenate([places.astype(np.int64) * 2 + 1, rest["before"].to_numpy(dtype=np.int64) * 2])
    order = np.argsort(number, kind="stable")
    became_codes = np.concatenate([became.codes, pd.Categorical(rest["became"], categories=list(BECAME)).codes])
    rest_reason = pd.Categorical(rest["reason"])
    reasons = pd.Index([*reason.categories, *rest_reason.categories], dtype=object)
    reason_codes = np.concatenate(
        [
            reason.codes.astype(np.int64),
            np.where(rest_reason.codes < 0, -1, rest_reason.codes.astype(np.int64) + len(reason.categories)),
        ]
    )
    distinct, merged = (
        np.unique(reasons.to_numpy(dtype=object).astype(str), return_inverse=True) if len(reasons) else ([], [])
    )
    merged_codes = np.append(np.asarray(merged, dtype=np.int64), -1)
    all_ids = np.concatenate([ids, np.zeros(len(rest), dtype=np.int64)])[order]
    files = pd.Categorical.from_codes(*_names([grid.file for grid in grids], grid_codes[order]))
    sheets = pd.Categorical.from_codes(*_names([grid.sheet for grid in grids], grid_codes[order]))
    shown_rows = (rows[order] + 1).astype(np.float64)
    shown_rows[shown_rows < 1] = np.nan
    cells = np.concatenate([records.cells.astype(np.float64), rest["cells"].to_numpy(dtype=np.float64)])[order]
    ledger = pd.DataFrame(
        {
            "file": files,
            "sheet": sheets,
            "row": shown_rows,
            "column": letters(columns[order]),
            "cells": cells,
            "text": pd.Categorical.from_codes(text.codes[order], text.categories),
            "became": pd.Categorical.from_codes(became_codes[order], pd.Index(BECAME)),
            "reason": pd.Categorical.from_codes(
                merged_codes[reason_codes[order]], pd.Index(np.asarray(distinct, dtype=object), dtype=object)
            ),
            "result_id": pd.arrays.IntegerArray(all_ids, all_ids == 0),
        },
        columns=LEDGER,
    )
    return ledger, number[order]


def _joined_codes(codes: npt.NDArray[np.int32], texts: npt.NDArray[np.object_], more: pd.Categorical) -> pd.Categorical:
    places, distinct = pd.factorize(np.concatenate([texts, more.categories.to_numpy(dtype=object)]))
    places = np.where(np.asarray(distinct, dtype=object)[places] == "", -1, places)
    own = places[codes]
    further = np.append(places[len(texts) :], -1)[more.codes]
    empty = np.flatnonzero(np.asarray(distinct, dtype=object) == "")
    categories = np.asarray(distinct, dtype=object)
    out = np.concatenate([own, further])
    if len(empty):
        at = int(empty[0])
        categories = np.delete(categories, at)
        out = np.where(out > at, out - 1, out)
    return pd.Categorical.from_codes(out, pd.Index(categories, dtype=object))


def _names(texts: Sequence[str], codes: npt.NDArray[np.integer]) -> tuple[npt.NDArray[np.int64], pd.Index]:
    places, distinct = pd.factorize(np.array([text or None for text in texts], dtype=object))
    return (np.asarray(places, dtype=np.int64)[codes] if len(texts) else np.zeros(0, dtype=np.int64)), pd.Index(
        distinct, dtype=object
    )


def _frame(*columns: Sequence[object] | npt.NDArray[Any]) -> pd.DataFrame:
    names = ("grid", "row", "column", "cells", "text", "became", "reason")
    return pd.DataFrame(dict(zip(names, columns, strict=True))).astype(
        {
            "grid": "int32",
            "row": "int64",
            "column": "int64",
            "cells": "float64",
            "text": object,
            "became": object,
            "reason": object,
        }
    )


def _others(place: int, grid: Grid, tables: Sequence[Table], records: Records) -> pd.DataFrame:
    """Entries for all cells of a grid that no record stands for."""
    if grid.hidden:
        return _frame([place], [-1], [-1], [np.nan], [grid.sheet], ["ignored"], [_WORDS["hidden-sheet"]])
    filled = grid.filled()
    if not filled.size:
        return _frame([], [], [], [], [], [], [])
    entries: list[tuple[int, int, int, str]] = []
    kind = np.full(grid.rows, _KINDS.index("note" if tables else "no-table"), dtype=np.int8)
    if tables:
        kind[: tables[0].top] = _KINDS.index("title")
    own = records.grid == place
    for table in tables:
        if table.layout == "long":
            filled[:, table.left : table.right + 1] &= outside_rows(grid, [table])[:, np.newaxis]
        else:
            _claim_wide(grid, table, filled, entries)
            kind[table.body] = _KINDS.index("row-label")
        kind[list(table.headers)] = _KINDS.index("header")
        kind[[row for row in pd.unique(table.bands) if row >= 0]] = _KINDS.index("band")
        for row, why in table.dropped_rows.items():
            cells = int(filled[row].sum())
            if cells:
                entries.append((row, table.anchor, cells, why))
                filled[row] = False
    at = records.row[own], records.column[own]
    filled[at] = False
    count = filled.sum(axis=1)
    rows = np.flatnonzero(count)
    first = filled[rows].argmax(axis=1)
    texts = [grid.cell(int(row), int(column)) for row, column in zip(rows, first, strict=True)]
    left = _frame(
        np.full(len(rows), place),
        rows,
        first,
        count[rows],
        texts,
        np.full(len(rows), "context", dtype=object),
        [_WORDS[_KINDS[one]] for one in kind[rows]],
    )
    if not entries:
        return left
    dropped = _frame(
        np.full(len(entries), place),
        [row for row, *_ in entries],
        [column for _, column, *_ in entries],
        [cells for *_, cells, _ in entries],
        [grid.cell(row, column) for row, column, *_ in entries],
        ["context" if why in _CONTEXT_COLUMNS else "ignored" for *_, why in entries],
        [_WORDS.get(why, why) for *_, why in entries],
    )
    return pd.concat([left, dropped], ignore_index=True)


def _claim_wide(
    grid: Grid, table: Table, filled: npt.NDArray[np.bool_], entries: list[tuple[int, int, int, str]]
) -> None:
    for value in table.values:
        filled[table.body, value.column] = False
        for column in value.beside.values():
            filled[table.body, column] = False
    for column, why in table.dropped.items():
        rows = table.body[filled[table.body, column]]
        if len(rows):
            entries.append((int(rows[0]), column, len(rows), why))
            filled[rows, column] = False
