"""What the titles, notes and the cover of a file say for a table: unit, basis and the legend of flags.

In: the grids of one file with their tables. Out: ``SheetWords`` for each table, and questions where words contradict.
Strength (intake handbook 4): the table's own title, then the sheet's notes and legend, then sheets that hold no table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from screen.letters import column_letter
from screen.model import Problem
from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.labels import beside_labels, lines
from screen.stages.read.tables.layouts import Place, Table
from screen.stages.read.tables.legend import read_legend
from screen.stages.read.words.meanings import basis_in_text, unit_in_text
from screen.stages.read.words.qualifiers import Legend

__all__ = ["SheetWords", "read_words"]

_LONGEST = 400


@dataclass(slots=True)
class SheetWords:
    """``basis`` is strict (rows that say otherwise are refused), ``default_basis`` for rows that say nothing."""

    unit: str = ""
    basis: str = ""
    default_basis: str = ""
    legend: Legend = field(default_factory=dict)
    place: Place | None = None


def read_words(
    grids: Sequence[Grid], tables: Sequence[Sequence[Table]]
) -> tuple[list[list[SheetWords]], list[Problem]]:
    """The words for each table of each grid of one file."""
    problems: list[Problem] = []
    cover: list[tuple[Grid, Place]] = []
    for grid, own in zip(grids, tables, strict=True):
        if not own and not grid.hidden and grid.rows < 5000:
            cover.extend((grid, place) for place in lines(grid))
    found = []
    for grid, own in zip(grids, tables, strict=True):
        found.append(_of_grid(grid, own, cover, problems) if own else [])
    return found, problems


def _of_grid(
    grid: Grid, tables: Sequence[Table], cover: Sequence[tuple[Grid, Place]], problems: list[Problem]
) -> list[SheetWords]:
    outside = np.ones(grid.rows, dtype=bool)
    for table in tables:
        outside[table.body] = False
        outside[[*table.headers, *table.dropped_rows]] = False
        outside[table.bands[table.bands >= 0]] = False
    labels: dict[tuple[int, int], set[str]] = {}
    for label in (place for table in tables for place in table.labels.values()):
        labels.setdefault((label.row, label.column), set()).add(label.text)
    notes = [
        said
        for place in lines(grid, outside)
        if len(place.text) <= _LONGEST * 5
        for said in beside_labels(place, labels.get((place.row, place.column), ()))
    ]
    last = max(table.bottom for table in tables)
    words = []
    for table in tables:
        above = max((one.bottom + 1 for one in tables if one.bottom < table.top), default=0)
        title = [place for place in notes if above <= place.row < table.top and _near(place, table, tables)]
        inside = [place for place in notes if table.top <= place.row <= table.bottom and _near(place, table, tables)]
        first = [place for place in notes if place.row < tables[0].top]
        after = [place for place in notes if place.row > last]
        levels = [[*title], [*inside, *first, *after]]
        one = SheetWords(legend=read_legend([place.text for place in notes] + [place.text for _, place in cover]))
        for level in levels:
            if not one.unit:
                units = {unit_in_text(place.text) for place in level if not _is_label(place)} - {""}
                one.unit = units.pop() if len(units) == 1 else ""
        stated = [[(grid, place) for place in level] for level in levels]
        _basis([*stated, list(cover)], one, problems)
        words.append(one)
    return words


def _is_label(place: Place) -> bool:
    return len(place.text) > _LONGEST


def _near(place: Place, table: Table, tables: Sequence[Table]) -> bool:
    """A note belongs to a table unless another table that stands beside it starts nearer."""
    beside = [one for one in tables if one is not table and one.top <= table.bottom and one.bottom >= table.top]
    if not beside:
        return True
    return table.left <= place.column <= table.right or not any(one.left <= place.column <= one.right for one in beside)


def _basis(levels: Sequence[Sequence[tuple[Grid, Place]]], words: SheetWords, problems: list[Problem]) -> None:
    """The basis that title, notes and cover state; of two statements that disagree none is taken.

    A statement holds for every row and is refused where a row says otherwise; a sentence that lets rows differ is only
    the default under them, the nearest one first.
    """
    strict: list[tuple[Grid, Place, str]] = []
    loose: list[tuple[Grid, Place, str]] = []
    for level in levels:
        for grid, place in level:
            said = basis_in_text(place.text)
            if said.basis and not said.default:
                strict.append((grid, place, said.basis))
            elif said.basis in ("dry", "wet") and not loose:
                loose.append((grid, place, said.basis))
    bases = {basis for *_, basis in strict}
    if len(bases) == 2 and "both" in bases:
        strict = [one for one in strict if one[2] != "both"]
        bases -= {"both"}
    if bases == {"dry"} or bases == {"wet"}:
        grid, words.place, words.basis = strict[0]
        _quote(grid, words.place, words.basis, problems)
    elif bases:
        grid, place, basis = strict[0]
        other = next((one for one in strict if one[2] != basis), None)
        against = f" and {other[1].text[:120]!r} in {_where(*other[:2])}" if other else ""
        problem = Problem(
            "basis-unclear",
            f"the notes speak of dry and of wet weight ({place.text[:120]!r}{against}); which holds for the results is "
            "not clear, so none was taken",
            'Say it with --basis, or with basis = "dry" (or "wet") in an [[answers]] of this file and sheet.',
            file=grid.file,
            sheet=grid.sheet,
            row=place.row + 1,
            column=column_letter(place.column),
        )
        if problem not in problems:
            problems.append(problem)
    elif loose:
        grid, words.place, words.default_basis = loose[0]
        _quote(grid, words.place, words.default_basis, problems)


def _where(grid: Grid, place: Place) -> str:
    sheet = f"sheet {grid.sheet}, " if grid.sheet else ""
    return f"{sheet}cell {column_letter(place.column)}{place.row + 1}"


def _quote(grid: Grid, place: Place, basis: str, problems: list[Problem]) -> None:
    problem = Problem(
        "basis-from-note",
        f"the basis of rows that state none is taken as {basis} weight from the words {place.text[:120]!r}",
        "Check that the words hold for this table.",
        file=grid.file,
        sheet=grid.sheet,
        row=place.row + 1,
        column=column_letter(place.column),
    )
    if problem not in problems:
        problems.append(problem)
