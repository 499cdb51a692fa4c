"""Files opened one ahead of the work: sources in, their grids out, in turn.

Unpacking, the reader library and Arrow work without the interpreter's lock, so a file is opened on another core while
the one before it is worked on, the first while the modules of the later stages are loaded.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType
from typing import Self

from screen.model import Problem
from screen.settings import Settings
from screen.stages.read.cells.files import Source, read_grids
from screen.stages.read.cells.grid import Grid

__all__ = ["Ahead"]

_Read = tuple[Sequence[Grid], Sequence[Problem]]


class Ahead:
    """Opens ``sources`` by ``read``, each once; call it in place of ``read`` for each, in their order.

    Use it as a context manager: no thread is left at work behind it.
    """

    def __init__(
        self,
        sources: Iterable[Source],
        settings: Settings,
        read: Callable[[Source, Settings], _Read] = read_grids,
    ) -> None:
        self._waiting = iter(sources)
        self._settings, self._read = settings, read
        self._pool = ThreadPoolExecutor(1)
        self._source, self._opened = self._begun()

    def _begun(self) -> tuple[Source | None, Future[_Read] | None]:
        source = next(self._waiting, None)
        return source, None if source is None else self._pool.submit(self._read, source, self._settings)

    def __call__(self, source: Source, settings: Settings) -> _Read:
        """The grids of ``source`` and what is wrong with it."""
        if source is not self._source or self._opened is None or settings is not self._settings:
            return self._read(source, settings)
        opened = self._opened.result()
        self._source, self._opened = self._begun()
        return opened

    def __enter__(self) -> Self:
        """The same."""
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        """Wait for the file in hand and let go of those that were not asked for."""
        self._pool.shutdown(cancel_futures=True)
