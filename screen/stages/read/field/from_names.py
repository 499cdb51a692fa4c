"""Lines for a field record from samples' names that look as if they hold a station and a depth: ``QE-1 (0-10 cm)``.

A name is never read so by itself: the lines are for the user, who alone can say that they are right.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable

from screen.stages.read.words.lengths import read_interval

__all__ = ["field_lines"]

_SPLIT = re.compile(r"[\s_,;/([-]+(?=\d)")


def field_lines(names: Iterable[str]) -> str:
    """A table of samples as CSV text, one line for each name that ends in a depth with its unit; empty for none."""
    rows = [(name, *found) for name in names if (found := _station_and_depth(name))]
    if not rows:
        return ""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([("sample", "station", "top", "bottom"), *rows])
    return text.getvalue()


def _station_and_depth(name: str) -> tuple[str, str, str] | None:
    for split in reversed(list(_SPLIT.finditer(name))):
        station, depth = name[: split.start()].strip(), name[split.end() :]
        top, bottom, wrong = read_interval(depth)
        if station and not wrong and top == top and bottom == bottom:
            return station, f"{top:.6g} cm", f"{bottom:.6g} cm"
    return None
