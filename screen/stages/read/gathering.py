"""What a batch says before anything is decided: its records, whose each is, and what only a whole file can tell.

In: files. Out: a ``Unit`` for each, and all units together as ``Gathered``. Decimal marks, orders of dates, sheets that
state no unit and tables of controls are settled here, so that records can be decided on in parts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.model import Problem
from screen.reference.names import NameBook
from screen.settings import Settings
from screen.stages.read.cells.coded import constant, join
from screen.stages.read.cells.files import Source, read_grids
from screen.stages.read.cells.grid import Column, Grid
from screen.stages.read.decide.grouped import Grouped, Told
from screen.stages.read.decide.questions import answer_lines, quoted, tables_of
from screen.stages.read.ledger import unrecorded
from screen.stages.read.opening import Opened, Read, open_sheets
from screen.stages.read.records.answers import Answers
from screen.stages.read.records.measures import Silent, read_basis_and_unit
from screen.stages.read.records.melt import Records, melt, melt_all, pick, under_one_another
from screen.stages.read.records.owners import QC_KINDS, Owners, owner_rows, read_owners
from screen.stages.read.records.readings import Substances, decimal_of, read_substances
from screen.stages.read.tables.evidence import Knows
from screen.stages.read.tables.layouts import Table, no_rows
from screen.stages.read.tables.sheet_words import SheetWords
from screen.stages.read.words.numbers import Decimal
from screen.stages.read.words.vocabulary import fold

__all__ = ["Gathered", "Unit", "contexts_of", "gather", "printed", "read_unit"]

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]


@dataclass(slots=True)
class Unit:
    """One file as read. Numbers of sheets, tables and owners count from 0 within the file.

    - ``sheets``: its grids without their cells; ``tables``: its tables without their rows, ``sheet_of`` each of them.
    - ``records``: all its value cells; ``owner``: which of ``owners`` each is of; ``owners`` holds the first record of
      each, ``asked`` says of which one may ask whether it is a control.
    - ``counts``: how many records of each owner (column) a table (row) has.
    - ``rest``: what the ledger says of all other cells, and how many records stand before each.
    """

    sheets: list[Grid]
    tables: list[Table]
    sheet_of: list[int]
    words: list[SheetWords]
    contexts: list[str]
    records: Records
    owner: npt.NDArray[np.int32]
    owners: Records
    asked: Bools
    counts: pd.DataFrame
    decimal: Decimal | None
    dates: str | None
    silent: Silent
    rest: pd.DataFrame
    cells: int
    found: list[dict[str, object]]
    problems: list[Problem]
    answers_used: set[int]


@dataclass(slots=True)
class Gathered:
    """A batch before anything is decided; numbers of files, sheets, tables and owners are those of the batch.

    ``records`` are in the order read. ``told`` holds the questions about samples that may be controls.
    """

    sources: Sequence[Source]
    sheets: list[Grid]
    tables: list[tuple[int, Table]]
    words: list[SheetWords]
    contexts: list[str]
    records: Records
    owner: npt.NDArray[np.int32]
    owners: Owners
    decimals: dict[int, Decimal | None]
    controls: Bools
    silent: Silent
    rest: pd.DataFrame
    cells: int
    found: list[dict[str, object]]
    problems: list[Problem]
    told: Told
    answers_used: set[int]

    def __len__(self) -> int:
        """The number of records."""
        return len(self.owner)

    def forget_records(self) -> None:
        """Let go of the records once all of them are decided on."""
        nothing = np.zeros(0, dtype=np.int32)
        self.records = Records(nothing, nothing, nothing, nothing, nothing, nothing)
        self.owner = nothing


def read_unit(
    source: Source,
    settings: Settings,
    book: NameBook,
    knows: Knows,
    read: Callable[[Source, Settings], Read] = read_grids,
) -> Unit:
    """Open one file, find its tables and take their records; ``read`` gives its grids."""
    opened = open_sheets(source, settings, knows, read)
    tables = [table for own in opened.tables for table in own]
    sheet_of = [place for place, own in enumerate(opened.tables) for _ in own]
    words = [one for own in opened.words for one in own]
    records = _records(opened)
    answers = Answers(settings.answers, opened.grids, list(zip(sheet_of, tables, strict=True)), set(opened.corrected))
    answers.apply_corrections(records)
    contexts = _contexts(opened)
    asked = np.ones(len(records), dtype=bool)
    silent = Silent(np.zeros(len(opened.grids), dtype=bool), np.zeros(len(opened.grids), dtype=bool))
    if settings.unit or settings.basis or any(answer.skip for answer in settings.answers):
        substances = read_substances(records, book, contexts_of(contexts, records))
        asked = ~answers.skipped(records, printed(substances))
        silent = _silent(records, substances, settings, answers, len(opened.grids))
    owner, first = owner_rows(records)
    pairs = pd.DataFrame({"table": records.table, "owner": owner})
    return Unit(
        sheets=[replace(grid, columns=()) for grid in opened.grids],
        tables=[replace(table, body=no_rows(), bands=no_rows()) for table in tables],
        sheet_of=sheet_of,
        words=words,
        contexts=contexts,
        records=records,
        owner=owner,
        owners=pick(records, first),
        asked=asked[first],
        counts=pairs.value_counts(sort=False).rename("count").reset_index(),
        decimal=decimal_of(records, 0, settings, answers, source.shown),
        dates=answers.for_file(source.shown, "dates") or settings.dates,
        silent=silent,
        rest=unrecorded(opened.grids, opened.tables, records),
        cells=sum(grid.cells for grid in opened.grids if not grid.hidden),
        found=tables_of(opened.grids, opened.tables),
        problems=[one for one in opened.problems if not answers.settles(one)],
        answers_used=answers.used,
    )


def gather(sources: Sequence[Source], units: Sequence[Unit]) -> Gathered:
    """All units of a batch together, and whose each record is."""
    sheets = np.cumsum([0, *(len(unit.sheets) for unit in units)])
    tables = np.cumsum([0, *(len(unit.tables) for unit in units)])
    firsts = np.cumsum([0, *(len(unit.owners) for unit in units)])
    before = np.cumsum([0, *(len(unit.owner) for unit in units)])
    offsets = list(zip(range(len(units)), sheets, tables, strict=False))
    owner_records = under_one_another([unit.owners for unit in units], offsets)
    all_sheets = [grid for unit in units for grid in unit.sheets]
    asked = np.concatenate([unit.asked for unit in units]) if units else np.zeros(0, dtype=bool)
    orders = {place: unit.dates for place, unit in enumerate(units)}
    owners = read_owners(owner_records, all_sheets, orders, asked)
    told = _doubtful(owner_records, all_sheets, owners)
    counts = _under(
        [
            unit.counts.assign(table=unit.counts["table"] + tables[at], owner=unit.counts["owner"] + firsts[at])
            for at, unit in enumerate(units)
        ],
        ["table", "owner", "count"],
    )
    rest = [
        unit.rest.assign(grid=unit.rest["grid"] + sheets[at], before=unit.rest["before"] + before[at])
        for at, unit in enumerate(units)
    ]
    return Gathered(
        sources=sources,
        sheets=all_sheets,
        tables=[
            (int(place + sheets[at]), table)
            for at, unit in enumerate(units)
            for place, table in zip(unit.sheet_of, unit.tables, strict=True)
        ],
        words=[one for unit in units for one in unit.words],
        contexts=[text for unit in units for text in unit.contexts],
        records=under_one_another([unit.records for unit in units], offsets),
        owner=_one_array([unit.owner + np.int32(firsts[at]) for at, unit in enumerate(units)]),
        owners=owners,
        decimals={place: unit.decimal for place, unit in enumerate(units)},
        controls=_controls(counts, owners, int(tables[-1])),
        silent=Silent(
            np.concatenate([unit.silent.unit for unit in units] or [np.zeros(0, dtype=bool)]),
            np.concatenate([unit.silent.basis for unit in units] or [np.zeros(0, dtype=bool)]),
        ),
        rest=_under(rest, ["grid", "row", "column", "cells", "text", "became", "reason", "before"]),
        cells=sum(unit.cells for unit in units),
        found=[one for unit in units for one in unit.found],
        problems=[one for unit in units for one in unit.problems] + owners.problems,
        told=told,
        answers_used={place for unit in units for place in unit.answers_used},
    )


def _one_array(parts: Sequence[npt.NDArray[np.int32]]) -> npt.NDArray[np.int32]:
    if len(parts) == 1:
        return parts[0]
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.int32)


def _under(parts: Sequence[pd.DataFrame], columns: Sequence[str]) -> pd.DataFrame:
    """The frames that have rows, under one another."""
    filled = [part for part in parts if len(part)]
    if filled:
        return pd.concat(filled, ignore_index=True)
    return parts[0] if parts else pd.DataFrame(dict.fromkeys(columns, np.zeros(0, dtype=np.int64)))


def _records(opened: Opened) -> Records:
    parts, number = [], 0
    for place, (grid, tables, words) in enumerate(
        zip(opened.corrected_grids, opened.tables, opened.words, strict=True)
    ):
        for table, said in zip(tables, words, strict=True):
            parts.append((0, place, number, melt(grid, table, said)))
            number += 1
    return melt_all(parts)


def _contexts(opened: Opened) -> list[str]:
    """For each table the name of its sheet, or what the header of its analyte column says of a band."""
    found = []
    for grid, tables in zip(opened.corrected_grids, opened.tables, strict=True):
        for table in tables:
            head = grid.cell(table.headers[0], table.anchor) if table.headers and table.layout != "samples-down" else ""
            found.append("pcb congeners" if fold(head).startswith(("congener", "bz", "iupac")) else grid.sheet)
    return found


def contexts_of(contexts: Sequence[str], records: Records) -> Column:
    """The context of each record's table, words that may tell a band."""
    if not contexts:
        return constant("", len(records))
    one = join([constant(text, 1) for text in contexts])
    return Column(one.codes[records.table], one.texts, one.kinds, one.numbers)


