"""Tables put together from those of the parts, in the order of one batch. In: rows and their numbers. Out: blocks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import coded, spread, stacked
from screen.parts.kept import Rows

__all__ = ["BLOCK", "Pieces", "under"]

#: Rows of a block; the same however the batch was cut.
BLOCK = 1 << 20
Ints = npt.NDArray[np.int64]


def under(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Frames of the same columns under one another; texts stay coded."""
    filled = [frame for frame in frames if len(frame)] or list(frames[:1])
    if len(filled) == 1:
        return filled[0]
    columns: dict[str, object] = {}
    for name in filled[0].columns:
        parts = [frame[name] for frame in filled]
        if any(isinstance(part.dtype, pd.CategoricalDtype) for part in parts):
            columns[name] = spread(*stacked([coded(part) for part in parts]))
        else:
            columns[name] = pd.concat(parts, ignore_index=True)
    return pd.DataFrame(columns, copy=False)


@dataclass(slots=True)
class Pieces:
    """One table in pieces. ``numbers`` orders the rows of each piece among those of all; in a piece they rise.

    Rows with the same number stand in one piece, in their order.
    """

    rows: list[Rows]
    numbers: list[Ints]

    def __len__(self) -> int:
        """The number of rows."""
        return sum(map(len, self.rows))

    def blocks(self, names: Sequence[str] | None = None) -> Iterator[pd.DataFrame]:
        """The rows in order, BLOCK at a time, with all columns or those that are named."""
        numbers = np.concatenate(self.numbers) if self.numbers else np.zeros(0, dtype=np.int64)
        order = None if (numbers[1:] >= numbers[:-1]).all() else np.argsort(numbers, kind="stable")
        starts = np.cumsum([0, *map(len, self.rows)])
        for start in range(0, max(len(numbers), 1), BLOCK):
            stop = min(start + BLOCK, len(numbers))
            yield self._block(np.arange(start, stop) if order is None else order[start:stop], starts, names)

    def _block(self, wanted: Ints, starts: Ints, names: Sequence[str] | None) -> pd.DataFrame:
        piece = np.searchsorted(starts, wanted, side="right") - 1
        found, back = [], []
        for at in np.unique(piece) if len(wanted) else [0]:
            here = np.flatnonzero(piece == at)
            own = wanted[here] - starts[at]
            dense = len(own) and own[-1] - own[0] + 1 == len(own) and (np.diff(own) == 1).all()
            found.append(self.rows[at].at(slice(int(own[0]), int(own[-1]) + 1) if dense else own, names))
            back.append(here)
        if len(found) == 1:
            return found[0]
        together = under(found)
        order = np.argsort(np.concatenate(back), kind="stable")
        return together if (np.diff(order) == 1).all() else together.iloc[order].reset_index(drop=True)

    def whole(self, names: Sequence[str] | None = None) -> pd.DataFrame:
        """All rows in order."""
        return under(list(self.blocks(names)))
