"""A table of a sheet as found: where its header, body and results stand, and whence each field of a result comes."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from screen.letters import column_letter

__all__ = ["Place", "Table", "ValueColumn", "no_rows", "without_tail"]

Rows = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Place:
    """A text and the cell where it stands (row and column from 0)."""

    text: str
    row: int
    column: int


@dataclass(slots=True)
class ValueColumn:
    """A column of results: where it stands, the column whose header names it, and the columns beside it by field.

    ``unit`` is the title above a group of columns that gives their unit and perhaps their basis.
    """

    column: int
    named: int
    beside: dict[str, int] = field(default_factory=dict)
    name: str = ""
    unit: Place | None = None


@dataclass(slots=True)
class Table:
    """One table of a sheet. Rows and columns count from 0; ``right`` and the last of ``body`` are inside.

    - ``row_fields``: field -> column that gives it for each row.
    - ``column_fields``: field -> header row that gives it for each column of results.
    - ``bands``: for each body row the row of the band title above it, or -1.
    - ``labels``: field -> label beside or above the table (``Sample ID: QE-1``).
    - ``rests``: field -> what its header says besides, mostly a unit.
    - ``dropped``: column -> why its cells are no results.
    - ``dropped_rows``: the same for whole rows. ``spare``: second columns of a field that another column gives.
    - ``limits_below``: body row -> field of a limit -> the row below it that gives it.
    - ``slipped``: columns of results whose cells belong to another column; ``slipped_rows``: rows of that kind.
    - ``anchor``: the column that names what was measured (samples down: the sample column). ``names``: the row that
      names the substances (samples down only).
    """

    layout: str
    left: int
    right: int
    headers: tuple[int, ...]
    body: Rows
    bands: Rows
    values: list[ValueColumn]
    row_fields: dict[str, int] = field(default_factory=dict)
    column_fields: dict[str, int] = field(default_factory=dict)
    labels: dict[str, Place] = field(default_factory=dict)
    rests: dict[str, Place] = field(default_factory=dict)
    dropped: dict[int, str] = field(default_factory=dict)
    dropped_rows: dict[int, str] = field(default_factory=dict)
    spare: dict[int, str] = field(default_factory=dict)
    limits_below: dict[int, dict[str, int]] = field(default_factory=dict)
    slipped: set[int] = field(default_factory=set)
    slipped_rows: set[int] = field(default_factory=set)
    why: list[str] = field(default_factory=list)
    anchor: int = -1
    names: int = -1

    @property
    def top(self) -> int:
        """The first row of the table."""
        rows = [*self.headers, *(self.body[:1].tolist())]
        return min(rows) if rows else 0

    @property
    def bottom(self) -> int:
        """The last row of the table."""
        rows = [*self.headers, *(self.body[-1:].tolist())]
        return max(rows) if rows else 0

    @property
    def range(self) -> str:
        """The table's area as a spreadsheet writes it: ``A3:F11``."""
        return f"{column_letter(self.left)}{self.top + 1}:{column_letter(self.right)}{self.bottom + 1}"


def no_rows() -> Rows:
    """An empty list of rows."""
    return np.zeros(0, dtype=np.int64)


def without_tail(body: npt.NDArray[np.bool_], good: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """The rows of a body without those behind its end: after the last ``good`` row, with a gap in between.

    A signature under the footnotes fills as many cells as a result does.
    """
    last = np.flatnonzero(body & good)
    if not len(last):
        return body
    gaps = np.flatnonzero(~body[last[-1] :])
    if not len(gaps):
        return body
    kept = body.copy()
    kept[last[-1] + gaps[0] :] = False
    return kept