def printed(substances: Substances) -> Column:
    """The name of each record's substance, empty where it has none."""
    texts = np.array(["", *substances.names], dtype=object)
    kinds = np.where(texts == "", 0, 1).astype(np.uint8)
    return Column((substances.codes + 1).astype(np.int32), texts, kinds, np.full(len(texts), np.nan))


def _silent(records: Records, substances: Substances, settings: Settings, answers: Answers, sheets: int) -> Silent:
    """Sheets of which no record states a unit or a basis."""
    known = read_basis_and_unit(records, substances, settings, answers).silent
    every = np.ones(max(sheets - len(known.unit), 0), dtype=bool)
    return Silent(np.append(known.unit[:sheets], every), np.append(known.basis[:sheets], every))


def _doubtful(records: Records, sheets: Sequence[Grid], owners: Owners) -> Told:
    """A question for each sample that may be a control of the laboratory."""
    grouped = Grouped(records, sheets)
    for name, row in owners.doubtful.items():
        which = np.zeros(len(records), dtype=bool)
        which[row] = True
        text = f"is {name!r} a blank or control of the laboratory? It is read as a field sample until you say so"
        grouped.ask(which, "qc-or-sample", text, answer_lines(f"sample = {quoted(name)}", "skip = true"))
    return grouped.told


def _controls(counts: pd.DataFrame, owners: Owners, tables: int) -> Bools:
    """Which tables hold the laboratory's controls: more than a third of their records are of such samples."""
    kinds = np.isin(owners.kind.texts.astype(str), QC_KINDS)[owners.kind.codes]
    number = counts["count"].to_numpy(dtype=np.float64)
    table, owner = counts["table"].to_numpy(dtype=np.int64), counts["owner"].to_numpy(dtype=np.int64)
    of_controls = np.bincount(table, weights=number * kinds[owner], minlength=max(tables, 1))
    mostly: Bools = of_controls * 3 > np.bincount(table, weights=number, minlength=max(tables, 1))
    return mostly
