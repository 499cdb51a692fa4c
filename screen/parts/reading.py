"""The step that reads one file. In: a file and what all files share. Out: a ``Unit``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from screen.stages.read.gathering import Unit, read_unit
from screen.stages.read.opening import Read, knower

if TYPE_CHECKING:
    from screen.reference.names import NameBook
    from screen.settings import Settings
    from screen.stages.read.cells.files import Source
    from screen.stages.read.tables.evidence import Knows

__all__ = ["Reading", "read_file", "reading"]


@dataclass(frozen=True, slots=True)
class Reading:
    """What reading any file asks for; ``opened`` gives the grids of a file and what is wrong with it."""

    settings: Settings
    book: NameBook
    opened: Callable[[Source, Settings], Read]
    knows: Knows

    def __reduce__(self) -> tuple[Callable[..., Reading], tuple[Any, ...]]:
        """What another process makes of it."""
        return reading, (self.settings, self.book, self.opened)


def reading(settings: Settings, book: NameBook, opened: Callable[[Source, Settings], Read]) -> Reading:
    """What reading any file asks for."""
    return Reading(settings, book, opened, knower(book))


def read_file(number: int, known: Reading, source: Source) -> Unit:
    """Read one file of the batch, the one of this ``number``."""
    return read_unit(source, known.settings, known.book, known.knows, known.opened)
