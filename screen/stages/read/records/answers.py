"""What a user has answered for one place (``[[answers]]``): which records it means, and what it says of them.

In: the answers, the records and where they stand. Out: changed records, and masks for the later steps. An answer that
means no record is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from screen.letters import column_letter
from screen.model import Problem
from screen.settings import Answer
from screen.stages.read.cells.coded import constant, empty, join, take
from screen.stages.read.cells.grid import Column, Grid
from screen.stages.read.records.melt import Records
from screen.stages.read.tables.layouts import Table

__all__ = ["Answers", "is_file"]

Bools = npt.NDArray[np.bool_]


@dataclass(slots=True)
class Answers:
    """The answers of a run against the records of one batch."""

    answers: Sequence[Answer]
    grids: Sequence[Grid]
    tables: Sequence[tuple[int, Table]]
    used: set[int] = field(default_factory=set)

    def for_file(self, shown: str, name: str) -> str | None:
        """What an answer says of a whole file (``decimal``, ``dates``)."""
        said = None
        for place, answer in enumerate(self.answers):
            text = getattr(answer, name)
            if text and is_file(answer.file, shown):
                said = text
                self.used.add(place)
        return said

    def mask(self, answer: Answer, records: Records, *, substances: Column | None = None) -> Bools:
        """Which records an answer means, whatever it says of them."""
        grids = [
            place
            for place, grid in enumerate(self.grids)
            if is_file(answer.file, grid.file) and answer.sheet in (None, grid.sheet)
        ]
        found = np.isin(records.grid, grids)
        if answer.row is not None:
            found &= records.row == answer.row - 1
        if answer.column is not None:
            found &= self._column(answer.column.upper(), records)
        for name, text in (("sample", answer.sample), ("analyte", answer.substance)):
            if text is None:
                continue
            columns = [records.get(name)] + ([substances] if name == "analyte" and substances is not None else [])
            same = np.zeros(len(records), dtype=bool)
            for column in columns:
                wanted = np.array([str(one).strip() == text.strip() for one in column.texts], dtype=bool)
                same |= wanted[column.codes]
            found &= same
        return found

    def _column(self, letter: str, records: Records) -> Bools:
        """Records whose value or one of whose fields stands in the column."""
        found = np.array([column_letter(one) for one in range(int(records.column.max(initial=0)) + 1)]) == letter
        hit: Bools = found[records.column]
        for place, (_, table) in enumerate(self.tables):
            beside = {*table.row_fields.values(), *(c for v in table.values for c in v.beside.values())}
            if table.layout == "long" and letter in {column_letter(one) for one in beside}:
                hit |= records.table == place
        return hit

    def apply_corrections(self, records: Records) -> dict[int, Bools]:
        """``read_as`` put in place of what the sheet says; returns the mask of each answer that corrected something."""
        done: dict[int, Bools] = {}
        for place, answer in enumerate(self.answers):
            if answer.read_as is None or place in self.used:
                continue
            which = self.mask(answer, records)
            if not which.any():
                continue
            self.used.add(place)
            done[place] = which
            name = self._field(answer, records, which)
            records.fields[name] = _put(records.get(name), which, answer.read_as)
        return done

    def _field(self, answer: Answer, records: Records, which: Bools) -> str:
        if answer.column is not None:
            column = answer.column.upper()
            table = self.tables[int(records.table[np.flatnonzero(which)[0]])][1]
            for name, at in table.row_fields.items():
                if column_letter(at) == column:
                    return name
            for value in table.values:
                for name, at in value.beside.items():
                    if column_letter(at) == column:
                        return name
            return "value"
        if answer.row is None and answer.substance is not None and answer.sample is None:
            return "analyte"
        if answer.row is None and answer.sample is not None and answer.substance is None:
            return "sample"
        return "value"

    def override(self, records: Records, name: str, substances: Column | None = None) -> tuple[Column, Column]:
        """``unit`` or ``basis`` as answered: for a place (goes before the sheet), and for a whole file or sheet (where
        the sheet itself does not settle it). Empty where no answer says it."""
        said = [empty(len(records)), empty(len(records))]
        for place, answer in enumerate(self.answers):
            text = getattr(answer, name)
            if not text:
                continue
            which = self.mask(answer, records, substances=substances)
            if which.any():
                self.used.add(place)
                wide = all(one is None for one in (answer.row, answer.column, answer.sample, answer.substance))
                said[wide] = _put(said[wide], which, text)
        return said[0], said[1]

    def skipped(self, records: Records, substances: Column) -> Bools:
        """Records that a user has set aside."""
        found = np.zeros(len(records), dtype=bool)
        for place, answer in enumerate(self.answers):
            if answer.skip:
                which = self.mask(answer, records, substances=substances)
                if which.any():
                    self.used.add(place)
                    found |= which
        return found

    def remarks(self, records: Records, substances: Column) -> list[tuple[Bools, str]]:
        """For the ledger: which records each answer touched, and in what words."""
        told = []
        for answer in self.answers:
            said = [
                f"{name} {getattr(answer, name)}"
                for name in ("basis", "unit", "decimal", "dates", "read_as")
                if getattr(answer, name)
            ]
            if answer.skip:
                said.append("skip")
            because = f", because {answer.because}" if answer.because else ""
            by = f" ({answer.by})" if answer.by else ""
            told.append((self.mask(answer, records, substances=substances), f"answer: {', '.join(said)}{because}{by}"))
        return told

    def settles(self, problem: Problem) -> bool:
        """Whether an answer says what the words of a sheet left open."""
        return problem.code == "basis-unclear" and any(
            answer.basis and is_file(answer.file, problem.file) and answer.sheet in (None, problem.sheet)
            for answer in self.answers
        )

    def problems(self) -> list[Problem]:
        """Answers that meant nothing."""
        return [
            Problem(
                "answer-unused",
                f"answer {place + 1} of the settings matches nothing that was read",
                "Check its file, sheet, row, column, sample and substance, or take it out.",
                file=answer.file,
                sheet=answer.sheet or "",
                row=answer.row,
                column=answer.column or "",
            )
            for place, answer in enumerate(self.answers)
            if place not in self.used
        ]


def is_file(wanted: str, shown: str) -> bool:
    """Whether an answer's ``file`` means the file that is shown so: the whole path, or its last part."""
    return wanted == shown or wanted.replace("\\", "/").rsplit("/", 1)[-1] == shown.rsplit("/", 1)[-1]


def _put(column: Column, which: Bools, text: str) -> Column:
    both = join([column, constant(text, 1)]) if len(column.codes) else column
    codes = both.codes[:-1].copy()
    codes[which] = both.codes[-1]
    return take(Column(codes, both.texts, both.kinds, both.numbers), np.arange(len(codes)))
