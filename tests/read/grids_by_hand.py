"""Grids made by hand, so that tests of later steps need no file."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from screen.stages.read.cells.grid import DATE, EMPTY, NUMBER, TEXT, Column, Grid


def grid(
    rows: Sequence[Sequence[object]], file: str = "record.xlsx", sheet: str = "one", *, hidden: bool = False
) -> Grid:
    """A grid of rows of texts, numbers and dates (ISO texts that begin with ``date:``)."""
    width = max((len(row) for row in rows), default=0)
    columns = [_column([row[at] if at < len(row) else "" for row in rows]) for at in range(width)]
    return Grid(file, sheet, len(rows), tuple(columns), hidden=hidden)


def _column(cells: Sequence[object]) -> Column:
    codes, distinct = pd.factorize(pd.Series(["", *cells], dtype=object))
    kinds = [_kind(cell) for cell in distinct]
    texts = [str(cell).removeprefix("date:") for cell in distinct]
    numbers = [float(cell) if isinstance(cell, int | float) else np.nan for cell in distinct]
    return Column(
        codes[1:].astype(np.int32), np.array(texts, dtype=object), np.array(kinds, dtype=np.uint8), np.array(numbers)
    )


def _kind(cell: object) -> int:
    if isinstance(cell, int | float):
        return NUMBER
    if str(cell).startswith("date:"):
        return DATE
    return TEXT if cell else EMPTY
