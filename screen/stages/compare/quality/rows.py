"""Rows of the table of quality checks: in go outcomes, out comes a frame with the columns QUALITY."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from screen.columns import Texts
from screen.model import QUALITY

__all__ = ["simple", "stacked_checks"]

_TEXTS = [name for name in QUALITY if name not in ("value", "row")]


def stacked_checks(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Rows of checks under one another: columns QUALITY."""
    filled: list[pd.DataFrame] = [_typed(part) for part in parts if len(part)]
    if not filled:
        return pd.DataFrame(columns=QUALITY)
    table = pd.concat(filled, ignore_index=True)
    return table.astype(dict.fromkeys(_TEXTS, "category"))


def _typed(part: pd.DataFrame) -> pd.DataFrame:
    """The columns of QUALITY, texts as objects, so that parts can be stacked."""
    whole = part.reindex(columns=QUALITY)
    return whole.assign(
        **{name: whole[name].astype(object) for name in _TEXTS},
        **{name: whole[name].astype(np.float64) for name in ("value", "row")},
    )


def simple(
    check: str, substance: str, samples: Sequence[str] | Texts, value: object, criterion: str, outcome: str, note: str
) -> pd.DataFrame:
    """One check of several samples that has the same substance, criterion, outcome and note for all."""
    return pd.DataFrame(
        {
            "check": check,
            "sample": list(samples),
            "substance": substance,
            "value": value,
            "criterion": criterion,
            "outcome": outcome,
            "note": note,
        }
    )
