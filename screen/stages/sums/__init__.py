"""Results on dry weight to totals: one row per sample, total and rule for members that were not detected."""

from __future__ import annotations

from screen.stages.sums.totals import total

__all__ = ["total"]
