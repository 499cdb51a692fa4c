"""What a batch says before anything is decided: its records, whose each is, and what only a whole file can tell.

In: files. Out: a ``Unit`` for each, and all units together as ``Gathered``. Decimal marks, orders of dates, sheets that
state no unit and tables of controls are settled here, so that records can be decided on in parts. The records
themselves may stay where they were read: they come in a ``Lot``, of the whole batch or of a part of it.
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
from screen.stages.read.records.melt import Records, melt, melt_all, no_records, part_of, under_one_another
from screen.stages.read.records.owners import QC_KINDS, Owners, owner_rows, read_owners
from screen.stages.read.records.readings import Substances, decimal_of, read_substances
from screen.stages.read.tables.evidence import Knows
from screen.stages.read.tables.layouts import Table, no_rows
from screen.stages.read.tables.sheet_words import SheetWords
from screen.stages.read.words.numbers import Decimal
from screen.stages.read.words.vocabulary import fold

__all__ = ["Gathered", "Lot", "Start", "Unit", "contexts_of", "gather", "lot_of", "printed", "read_unit", "starts_of"]

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

    def __len__(self) -> int:
        """The number of records."""
        return int(self.counts["count"].sum())

    def without_records(self) -> Unit:
        """The same for a place where the records themselves are not needed."""
        return replace(self, records=no_records(), owner=np.zeros(0, dtype=np.int32))


@dataclass(frozen=True, slots=True)
class Start:
    """What the numbers of one unit are raised by to be those of the batch."""

    file: int
    sheet: int
    table: int
    owner: int
    place: int


@dataclass(slots=True)
class Lot:
    """Records of a batch in the order read, with the batch's numbers.

    ``owner``: which of the owners each is of; ``places``: where each stands among all records.
    """

    records: Records
    owner: npt.NDArray[np.int32]
    places: Ints

    def at(self, rows: Ints) -> Lot:
        """The records at ``rows`` of this lot."""
        return Lot(part_of(self.records, rows), self.owner[rows], self.places[rows])

    @classmethod
    def together(cls, lots: Sequence[Lot]) -> Lot:
        """Several lots under one another."""
        places = np.concatenate([lot.places for lot in lots] or [np.zeros(0, dtype=np.int64)])
        records = under_one_another([lot.records for lot in lots], [(0, 0, 0)] * len(lots))
        return cls(records, _one_array([lot.owner for lot in lots]), places)


@dataclass(slots=True)
class Gathered:
    """A batch before anything is decided; numbers of files, sheets, tables and owners are those of the batch.

    ``of_owner``: how many records each owner has. ``told`` holds the questions about samples that may be controls.
    """

    sources: Sequence[Source]
    sheets: list[Grid]
    tables: list[tuple[int, Table]]
    words: list[SheetWords]
    contexts: list[str]
    owners: Owners
    of_owner: Ints
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
        return int(self.of_owner.sum())

    def for_parts(self) -> Gathered:
        """What deciding on any part asks of it: no owners, and nothing that is told of the batch as a whole."""
        return replace(
            self,
            sources=(),
            owners=self.owners.only(np.zeros(0, dtype=np.int64)),
            of_owner=self.of_owner[:0],
            rest=self.rest.iloc[:0],
            found=[],
            problems=[],
            told=Told(),
        )


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
        owners=part_of(records, first),
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


def starts_of(units: Sequence[Unit]) -> list[Start]:
    """What the numbers of each unit are raised by; one more entry holds the numbers of the whole batch."""
    sizes = [(1, len(unit.sheets), len(unit.tables), len(unit.owners), len(unit)) for unit in units]
    return [Start(*numbers) for numbers in np.cumsum([(0, 0, 0, 0, 0), *sizes], axis=0).tolist()]


def lot_of(units: Sequence[Unit], starts: Sequence[Start]) -> Lot:
    """All records of some units; ``starts`` are those of these units."""
    raised = [(one.file, one.sheet, one.table) for one in starts]
    places = [np.arange(one.place, one.place + len(unit.owner)) for unit, one in zip(units, starts, strict=True)]
    return Lot(
        under_one_another([unit.records for unit in units], raised),
        _one_array([unit.owner + np.int32(one.owner) for unit, one in zip(units, starts, strict=True)]),
        np.concatenate(places or [np.zeros(0, dtype=np.int64)]),
    )


def gather(sources: Sequence[Source], units: Sequence[Unit]) -> Gathered:
    """All units of a batch together, and whose each record is; their records are not looked at."""
    starts = starts_of(units)
    ends, starts = starts[-1], starts[:-1]
    owner_records = under_one_another(
        [unit.owners for unit in units], [(one.file, one.sheet, one.table) for one in starts]
    )
    all_sheets = [grid for unit in units for grid in unit.sheets]
    asked = np.concatenate([unit.asked for unit in units]) if units else np.zeros(0, dtype=bool)
    orders = {place: unit.dates for place, unit in enumerate(units)}
    owners = read_owners(owner_records, all_sheets, orders, asked)
    told = _doubtful(owner_records, all_sheets, owners)
    counts = _under(
        [
            unit.counts.assign(table=unit.counts["table"] + one.table, owner=unit.counts["owner"] + one.owner)
            for unit, one in zip(units, starts, strict=True)
        ],
        ["table", "owner", "count"],
    )
    rest = [
        unit.rest.assign(grid=unit.rest["grid"] + one.sheet, before=unit.rest["before"] + one.place)
        for unit, one in zip(units, starts, strict=True)
    ]
    return Gathered(
        sources=sources,
        sheets=all_sheets,
        tables=[
            (place + one.sheet, table)
            for unit, one in zip(units, starts, strict=True)
            for place, table in zip(unit.sheet_of, unit.tables, strict=True)
        ],
        words=[one for unit in units for one in unit.words],
        contexts=[text for unit in units for text in unit.contexts],
        owners=owners,
        of_owner=np.bincount(
            counts["owner"].to_numpy(dtype=np.int64),
            weights=counts["count"].to_numpy(dtype=np.float64),
            minlength=ends.owner,
        ).astype(np.int64),
        decimals={place: unit.decimal for place, unit in enumerate(units)},
        controls=_controls(counts, owners, ends.table),
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
