"""The tables as one workbook. In: a finished ``Run``. Out: an .xlsx file, the same bytes for the same run.

A sheet per table under the table's name, and ``cover``. Numbers are numbers, text from outside is never a formula.
"""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from screen.stages.report.facts import Facts
from screen.stages.report.numbers import listed
from screen.stages.report.tables import frames
from screen.stages.report.text import guarded
from screen.stages.report.words.cautions import cautions
from screen.stages.report.workbook.formulas import MOST_SUMS, finding_formulas, sum_formulas, too_many_sums
from screen.stages.report.workbook.spreadsheet import Book, Column, Figures, Flags, Formulas, Sheet, Words

if TYPE_CHECKING:
    from screen.model import Run

__all__ = ["MOST_ROWS", "write_workbook"]

#: A longer table stays a CSV file.
MOST_ROWS = 200_000
#: How wide the prose of the cover is, in signs.
_WIDE = 110
#: Columns that stay in sight when a sheet is moved sideways: those that say which sample, station or cell it is.
_HELD = {
    "results": 2,
    "totals": 3,
    "findings": 2,
    "indices": 2,
    "stations": 1,
    "reach": 1,
    "samples": 1,
    "quality": 2,
    "change": 1,
    "cores": 1,
    "ranking": 3,
    "trends": 2,
    "cuts": 3,
    "comparisons": 3,
    "ledger": 4,
}
#: Tables with columns of formulas behind their own.
_FORMULAS = {"findings": finding_formulas, "totals": sum_formulas}
_ABOUT = {
    "results": "one row per measurement of a field sample",
    "totals": "one row per sample, total and rule",
    "findings": "one row per sample, set and guideline substance",
    "indices": "indices and ratios per sample",
    "stations": "means per station and layer",
    "reach": "means over the reach and its parts",
    "samples": "the samples, with the solids and carbon that were used",
    "quality": "checks of data quality; they change no result",
    "change": "against the earlier run",
    "cores": "each substance down each core",
    "ranking": "the stations in the order in which they ask to be looked at",
    "trends": "whether surface figures go with the distance from the mouth",
    "cuts": "what a dredge cut takes away and leaves bare, against the sets",
    "comparisons": "tests between parts of the reach",
    "ledger": "every cell that was read, and what became of it",
}
#: The number format that shows three significant figures, by the power of ten; any other figure is shown in full.
_STYLES = {-3: "5", -2: "4", -1: "3", 0: "2", 1: "1", **dict.fromkeys(range(2, 9), "whole")}
#: Columns of places and counts, shown as they are.
_AS_IS = frozenset(
    "river_km depth_top_cm depth_bottom_cm latitude longitude row cells n detects members measured peaks factor "
    "lower_level upper_level".split()
)


def write_workbook(run: Run, path: Path) -> None:
    """Write the workbook of ``run`` to ``path``."""
    tables = frames(run)
    with Book(path, run.settings.title or "Sediment screening") as book:
        book.add(_cover(run, {name: len(frame) for name, frame in tables.items()}))
        kept = {name: frame for name, frame in tables.items() if len(frame) <= MOST_ROWS}
        for name, frame in kept.items():
            live = _FORMULAS[name](run) if name in _FORMULAS and "results" in kept else {}
            book.add(_sheet(name, frame, live))


def _sheet(name: str, frame: pd.DataFrame, live: Mapping[str, Formulas]) -> Sheet:
    columns: list[Column] = [_column(frame[one]) for one in frame.columns]
    widths = [
        min(42.0, max(len(head) * 0.9 + 3, _longest(column) + 2, 9))
        for head, column in zip(frame.columns, columns, strict=True)
    ]
    heads = (*frame.columns, *live)
    columns += live.values()
    widths += [16.0] * len(live)
    return Sheet(name, columns, widths, (1, _HELD[name]), filtered=True, heads=heads)


def _longest(column: Column) -> int:
    return max(map(len, column.texts[:500]), default=0) if isinstance(column, Words) else 0


