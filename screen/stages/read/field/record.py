"""The field record. In: paths of workbooks or CSVs. Out: frames of stations, cores and samples, lengths in cm.

Any of the three tables may be there, on any sheet, with columns in any order; a table of samples may carry what belongs
to a station or a core. Nothing is merged or mended on a guess: what does not agree is named with its cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from screen.letters import column_letter
from screen.model import LEDGER, Problem
from screen.settings import Settings
from screen.stages.read.cells.files import find_sheets, read_grids
from screen.stages.read.cells.grid import Grid
from screen.stages.read.field.checks import check_coordinates, check_cores, check_ids, check_intervals
from screen.stages.read.field.tables import IDS, FieldTable, find_field_tables
from screen.stages.read.field.values import read_depths, read_field

__all__ = ["FIELD_CORES", "FIELD_SAMPLES", "FIELD_STATIONS", "FieldRecord", "read_field_record"]

#: Columns of the frames, with the field that each is read from.
FIELD_STATIONS = {
    name: name
    for name in ("station", "river_km", "latitude", "longitude", "water", "role", "zone", "area_m2", "remarks")
}
FIELD_CORES = {
    "core": "core",
    "station": "station",
    "collected": "date",
    "time": "time",
    "tide": "tide",
    "water_depth_cm": "water_depth",
    "bed_level_cm": "bed_level",
    "datum": "datum",
    "penetration_cm": "penetration",
    "recovered_cm": "recovered",
    "gear": "gear",
    "remarks": "remarks",
}
FIELD_SAMPLES = {
    "sample": "sample",
    "core": "core",
    "station": "station",
    "depth_top_cm": "top",
    "depth_bottom_cm": "bottom",
    "collected": "date",
    "time": "time",
    "texture": "texture",
    "colour": "colour",
    "odour": "odour",
    "inclusions": "inclusions",
    "container": "container",
    "preservation": "preservation",
    "parent": "parent",
    "analyses": "analyses",
    "remarks": "remarks",
}
_COLUMNS = {"stations": FIELD_STATIONS, "cores": FIELD_CORES, "samples": FIELD_SAMPLES}
#: Fields that mean the row's own thing, whatever it is.
_SHARED = ("date", "time", "remarks")
_PLACE = ["file", "sheet", "row"]


@dataclass(frozen=True, slots=True)
class FieldRecord:
    """What the field record says.

    ``stations``, ``cores`` and ``samples``: one row per id, in the order met, with the columns FIELD_STATIONS,
    FIELD_CORES (and ``recovery_pct``) and FIELD_SAMPLES, then ``file, sheet, row`` of the row that names it first;
    depths and lengths in cm, texts as objects (None where missing). ``ledger``: LEDGER, one ``context`` entry for each
    row that is not blank; ``cells``: the non-empty cells that they stand for.
    """

    stations: pd.DataFrame
    cores: pd.DataFrame
    samples: pd.DataFrame
    problems: tuple[Problem, ...]
    ledger: pd.DataFrame
    cells: int
    inputs: tuple[dict[str, object], ...]

    @property
    def given(self) -> bool:
        """Whether there is a field record with any row at all."""
        return bool(len(self.stations) or len(self.cores) or len(self.samples))


def read_field_record(paths: Sequence[Path], settings: Settings) -> FieldRecord:
    """Read the field record of ``paths`` (workbooks, CSVs or folders of them); no paths give an empty record.

    A file that cannot be read, or that has none of the three tables, is a Problem of severity ``file``.
    """
    sources, found = find_sheets(paths) if paths else ([], [])
    problems = list(found)
    tables: list[FieldTable] = []
    ledgers: list[pd.DataFrame] = []
    for source in sources:
        grids, notices = read_grids(source, settings)
        problems += notices
        before = len(tables)
        for grid in grids:
            ledgers.append(_ledger(grid))
            if grid.hidden:
                problems.append(_hidden(grid))
            else:
                here, notices = find_field_tables(grid)
                tables += here
                problems += notices
        if grids and len(tables) == before:
            problems.append(_no_table(source.shown))
    stations, cores, samples = (_gather(kind, tables, settings, problems) for kind in ("stations", "cores", "samples"))
    cores["recovery_pct"] = 100 * cores["recovered_cm"] / cores["penetration_cm"]
    stations, notices = check_coordinates(stations)
    problems += [
        *notices,
        *check_ids(stations, cores, samples),
        *check_cores(cores, samples),
        *check_intervals(samples),
    ]
    ledger = pd.concat(ledgers, ignore_index=True) if ledgers else pd.DataFrame(columns=LEDGER)
    inputs = tuple({"path": one.shown, "sha256": one.sha256, "bytes": one.bytes} for one in sources)
    return FieldRecord(stations, cores, samples, tuple(problems), ledger, int(ledger["cells"].sum()), inputs)


def _gather(kind: str, tables: Sequence[FieldTable], settings: Settings, problems: list[Problem]) -> pd.DataFrame:
    """All that the tables say of one kind, one row per id; the table of that kind itself goes first."""
    key, columns = IDS[kind], _COLUMNS[kind]
    specific = set(columns.values()) - set(IDS.values()) - set(_SHARED)
    used = [
        table
        for table in sorted(tables, key=lambda table: table.kind != kind)
        if table.kind == kind or (kind != "samples" and key in table.texts and specific & table.texts.keys())
    ]
    every = pd.concat([_frame(table, kind, settings, problems) for table in used] or [_empty(kind)], ignore_index=True)
    every = every[every[key].notna()]
    own = every[every["own"].astype(bool)]
    for _, row in own[own.duplicated([key])].iterrows():
        problems.append(_duplicate(key, row))
    merged = every.groupby(key, sort=False).first().reset_index()
    for name in columns:
        if name != key:
            problems += _conflicts(every, key, name)
    return merged.reindex(columns=[*columns, *_PLACE]).astype(dict.fromkeys(_texts(kind), object)).pipe(_none)


def _frame(table: FieldTable, kind: str, settings: Settings, problems: list[Problem]) -> pd.DataFrame:
    made = _empty(kind).reindex(range(len(table.rows)))
    own = table.kind == kind
    for name, field in _COLUMNS[kind].items():
        if field in table.texts and name not in _DEPTHS and (own or field not in _SHARED):
            made[name], found = read_field(table, field, settings)
            problems += found if own or field not in IDS.values() else []
    if kind == "samples":
        made["depth_top_cm"], made["depth_bottom_cm"], found = read_depths(table)
        problems += found
    letter = column_letter(table.columns[IDS[kind]])
    return made.assign(file=table.file, sheet=table.sheet, row=table.rows + 1, own=own, column=letter)


_DEPTHS = ("depth_top_cm", "depth_bottom_cm")
_NUMBERS = ("river_km", "latitude", "longitude", "area_m2")


def _texts(kind: str) -> list[str]:
    return [name for name in _COLUMNS[kind] if name not in _NUMBERS and not name.endswith("_cm")]


def _empty(kind: str) -> pd.DataFrame:
    texts = _texts(kind)
    types = {name: "object" if name in texts else "float64" for name in _COLUMNS[kind]}
    types |= {"file": "object", "sheet": "object", "row": "int64", "own": "bool", "column": "object"}
    return pd.DataFrame({name: pd.Series(dtype=one) for name, one in types.items()})


def _none(frame: pd.DataFrame) -> pd.DataFrame:
    """Missing texts as None, whatever grouping made of them."""
    for name in frame.columns:
        if frame[name].dtype == object or isinstance(frame[name].dtype, pd.StringDtype):
            frame[name] = frame[name].astype(object).where(frame[name].notna(), None)
    return frame


def _duplicate(key: str, row: pd.Series) -> Problem:
    return Problem(
        f"{key}-twice",
        f"the {key} {row[key]!r} is listed twice; the first row stands, and this one fills what that leaves open.",
        "Keep one row.",
        file=row["file"],
        sheet=row["sheet"],
        row=int(row["row"]),
        column=row["column"],
    )


def _conflicts(every: pd.DataFrame, key: str, name: str) -> list[Problem]:
    """Rows that say something else of an id than the first row that says anything."""
    said = every[every[name].notna()]
    first = said.groupby(key, sort=False)[name].transform("first")
    return [
        Problem(
            "field-conflict",
            f"{name} of {key} {row[key]!r} is {row[name]} here and {other} in an earlier row, which is used.",
            "Mend the one that is wrong.",
            file=row["file"],
            sheet=row["sheet"],
            row=int(row["row"]),
        )
        for (_, row), other in zip(said[said[name] != first].iterrows(), first[said[name] != first], strict=True)
    ]


def _hidden(grid: Grid) -> Problem:
    return Problem(
        "sheet-hidden",
        "the sheet is hidden and was not read.",
        "Show the sheet if it belongs to the record.",
        file=grid.file,
        sheet=grid.sheet,
    )


def _no_table(file: str) -> Problem:
    return Problem(
        "field-table-missing",
        "no table of stations, cores or samples was found.",
        "Each table needs its id (station, core or sample) as a header. See: siltmark template field.",
        "file",
        file,
    )


def _ledger(grid: Grid) -> pd.DataFrame:
    """One context entry for each row that is not blank; a hidden sheet is one entry without cells."""
    if grid.hidden:
        entry = {"file": grid.file, "sheet": grid.sheet, "became": "ignored", "reason": "hidden-sheet: not read"}
        return pd.DataFrame([entry]).reindex(columns=LEDGER)
    filled = grid.filled()
    rows = np.flatnonzero(filled.any(axis=1))
    texts = [" | ".join(grid.cell(int(row), int(column)) for column in np.flatnonzero(filled[row])) for row in rows]
    return pd.DataFrame(
        {
            "file": grid.file,
            "sheet": grid.sheet,
            "row": (rows + 1).astype(float),
            "column": None,
            "cells": filled[rows].sum(axis=1).astype(float),
            "text": texts,
            "became": "context",
            "reason": "field-record: read as part of the field record",
            "result_id": None,
        }
    )[LEDGER]
