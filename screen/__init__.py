"""Siltmark: what a batch of sediment laboratory results means, every figure traceable to its cell.

The stages are plain functions over pandas frames; ``run`` does them all. Names are imported when first used, so that
``import screen`` costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from screen.compare import compare as compare
    from screen.compare import stations as stations
    from screen.model import Batch as Batch
    from screen.model import Problem as Problem
    from screen.model import Run as Run
    from screen.normalise import normalise as normalise
    from screen.pipeline import run as run
    from screen.read import read as read
    from screen.report import report as report
    from screen.settings import Settings as Settings
    from screen.sums import total as total

_WHERE = {
    "Batch": "screen.model",
    "Problem": "screen.model",
    "Run": "screen.model",
    "Settings": "screen.settings",
    "compare": "screen.compare",
    "normalise": "screen.normalise",
    "read": "screen.read",
    "report": "screen.report",
    "run": "screen.pipeline",
    "stations": "screen.compare",
    "total": "screen.sums",
}
__all__ = sorted(_WHERE)


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'screen' has no attribute {name!r}")
    return getattr(importlib.import_module(_WHERE[name]), name)
