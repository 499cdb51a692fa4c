"""Problems and questions told once for all records that share them: how many there are, and the first cell.

In: masks of records. Out: what was told, which may come from several parts of a batch and is put together here: the
same words about the same sheet are one problem, in the order of the cells.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from screen.letters import column_letter
from screen.model import Problem
from screen.stages.read.cells.grid import Column, Grid
from screen.stages.read.records.melt import Records

__all__ = ["Conflict", "Grouped", "Told"]

Bools = npt.NDArray[np.bool_]
#: Conflicts of single samples that are told one by one; of more, the first.
CONFLICTS_TOLD = 50


@dataclass(frozen=True, slots=True, order=True)
class _Cell:
    """A cell of the batch: number of its sheet, row and column from 0. Cells are in the order read."""

    grid: int
    row: int
    column: int


@dataclass(frozen=True, slots=True)
class _Matter:
    """What is told, without the cells that it concerns."""

    code: str
    message: str
    mend: str
    severity: str
    grid: int


@dataclass(frozen=True, slots=True)
class Conflict:
    """Different results of one sample and substance: ``name`` and ``both`` in words, and the files that report them."""

    name: str
    both: str
    files: tuple[str, ...]


@dataclass(slots=True)
class Told:
    """All that was told of some records. Every entry keeps its first cell; ``problems`` has how many cells too, and
    ``detail``, which belongs to the first."""

    matters: dict[_Matter, tuple[int, _Cell, str]] = field(default_factory=dict)
    questions: dict[tuple[str, str, str, int], _Cell] = field(default_factory=dict)
    conflicts: list[tuple[_Cell, Conflict]] = field(default_factory=list)
    conflicts_left_out: int = 0

    def add(self, matter: _Matter, count: int, first: _Cell, detail: str = "") -> None:
        """Tell of ``count`` more cells."""
        if matter in self.matters:
            before, cell, words = self.matters[matter]
            count += before
            if cell < first:
                first, detail = cell, words
        self.matters[matter] = (count, first, detail)

    def problems(self, sheets: Sequence[Grid]) -> list[Problem]:
        """Everything told, in the order of the cells."""
        found = [(first, *self._problem(matter, sheets)) for matter, (_, first, _) in self.matters.items()]
        found += [(cell, *told) for cell, told in self._conflicts(sheets)]
        return [problem for *_, problem in sorted(found, key=lambda one: one[:-1])]

    def _problem(self, matter: _Matter, sheets: Sequence[Grid]) -> tuple[str, str, Problem]:
        count, first, detail = self.matters[matter]
        cells = f" ({count} cells, this is the first)" if count > 1 else ""
        message = f"{matter.message.rstrip('.')}{detail}{cells}"
        return matter.code, message, _at(sheets, first, Problem(matter.code, message, matter.mend, matter.severity))

    def _conflicts(self, sheets: Sequence[Grid]) -> Iterable[tuple[_Cell, tuple[str, str, Problem]]]:
        """Conflicts in words; of very many the first. What two files report differently is told once for the pair of
        files, since one of them may be the corrected report."""
        reports: dict[tuple[str, ...], list[tuple[_Cell, Conflict]]] = {}
        alone: list[tuple[_Cell, Conflict]] = []
        for one in sorted(self.conflicts, key=lambda one: (one[0], one[1].name)):
            (reports.setdefault(one[1].files, []) if len(one[1].files) > 1 else alone).append(one)
        for files, cases in reports.items():
            cell, first = cases[0]
            count = f" and {len(cases) - 1} more" if len(cases) > 1 else ""
            problem = Problem(
                "conflict",
                f"{files[0]} and {' and '.join(files[1:])} report different results of the same samples: {first.name}: "
                f"{first.both}{count}; none of them was taken",
                f"If {files[1]} is the corrected report, set skip = true for {files[0]} in an [[answers]]; if it is "
                f"the other way round, for {files[1]}. To take the higher result of each pair, set "
                'conflicts = "higher" under [reading].',
                "refused",
                files[0],
            )
            yield cell, (problem.code, problem.message, problem)
        for cell, single in alone[:CONFLICTS_TOLD]:
            problem = Problem(
                "conflict",
                f"{single.name}: different results and nothing says which counts: {single.both}; none was taken",
                "Set skip = true for the one that does not hold in an [[answers]], or "
                'conflicts = "higher" under [reading].',
                "refused",
            )
            yield cell, (problem.code, problem.message, _at(sheets, cell, problem))
        further = len(alone) - CONFLICTS_TOLD
        if further > 0:
            cell = alone[CONFLICTS_TOLD][0]
            problem = Problem(
                "conflict",
                f"{further} further samples and substances have different results too; the ledger lists them",
                "Answer for whole sheets where you can.",
                "refused",
            )
            yield cell, (problem.code, problem.message, _at(sheets, cell, problem))

    def asked(self, sheets: Sequence[Grid]) -> list[dict[str, object]]:
        """Every question, as a plain dict, in the order of the cells."""
        found = sorted(self.questions.items(), key=lambda one: (one[1], one[0]))
        return [
            {
                "code": code,
                "file": sheets[grid].file,
                "sheet": sheets[grid].sheet,
                "cell": f"{column_letter(cell.column)}{cell.row + 1}",
                "text": text,
                "answer": answer,
            }
            for (code, text, answer, grid), cell in found
        ]

    @classmethod
    def together(cls, parts: Iterable[Told]) -> Told:
        """What several parts told, as if they had been one."""
        whole = cls()
        for part in parts:
            for matter, (count, first, detail) in part.matters.items():
                whole.add(matter, count, first, detail)
            for key, cell in part.questions.items():
                whole.questions[key] = min(cell, whole.questions.get(key, cell))
            whole.conflicts += part.conflicts
        return whole

    def as_plain(self) -> dict[str, Any]:
        """The same as lists of texts and numbers, for ``from_plain``."""

        def cell(one: _Cell) -> list[int]:
            return [one.grid, one.row, one.column]

        return {
            "matters": [
                [one.code, one.message, one.mend, one.severity, one.grid, count, cell(first), detail]
                for one, (count, first, detail) in self.matters.items()
            ],
            "questions": [[*key, cell(first)] for key, first in self.questions.items()],
            "conflicts": [[cell(at), one.name, one.both, list(one.files)] for at, one in self.conflicts],
        }

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> Told:
        """What ``as_plain`` made."""
        told = cls()
        for *matter, count, first, detail in plain["matters"]:
            told.matters[_Matter(*matter)] = (count, _Cell(*first), detail)
        for *key, first in plain["questions"]:
            told.questions[(key[0], key[1], key[2], key[3])] = _Cell(*first)
        told.conflicts = [
            (_Cell(*at), Conflict(name, both, tuple(files))) for at, name, both, files in plain["conflicts"]
        ]
        return told


def _at(sheets: Sequence[Grid], cell: _Cell, problem: Problem) -> Problem:
    grid = sheets[cell.grid]
    return replace(problem, file=grid.file, sheet=grid.sheet, row=cell.row + 1, column=column_letter(cell.column))


class Grouped:
    """Tells of records by masks over them; what was told is ``told``."""

    def __init__(self, records: Records, grids: Sequence[Grid]) -> None:
        self.records, self.grids = records, grids
        self.told = Told()

    def _cell(self, row: int) -> _Cell:
        records = self.records
        return _Cell(int(records.grid[row]), int(records.row[row]), int(records.column[row]))

    def _by_sheet(self, which: Bools) -> Iterable[npt.NDArray[np.int64]]:
        places = np.flatnonzero(which)
        sheets = self.records.grid[places]
        for sheet in np.unique(sheets):
            yield places[sheets == sheet]

    def ask(self, which: Bools, code: str, text: str, answer: Callable[[str, str], str]) -> None:
        """One question for each sheet with records of ``which``; ``answer`` takes file and sheet."""
        for places in self._by_sheet(which):
            cell = self._cell(int(places[0]))
            grid = self.grids[cell.grid]
            key = (code, text, answer(grid.file, grid.sheet), cell.grid)
            self.told.questions[key] = min(cell, self.told.questions.get(key, cell))

    def tell(
        self,
        which: Bools,
        code: str,
        message: str,
        mend: str,
        severity: str = "warning",
        detail: Callable[[int], str] | None = None,
    ) -> None:
        """One problem per sheet for the records of ``which``; ``detail`` says more of the first, by its place."""
        for places in self._by_sheet(which):
            first = int(places[0])
            cell = self._cell(first)
            more = detail(first) if detail is not None else ""
            self.told.add(_Matter(code, message, mend, severity, cell.grid), len(places), cell, more)

    def tell_each(
        self, which: Bools, texts: Column, say: Callable[[str], tuple[str, str, str]], severity: str = "warning"
    ) -> None:
        """The same for each distinct text of ``texts``; ``say`` gives code, message and mend."""
        for code in np.unique(texts.codes[which]):
            text = str(texts.texts[code])
            self.tell(which & (texts.codes == code), *say(text), severity)

    def conflict(self, rows: Sequence[int], conflict: Conflict) -> None:
        """Different results of one sample and substance, which stand in ``rows``."""
        self.told.conflicts.append((self._cell(rows[0]), conflict))
