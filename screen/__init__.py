"""Siltmark: what a batch of sediment laboratory results means, every figure traceable to its cell.

The stages are plain functions over pandas frames; ``run`` does them all. Names are imported when first used, so that
``import screen`` costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from screen.model import Batch as Batch
    from screen.model import Problem as Problem
    from screen.model import Run as Run
    from screen.notebook import compare as compare
    from screen.notebook import stations as stations
    from screen.notebook import total as total
    from screen.pipeline import report as report
    from screen.pipeline import run as run
    from screen.settings import Settings as Settings
    from screen.stages.normalise import normalise as normalise
    from screen.stages.read.batch import read as read

#: Where each public name is made, and what it is called there.
_WHERE = {
    "Batch": ("screen.model", "Batch"),
    "Problem": ("screen.model", "Problem"),
    "Run": ("screen.model", "Run"),
    "Settings": ("screen.settings", "Settings"),
    "compare": ("screen.notebook", "compare"),
    "normalise": ("screen.stages.normalise", "normalise"),
    "read": ("screen.stages.read.batch", "read"),
    "report": ("screen.pipeline", "report"),
    "run": ("screen.pipeline", "run"),
    "stations": ("screen.notebook", "stations"),
    "total": ("screen.notebook", "total"),
}
__all__ = [
    "Batch",
    "Problem",
    "Run",
    "Settings",
    "compare",
    "normalise",
    "read",
    "report",
    "run",
    "stations",
    "total",
]


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'screen' has no attribute {name!r}")
    module, called = _WHERE[name]
    return getattr(importlib.import_module(module), called)
