"""The one rule for results without a point value where a mean needs a figure. In: value, bounds. Out: a figure each."""

from __future__ import annotations

import numpy as np

from screen.columns import Floats

__all__ = ["at_half_limit"]


def at_half_limit(value: Floats, low: Floats, high: Floats) -> Floats:
    """``value`` where there is one, else half of ``high``, though never less than ``low``; NaN without an upper bound.

    A non-detect has ``low`` 0 and its limit as ``high``; a trace lies between its detection and quantitation limits.
    """
    half = np.where(np.isnan(high), np.nan, np.fmax(high / 2, low))
    return np.where(np.isnan(value), half, value)
