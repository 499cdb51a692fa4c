"""Rows of a run's tables as plain values, and the shape of a step. A missing cell is ``None`` or the empty text."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["blank", "near", "number", "place_of", "records", "same", "step_of", "text", "times"]


def records(frame: pd.DataFrame, columns: Sequence[str] | None = None) -> list[dict[str, Any]]:
    """The rows of ``frame`` as plain dicts, of all columns or of those named."""
    names = list(frame.columns if columns is None else columns)
    return [dict(zip(names, row, strict=True)) for row in zip(*(frame[name].tolist() for name in names), strict=True)]


def blank(value: object) -> bool:
    """Whether a cell is missing."""
    if isinstance(value, str):
        return value in ("", "nan", "<NA>")
    if isinstance(value, float):
        return math.isnan(value)
    return value is None or str(value) == "<NA>"


def number(value: object) -> float | None:
    """The cell as a number."""
    return None if blank(value) else float(value)  # type: ignore[arg-type]


def text(value: object) -> str:
    """The cell as text."""
    return "" if blank(value) else str(value)


def step_of(
    step: str, start: object, by: object, operation: str, to: object, unit: str, source: str, **more: object
) -> dict[str, Any]:
    """One step of a chain."""
    return {
        "step": step,
        "from": start,
        "by": by,
        "operation": operation,
        "to": to,
        "unit": unit,
        "source": source,
    } | more


def place_of(row: Mapping[str, Any]) -> dict[str, Any]:
    """Where the cell of a result stands in its sheet."""
    return {
        "file": text(row["file"]),
        "sheet": text(row["sheet"]),
        "row": None if blank(row["row"]) else int(row["row"]),
        "column": text(row["column"]),
    }


def same(one: float | None, other: float | None) -> bool:
    """Whether two figures are equal within 1e-9, relative, or both missing."""
    if one is None or other is None:
        return one is None and other is None
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=0.0)


def near(one: float | None, other: float) -> bool:
    """Whether there is a figure, and it is ``other`` within 1e-9."""
    return one is not None and math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)


def times(value: float | None, by: float) -> float | None:
    """The figure multiplied, where there is one."""
    return None if value is None else value * by
