"""What only the user can answer, and how: problems in, questions with the lines that settle them out; the tables found.

Both are plain dicts, for ``siltmark read --json``.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence

from screen.letters import column_letter
from screen.model import Problem
from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.layouts import Table

__all__ = ["answer_lines", "questions_of", "quoted", "reading_lines", "tables_of"]


def questions_of(problems: Sequence[Problem]) -> list[dict[str, object]]:
    """One question for each thing that an answer of the user settles: code, file, sheet, cell, text, answer."""
    found: list[dict[str, object]] = []
    seen: set[tuple[str, str, str]] = set()
    for problem in problems:
        say = _ANSWERS.get(problem.code)
        if say is None:
            continue
        answer = say(problem)
        key = (problem.code, problem.file, answer)
        if key in seen:
            continue
        seen.add(key)
        cell = f"{problem.column}{problem.row}" if problem.row is not None and problem.column else ""
        found.append(
            {
                "code": problem.code,
                "file": problem.file,
                "sheet": problem.sheet,
                "cell": cell,
                "text": problem.message,
                "answer": answer,
            }
        )
    return found


def _reading(line: str) -> Callable[[Problem], str]:
    return lambda problem: reading_lines(line)(problem.file, problem.sheet)


def reading_lines(line: str) -> Callable[[str, str], str]:
    """The ``[reading]`` table with this line, whatever the file and sheet."""
    return lambda file, sheet: f"[reading]\n{line}"


def answer_lines(*lines: str) -> Callable[[str, str], str]:
    """The ``[[answers]]`` table with these lines for a file and sheet."""

    def say(file: str, sheet: str) -> str:
        place = [f"file = {quoted(file)}", *([f"sheet = {quoted(sheet)}"] if sheet else [])]
        return "\n".join(["[[answers]]", *place, *sorted(lines, reverse=True)])

    return say


def _answer(line: str, *, row: bool = False, column: bool = False) -> Callable[[Problem], str]:
    def say(problem: Problem) -> str:
        place = [f"row = {problem.row}"] if row and problem.row is not None else []
        place += [f"column = {quoted(problem.column)}"] if column and problem.column else []
        head = answer_lines()(problem.file, problem.sheet)
        return "\n".join([head, *place, line])

    return say


def quoted(text: str) -> str:
    """A text as TOML writes it."""
    return json.dumps(text, ensure_ascii=False)


def _asked(problem: Problem) -> str:
    """The word that the message proposes for a header."""
    return problem.message.partition("did you mean '")[2].partition("'")[0] or "Result"


#: For a cell without a figure: what it says is not known, and can be left open.
_LEFT_OUT = 'read_as = "NA"  # not reported; or the figure in its place'
_ANSWERS: dict[str, Callable[[Problem], str]] = {
    "basis-conflict": _answer('basis = "dry"'),
    "basis-unclear": _answer('basis = "dry"'),
    "unit-missing": _answer('unit = "mg/kg"'),
    "unit-unknown": _answer('unit = "mg/kg"'),
    "unit-ambiguous": _answer('unit = "ng/kg"'),
    "decimal-unclear": _answer('decimal = "point"'),
    "date-ambiguous": _answer('dates = "day-first"'),
    "bare-zero": _reading('zeros = "nondetect"'),
    "soil": _reading('soil = "include"'),
    "conflict": _answer("skip = true", row=True, column=True),
    "header-unclear": lambda problem: _answer(f"read_as = {quoted(_asked(problem))}", row=True, column=True)(problem),
    "two-qualifiers": _answer('read_as = "Validation Qualifier"', row=True, column=True),
    "not-a-number": _answer(_LEFT_OUT, row=True, column=True),
    "date-for-number": _answer(_LEFT_OUT, row=True, column=True),
    "not-one-number": _answer(_LEFT_OUT, row=True, column=True),
    "filler-code": _answer(_LEFT_OUT, row=True, column=True),
}


def tables_of(grids: Sequence[Grid], tables: Sequence[Sequence[Table]]) -> list[dict[str, object]]:
    """Each table found: file, sheet, range, layout, why, and its fields with the columns or rows that give them."""
    found: list[dict[str, object]] = []
    for grid, own in zip(grids, tables, strict=True):
        for table in own:
            fields = {name: f"column {column_letter(column)}" for name, column in table.row_fields.items()}
            fields |= {name: f"row {row + 1}" for name, row in table.column_fields.items()}
            fields |= {
                name: f"cell {column_letter(place.column)}{place.row + 1}" if place.row >= 0 else "name of the sheet"
                for name, place in table.labels.items()
                if name not in fields
            }
            shown = [column_letter(value.column) for value in table.values]
            fields["value"] = (
                f"columns {', '.join(shown[:12])}{' ...' if len(shown) > 12 else ''}"
                if len(shown) > 1
                else f"column {shown[0]}"
            )
            found.append(
                {
                    "file": grid.file,
                    "sheet": grid.sheet,
                    "range": table.range,
                    "layout": table.layout,
                    "why": "; ".join(table.why),
                    "fields": fields,
                }
            )
    return found
