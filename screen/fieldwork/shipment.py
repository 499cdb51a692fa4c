"""What goes to the laboratory. In: a field record. Out: one entry per sample, with all that a label or a form says.

Nothing is made up: what the field record leaves open stays open, and is left to be written by hand.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from screen.reference.holding_times import Analysis, analyses_asked
from screen.stages.read.field.record import FieldRecord

__all__ = ["Packed", "depth_words", "shipment"]

_CM_PER_INCH = 2.54
_EIGHTHS = 8


@dataclass(frozen=True, slots=True)
class Packed:
    """One sample as it is packed. Texts are empty where the field record says nothing.

    ``depth`` is the interval in words; ``containers`` the kinds of container, one entry each; ``analyses`` what is
    asked, as written, with its kind of analysis (None where the table of holding times has none).
    """

    sample: str
    station: str
    core: str
    depth: str
    date: str
    time: str
    containers: tuple[str, ...]
    preservation: str
    parent: str
    water: str
    analyses: tuple[tuple[str, Analysis | None], ...]


def shipment(record: FieldRecord) -> list[Packed]:
    """The samples of the record in its order; date, time and station come from the core where the sample has none."""
    cores = record.cores.set_index("core").to_dict("index")
    waters = dict(zip(record.stations["station"], record.stations["water"], strict=True))
    packed = []
    for row in record.samples.to_dict("records"):
        core: dict[Any, Any] = cores.get(row["core"], {})
        station = _first(row["station"], core.get("station"))
        packed.append(
            Packed(
                str(row["sample"]),
                station,
                _first(row["core"]),
                depth_words(float(row["depth_top_cm"]), float(row["depth_bottom_cm"])),
                _first(row["collected"], core.get("collected")),
                _clock(_first(row["time"], core.get("time"))),
                _containers(_first(row["container"])),
                _first(row["preservation"]),
                _first(row["parent"]),
                _first(waters.get(station)),
                tuple(analyses_asked(_first(row["analyses"]))),
            )
        )
    return packed


def depth_words(top: float, bottom: float) -> str:
    """An interval in cm in words; one that was taken in inches (whole eighths, no whole mm) gives both.

    ``0 to 10 cm``, ``4 to 8 1/2 in (10.16 to 21.59 cm)``, ``from 30 cm``; empty where nothing is known.
    """
    if math.isnan(top) and math.isnan(bottom):
        return ""
    if math.isnan(bottom):
        return f"from {top:.6g} cm" if top > 0 else "surface"
    if math.isnan(top):
        return f"to {bottom:.6g} cm"
    metric = f"{top:.6g} to {bottom:.6g} cm"
    inches = [_inches(top), _inches(bottom)]
    if None in inches or all(abs(one * 10 - round(one * 10)) < 1e-6 for one in (top, bottom)):
        return metric
    return f"{inches[0]} to {inches[1]} in ({metric})"


def _inches(centimetres: float) -> str | None:
    eighths = centimetres / _CM_PER_INCH * _EIGHTHS
    if abs(eighths - round(eighths)) > 1e-6:
        return None
    whole, part = divmod(Fraction(round(eighths), _EIGHTHS), 1)
    return " ".join(filter(None, (str(whole) if whole or not part else "", str(part) if part else "")))


def _first(*values: object) -> str:
    return next((one for one in values if isinstance(one, str) and one), "")


def _clock(text: str) -> str:
    """The time without seconds that nobody wrote."""
    return re.sub(r"^(\d{1,2}:\d{2}):00$", r"\1", text)


def _containers(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())
