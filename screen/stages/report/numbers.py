"""Numbers and lists as a reader meets them. In: full figures. Out: finished strings; rounding happens here only."""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["MINUS", "against", "counted", "depths", "figure", "given", "listed", "padding", "share", "span", "times"]

_DIGITS = 3
MINUS = "\N{MINUS SIGN}"
#: No figure needs more than this to be told from another double.
_MOST_DIGITS = 17
#: Figures closer than this, relative, are equal when compared with a level.
_EQUAL = 1e-9


def figure(value: float | None, digits: int = _DIGITS) -> str:
    """``value`` to three significant figures (or ``digits``), with commas: ``1,240``, ``59.8``, ``0.0042``.

    Missing gives an empty text. Figures below 0.0001 are written with a power of ten.
    """
    if value is None or math.isnan(value):
        return ""
    if value == 0:
        return "0"
    if abs(value) < 1e-4:
        mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
        return f"{mantissa} × 10^{int(exponent)}"
    power = int(f"{value:.{digits - 1}e}".split("e")[1])  # of the rounded figure: 9.999 is 10.0
    places = digits - 1 - power
    return f"{round(value, places):,.{max(0, places)}f}"


def given(value: float | None) -> str:
    """A figure that somebody gave, a level or a depth, without digits of ours: ``0.99``, ``22,800``, ``30``.

    One that has more than five significant figures was worked out, and is shown like any other, with four.
    """
    if value is None or math.isnan(value):
        return ""
    for digits in range(1, 6):
        if float(f"{value:.{digits}g}") == value:
            return figure(value, digits)
    return figure(value, 4)


def against(value: float | None, level: float, digits: int = _DIGITS) -> str:
    """``value`` in ``digits`` significant figures, or in as many as show on which side of ``level`` it lies."""
    if value is None or math.isnan(value):
        return ""
    text = figure(value, digits)
    if math.isnan(level) or abs(value - level) <= _EQUAL * abs(level):
        return text
    for more in range(digits, _MOST_DIGITS + 1):
        text = figure(value, more)
        shown = float(text.replace(",", "")) if "×" not in text else value
        if (shown > level) == (value > level) and shown != level:
            return text
    return text


def times(quotient: float | None) -> str:
    """A quotient, in as many figures as show whether it is above 1: ``1.83``, ``1.0004``."""
    return against(quotient, 1.0)


def span(low: float | None, high: float | None) -> str:
    """``40 to 500``, or ``40 or more`` where the upper end is open."""
    if low is None or math.isnan(low):
        return ""
    if high is None or math.isnan(high):
        return f"{figure(low)} or more"
    return figure(low) if low == high else f"{figure(low)} to {figure(high)}"


def depths(top: float | None, bottom: float | None) -> str:
    """An interval as recorded, in cm: ``30 to 60``; empty where no depth is known."""
    return " to ".join(filter(None, (given(top), given(bottom))))


def share(part: int, whole: int) -> str:
    """``12 %``; never 0 % of something nor 100 % of less than all."""
    if not whole:
        return "0 %"
    per = 100 * part / whole
    if part and per < 1:
        return "under 1 %"
    if part < whole and per > 99:
        return "over 99 %"
    return f"{per:.0f} %"


def counted(number: int, one: str, many: str = "") -> str:
    """``1 sample``, ``14 samples``."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def listed(items: Sequence[str], most: int = 6) -> str:
    """``a, b and c``; beyond ``most``: ``a, b, c and 5 more``."""
    items = list(items)
    if len(items) > most:
        return f"{', '.join(items[:most])} and {len(items) - most} more"
    return " and ".join([", ".join(items[:-1]), items[-1]]) if len(items) > 1 else "".join(items)


def padding(texts: Sequence[str]) -> list[str]:
    """What goes behind each of ``texts``, set flush right, so that their decimal marks stand under one another."""
    behind = [len(text) - text.find(".") if "." in text else 0 for text in texts]
    widest = max(behind, default=0)
    pads = ["\u2008" + "\u2007" * (widest - 1) if not length else "\u2007" * (widest - length) for length in behind]
    return [pad if widest and text[-1:].isdigit() else "" for text, pad in zip(texts, pads, strict=True)]
