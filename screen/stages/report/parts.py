"""The parts that pages are made of: tables of finished cells. In: texts and figures. Out: what the templates print."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from screen.stages.report.facts import Finding
from screen.stages.report.marks import WORDS
from screen.stages.report.numbers import counted, padding
from screen.stages.report.text import number_text

_Row = TypeVar("_Row")

__all__ = ["MOST_PRINTED", "Cell", "Head", "Mark", "Table", "condensed", "listing", "mark", "number", "simple"]


#: Of a longer table only the first rows are printed (the style sheet counts them too).
MOST_PRINTED = 30


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark: what it stands for, its word, and what is written under it."""

    sample: str
    substance: str
    set: str
    finding: str
    word: str
    unsettled: bool
    quotient: str = ""
    weak: str = ""
    weak_word: str = ""
    kind: str = ""
    chain: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """A finished cell. ``full`` is the whole figure, ``pad`` what brings decimal marks under one another."""

    text: str = ""
    full: str = ""
    pad: str = ""
    kind: str = ""
    mark: Mark | None = None
    link: str = ""


@dataclass(frozen=True, slots=True)
class Head:
    """A column's name and its unit; ``kind`` is "n" for figures, "w" for long words."""

    text: str
    unit: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table with its caption; the first cell of each row is its head.

    ``whole`` is the number of rows in the table of the run named ``source``, where the page may not have them all.
    """

    identity: str
    caption: str
    heads: tuple[Head, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    folded: bool = False
    kind: str = ""
    groups: tuple[tuple[str, int], ...] = ()
    printed: bool = True
    whole: int = 0
    source: str = ""

    @property
    def cut(self) -> bool:
        """Whether some of its rows are left out of the print."""
        return not self.kind and len(self.rows) > MOST_PRINTED

    @property
    def shown(self) -> str:
        """How many rows the page shows, where that is not all of them."""
        return self._of_all(len(self.rows), "shown")

    @property
    def on_paper(self) -> str:
        """How many rows are printed, where that is not all of them."""
        return self._of_all(MOST_PRINTED if self.cut else len(self.rows), "printed")

    def _of_all(self, number: int, how: str) -> str:
        whole = max(self.whole, len(self.rows))
        if number >= whole:
            return ""
        where = f"; all are in the table {self.source}" if self.source else ""
        return f"The first {number:,} of {counted(whole, 'row')} are {how}{where}."


def number(shown: str, value: float | None) -> Cell:
    """A figure as shown, with the full one behind it."""
    full = number_text(value) if value is not None else ""
    return Cell(shown, full, kind="n")


def aligned(rows: Iterable[Sequence[Cell]]) -> tuple[tuple[Cell, ...], ...]:
    """The rows with the figures of each column padded so that their decimal marks stand under one another."""
    columns = [list(column) for column in zip(*rows, strict=True)]
    for column in columns:
        if any(cell.kind == "n" for cell in column):
            pads = padding([cell.text if cell.kind == "n" else "" for cell in column])
            column[:] = [
                Cell(cell.text, cell.full, pad, cell.kind, link=cell.link) if cell.kind == "n" else cell
                for cell, pad in zip(column, pads, strict=True)
            ]
    return tuple(zip(*columns, strict=True))


def simple(
    identity: str,
    caption: str,
    heads: Sequence[str | Head],
    rows: Iterable[Sequence[str | Cell]],
    *,
    folded: bool = False,
    note: str = "",
    printed: bool = True,
) -> Table:
    """A table of texts and finished cells."""
    return Table(
        identity,
        caption,
        tuple(head if isinstance(head, Head) else Head(head) for head in heads),
        aligned([[cell if isinstance(cell, Cell) else Cell(cell) for cell in row] for row in rows]),
        note,
        folded,
        printed=printed,
    )


def listing(
    identity: str,
    caption: str,
    heads: Sequence[str | Head],
    rows: Sequence[_Row],
    make: Callable[[_Row], Sequence[str | Cell]],
    *,
    source: str,
    most: int,
    whole: int = 0,
    folded: bool = False,
    note: str = "",
    printed: bool = True,
) -> Table:
    """A table of the first ``most`` of ``rows``, each made by ``make``; it says where all of them are.

    ``source`` names the table of the run that holds them; ``whole`` is how many there are where ``rows`` is a choice.
    """
    table = simple(
        identity, caption, heads, [make(row) for row in rows[:most]], folded=folded, note=note, printed=printed
    )
    return replace(condensed(table), whole=max(whole, len(rows)), source=source)


#: A text of more signs that several rows share stands once under the table, by a letter.
_LONG = 40


def condensed(table: Table) -> Table:
    """``table`` without columns that hold nothing, and with long words that rows share told once under it."""
    kept = [at for at in range(len(table.heads)) if at == 0 or any(_filled(row[at]) for row in table.rows)]
    columns = {at: [row[at] for row in table.rows] for at in kept}
    told: dict[str, str] = {}
    for at in kept:
        long = [cell.text for cell in columns[at] if len(cell.text) > _LONG]
        if table.heads[at].kind == "w" and len(set(long)) <= len(long) // 2:
            for text in long:
                told.setdefault(text, f"({len(told) + 1})")
            columns[at] = [Cell(told.get(cell.text, cell.text)) for cell in columns[at]]
    notes = [*(f"{sign} {text.rstrip('.')}." for text, sign in told.items()), *filter(None, [table.note])]
    return replace(
        table,
        heads=tuple(table.heads[at] for at in kept),
        rows=tuple(zip(*columns.values(), strict=True)),
        note=" ".join(notes),
    )


def _filled(cell: Cell) -> bool:
    return bool(cell.text or cell.mark)


_WEAK = {"from_memory": ("m", "level from memory"), "conflict": ("c", "sources of the level conflict")}


def mark(one: Finding, quotient: str = "", chain: str = "", kind: str = "") -> Mark:
    """The mark of one finding."""
    weak, weak_word = _WEAK.get(one.evidence, ("", ""))
    if one.finding not in WORDS:
        raise ValueError(f"finding {one.finding!r} is none of {', '.join(WORDS)}")
    shown = one.unsettled and one.finding != "undetermined"
    return Mark(
        one.sample,
        one.substance,
        one.set,
        one.finding,
        one.word,
        shown,
        quotient,
        weak,
        weak_word,
        kind,
        chain,
    )
