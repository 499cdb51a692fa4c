"""What is told of several samples at once. In: rows of results. Out: notices, and a problem for those of all parts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import texts_of
from screen.model import Problem

__all__ = ["Notice", "named", "notice_of", "problems_of"]


def named(samples: Sequence[str], most: int = 60) -> str:
    """Samples in words: ``sample A``, ``samples A, B``, ``samples A, B and 12 more``."""
    shown = ", ".join(str(sample) for sample in samples[:most])
    more = f" and {len(samples) - most} more" if len(samples) > most else ""
    return f"{'sample' if len(samples) == 1 else 'samples'} {shown}{more}"


@dataclass(frozen=True, slots=True)
class Notice:
    """One matter and the samples that it concerns, each with the place of the result by which it was met first.

    ``what`` follows their names and a colon. ``counted`` says that the number of ``results`` is told, ``placed`` that
    the first of them is: ``file``, ``sheet``, ``row``, ``column``.
    """

    code: str
    what: str
    mend: str
    severity: str
    counted: bool
    placed: bool
    samples: tuple[tuple[int, str], ...]
    results: int
    file: str
    sheet: str
    row: int | None
    column: str

    @property
    def first(self) -> int:
        """The lowest of the places."""
        return min(place for place, _ in self.samples)

    def as_plain(self) -> dict[str, Any]:
        """The same as plain data, for ``from_plain``."""
        return asdict(self)

    def placed_at(self, places: npt.NDArray[np.int64]) -> Notice:
        """The same with ``places[place]`` for every place: those of a part as those of the batch."""
        return replace(self, samples=tuple((int(places[place]), name) for place, name in self.samples))

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> Notice:
        """What ``as_plain`` made."""
        return cls(**plain | {"samples": tuple((int(place), str(name)) for place, name in plain["samples"])})


def notice_of(
    rows: pd.DataFrame,
    code: str,
    what: str,
    mend: str = "",
    severity: str = "warning",
    *,
    counted: bool = False,
    placed: bool = True,
) -> list[Notice]:
    """One notice of the samples of ``rows`` (RESULTS), whose index tells their places; none for no rows."""
    if rows.empty:
        return []
    ids = rows.index.to_numpy(dtype=np.int64)
    order = np.argsort(ids, kind="stable")
    met: dict[str, int] = {}
    for name, place in zip(texts_of(rows["sample"])[order], ids[order], strict=True):
        met.setdefault(str(name), int(place))
    first = rows.iloc[int(order[0])]
    return [
        Notice(
            code,
            what,
            mend,
            severity,
            counted,
            placed,
            tuple((place, name) for name, place in met.items()),
            len(rows),
            _text(first["file"]),
            _text(first["sheet"]),
            int(first["row"]) if pd.notna(first["row"]) else None,
            _text(first["column"]),
        )
    ]


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def problems_of(notices: Iterable[Notice]) -> tuple[Problem, ...]:
    """One problem for each matter, in the order of the results that they were met by."""
    matters: dict[tuple[str, str, str], list[Notice]] = {}
    for one in notices:
        matters.setdefault((one.code, one.what, one.mend), []).append(one)
    grouped = sorted(matters.values(), key=lambda own: (min(one.first for one in own), own[0].code, own[0].what))
    return tuple(_problem(sorted(own, key=lambda one: one.first)) for own in grouped)


def _problem(own: Sequence[Notice]) -> Problem:
    first = own[0]
    names = named([name for _, name in sorted(one for notice in own for one in notice.samples)])
    results = sum(one.results for one in own)
    count = f"{'1 result' if results == 1 else f'{results} results'} of " if first.counted else ""
    place: dict[str, Any] = (
        {"file": first.file, "sheet": first.sheet, "row": first.row, "column": first.column} if first.placed else {}
    )
    return Problem(first.code, f"{count}{names}: {first.what}.", first.mend, first.severity, **place)