def _column(column: pd.Series[Any]) -> Words | Figures | Flags:
    kind = column.dtype
    if isinstance(kind, pd.CategoricalDtype):
        codes = column.cat.codes.to_numpy()
        codes = np.where((kind.categories == "")[codes], -1, codes) if len(kind.categories) else codes
        met = pd.unique(codes[codes >= 0])  # those that occur, as they are met: how a batch was cut must not show
        moved = np.full(len(kind.categories) + 1, -1, dtype=np.int64)
        moved[met] = np.arange(len(met))
        return Words(moved[codes], [_text(kind.categories[int(at)]) for at in met])
    if pd.api.types.is_bool_dtype(kind):
        missing = column.isna().to_numpy()
        return Flags(np.where(missing, -1, column.fillna(False).to_numpy(dtype=np.int8)))
    if pd.api.types.is_numeric_dtype(kind):
        values = column.to_numpy(dtype=np.float64, na_value=math.nan)
        return Figures(values, "plain" if column.name in _AS_IS else _shown(values))
    known = column[column.notna()]
    if len(known) and pd.api.types.infer_dtype(known) == "boolean":
        return _column(column.astype("boolean"))
    codes, texts = pd.factorize(column)
    return Words(codes, [_text(item) for item in texts])


def _text(value: object) -> str:
    if isinstance(value, dt.datetime):
        value = value.date() if value.time() == dt.time(0) else value
    return guarded(value.isoformat() if isinstance(value, dt.date) else str(value))


def _shown(values: np.ndarray[Any, Any]) -> list[str]:
    """The format of each figure: three significant figures, by its power of ten."""
    size = np.abs(values)
    powers = np.floor(np.log10(size, where=size > 0, out=np.full(len(size), 99.0)))
    return [_STYLES.get(power, "plain") for power in powers.tolist()]


def _cover(run: Run, rows: dict[str, int]) -> Sheet:
    """The first sheet: what this is, settings, sources, what the sheets hold and which tables are left as files."""
    settings, record = run.settings, run.record
    lines: list[tuple[str, str, str]] = [(settings.title or "Sediment screening", "", "title")]
    for name, value in (
        ("Memo", settings.memo_no),
        ("Date", settings.date),
        ("Prepared by", settings.prepared_by),
        ("Checked by", settings.checked_by),
        ("Made with", f"Siltmark {record['tool_version']}"),
    ):
        if value:
            lines.append((name, value, "name"))
    lines.append(("Sheets", "", "section"))
    for name, count in rows.items():
        kept = f"; too long for a sheet: see tables/{name}.{settings.tables}" if count > MOST_ROWS else ""
        lines.append((name, f"{_ABOUT[name]}: {count:,} rows{kept}", "name"))
    lines.append(
        (
            "Formulas",
            "The columns check_... of findings and totals hold live formulas: quotients, findings by the rule for ties "
            "(equal means within 1e-9 of the level), and sums of the cells of the sheet results. What is not above a "
            "level agrees with below and undetermined. Not worked out anew: sums by Kaplan-Meier, which are estimates "
            "from ranks and no sums of cells (their upper bound is), a laboratory's own totals, which are one figure, "
            "and findings of sums without a detect, which are judged by the limit that check_limit works out. "
            + (
                f"This run compares more than {MOST_SUMS:,} sums; a workbook with a formula for each would be slow to "
                "open, so none of its sums has one: the cells that each is made of are told by siltmark explain."
                if too_many_sums(run)
                else "Every other sum that is compared has its formulas."
            ),
            "name",
        )
    )
    lines.append(("Guideline sets", "", "section"))
    for one in run.sets:
        levels = listed([name for name in (one.lower, one.upper) if name])
        lines.append(
            (one.id, f"{one.title}. {one.citation} Lower and upper level: {levels}. {' '.join(one.caveats)}", "name")
        )
    lines.append(("Settings", "", "section"))
    chosen: Any = record["settings"]
    for name, value in chosen.items():
        if value not in (None, [], {}, ()):
            shown = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
            lines.append((str(name), shown, "name"))
    lines.append(("Inputs", "", "section"))
    inputs: Any = record["inputs"]
    lines += [(str(one["path"]), f"{one['bytes']:,} bytes, SHA-256 {one['sha256']}", "name") for one in inputs]
    lines.append(("Before you act", "", "section"))
    found = cautions(Facts(run))
    lines += [("", caution.text, "name") for caution in [*found["waste"], *found["first"]]]
    names, texts, styles = zip(*lines, strict=True)
    return Sheet(
        "cover",
        [_lines(names, styles), _lines(texts, "prose")],
        [30, _WIDE],
        lines=[1 + len(text) // _WIDE for text in texts],
    )


def _lines(texts: Sequence[str], styles: Sequence[str] | str) -> Words:
    codes = np.array([at if text else -1 for at, text in enumerate(texts)])
    return Words(codes, [guarded(text) for text in texts], styles)
