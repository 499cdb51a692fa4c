"""Results and totals to findings, quality, indices and the tables by station, reach and core."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from screen.stages.compare.findings.findings import compare as compare
    from screen.stages.compare.places.stations import summarise_stations

    stations = summarise_stations

_WHERE = {
    "compare": ("screen.stages.compare.findings.findings", "compare"),
    "stations": ("screen.stages.compare.places.stations", "summarise_stations"),
}
__all__ = sorted(_WHERE)


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'screen.stages.compare' has no attribute {name!r}")
    module, function = _WHERE[name]
    return getattr(importlib.import_module(module), function)
