"""Where the steps of a batch are done: in this process, or on a cluster. In: steps. Out: what they gave.

A step is a plain function of the number of its part, of what all parts share, and of what is the part's own. It leaves
its frames on a shelf. Whoever does the steps changes nothing of what they give.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any, Protocol

from screen.stages.read.cells.ahead import Ahead

if TYPE_CHECKING:
    from pathlib import Path

    from screen.parts.cut import Cut
    from screen.parts.reading import Reading
    from screen.parts.work import Files
    from screen.settings import Settings
    from screen.stages.read.cells.files import Source
    from screen.stages.read.gathering import Lot, Start, Unit
    from screen.stages.read.opening import Read

__all__ = ["Executor", "Here", "Tell", "executor"]

#: Told the number of a step that is begun or done.
Tell = Callable[[int], None]


class Executor(Protocol):
    """Does the steps of a batch. ``apart``: in other processes, so that what the steps keep must lie in a folder."""

    apart: bool

    def look(self, sources: Sequence[Source], beside: Path) -> Sequence[Source]:
        """The sources as the steps will open them; ``beside`` is the folder in which work is kept.

        Raises SettingsError where the steps could not be done there.
        """

    def opening(
        self, sources: Sequence[Source], settings: Settings, files: Files
    ) -> AbstractContextManager[Callable[[Source, Settings], Read]]:
        """What opens each of the sources, in their order."""

    def read(self, known: Reading, sources: Sequence[Source], tell: Tell) -> list[Unit]:
        """Every file as read; the records themselves may be elsewhere."""

    def lots(
        self, units: Sequence[Unit], starts: Sequence[Start], parts: Cut, wanted: Sequence[int]
    ) -> Callable[[int], Any]:
        """The lot of each of the ``wanted`` parts, by its number, as a step takes it. Each is asked for once."""

    def each(
        self,
        step: Callable[..., Any],
        known: Any,
        own: Callable[[int], tuple[Any, ...]],
        parts: Sequence[int],
        tell: Tell,
    ) -> list[Any]:
        """What ``step(part, known, *own(part))`` gives for each of the parts, in their order."""


class Here:
    """Does every step in this process, one after another."""

    apart = False

    def look(self, sources: Sequence[Source], beside: Path) -> Sequence[Source]:
        """The sources as they are."""
        return sources

    def opening(
        self, sources: Sequence[Source], settings: Settings, files: Files
    ) -> AbstractContextManager[Callable[[Source, Settings], Read]]:
        """What opens each of the sources, one ahead of the work."""
        return Ahead(sources, settings, files)

    def read(self, known: Reading, sources: Sequence[Source], tell: Tell) -> list[Unit]:
        """Every file as read, with its records."""
        from screen.parts.reading import read_file

        return self.each(read_file, known, lambda number: (sources[number],), range(len(sources)), tell)

    def lots(
        self, units: Sequence[Unit], starts: Sequence[Start], parts: Cut, wanted: Sequence[int]
    ) -> Callable[[int], Lot]:
        """The lot of each of the ``wanted`` parts, cut when it is asked for."""
        import numpy as np

        from screen.stages.read.gathering import lot_of

        whole = lot_of(units, starts) if wanted else lot_of([], [])
        if parts.count == 1:
            return lambda part: whole
        of_record = parts.of_owner[whole.owner]
        return lambda part: whole.at(np.flatnonzero(of_record == part))

    def each(
        self,
        step: Callable[..., Any],
        known: Any,
        own: Callable[[int], tuple[Any, ...]],
        parts: Sequence[int],
        tell: Tell,
    ) -> list[Any]:
        """What ``step(part, known, *own(part))`` gives for each of the parts, in their order."""
        given = []
        for part in parts:
            tell(part)
            given.append(step(part, known, *own(part)))
        return given


@contextlib.contextmanager
def executor(settings: Settings) -> Iterator[Executor]:
    """What does the steps of a run: this process, or the cluster that the settings name.

    Raises SettingsError for a cluster that cannot be reached.
    """
    if settings.cluster is None:
        yield Here()
        return
    from screen.parts.cluster import cluster

    with cluster(settings.cluster) as found:
        yield found
