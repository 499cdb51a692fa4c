"""The little that all pictures share: scales, ticks, texts and the frame of an SVG. In: numbers. Out: SVG markup."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from screen.stages.report.numbers import figure

__all__ = ["Scale", "line", "spread", "svg", "text", "value_scale"]


@dataclass(frozen=True, slots=True)
class Scale:
    """From a figure to a place on the paper; ``low`` and ``high`` are drawn at ``start`` and ``stop``."""

    low: float
    high: float
    start: float
    stop: float
    log: bool = False
    ticks: tuple[float, ...] = ()

    def __call__(self, value: float) -> float:
        """Where ``value`` is drawn; what lies outside is drawn at the end."""
        if self.log:
            low, high = math.log10(self.low), math.log10(self.high)
            at = (math.log10(max(value, self.low)) - low) / (high - low)
        else:
            at = (value - self.low) / (self.high - self.low)
        return self.start + (self.stop - self.start) * min(1.0, max(0.0, at))


def _step(reach: float, wanted: int) -> float:
    """A round step that gives about ``wanted`` ticks over ``reach``."""
    rough = reach / wanted
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step for step in (power, 2 * power, 5 * power, 10 * power) if step >= rough * 0.999)


def value_scale(values: Sequence[float], start: float, stop: float) -> Scale:
    """A scale for concentrations: from 0, or logarithmic where they range over more than a factor of 30."""
    known = [value for value in values if value > 0 and math.isfinite(value)] or [1.0]
    least, most = min(known), max(known)
    if most / least > 30:
        low, high = math.floor(math.log10(least) + 1e-9), math.ceil(math.log10(most) - 1e-9)
        every = max(1, math.ceil((high - low) / 5))
        return Scale(10.0**low, 10.0**high, start, stop, True, tuple(10.0**at for at in range(low, high + 1, every)))
    step = _step(most, 4)
    count = math.ceil(most / step * 1.02)
    return Scale(0, count * step, start, stop, False, tuple(at * step for at in range(count + 1)))


def place_scale(values: Sequence[float], start: float, stop: float) -> Scale:
    """A scale for river kilometres: whole steps around all of ``values``."""
    least, most = min(values), max(values)
    step = _step(max(most - least, 1.0), 5)
    low, high = math.floor(least / step) * step, math.ceil(most / step) * step
    if low == high:
        high = low + step
    count = round((high - low) / step)
    return Scale(low, high, start, stop, False, tuple(low + at * step for at in range(count + 1)))


def spread(wanted: Sequence[float], gap: float, start: float, stop: float) -> list[float]:
    """Places for labels near ``wanted``, at least ``gap`` apart, between ``start`` and ``stop``."""
    order = sorted(range(len(wanted)), key=lambda at: (wanted[at], at))
    out = list(wanted)
    last = start - gap
    for at in order:
        out[at] = last = max(wanted[at], last + gap)
    last = stop + gap
    for at in reversed(order):
        out[at] = last = min(out[at], last - gap)
    return out


def tick_text(value: float) -> str:
    """A tick's label, without digits that say nothing."""
    shown = figure(value)
    return shown.rstrip("0").rstrip(".") if "." in shown and "×" not in shown else shown


def line(x1: float, y1: float, x2: float, y2: float, kind: str) -> Markup:
    """A straight line of a class."""
    return Markup('<path class="{}" d="M{} {}L{} {}"/>').format(kind, _n(x1), _n(y1), _n(x2), _n(y2))


def box(x: float, y: float, width: float, height: float, kind: str) -> Markup:
    """A rectangle of a class."""
    return Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>').format(
        kind, _n(x), _n(y), _n(max(0.0, width)), _n(max(0.0, height))
    )


def text(x: float, y: float, words: str, kind: str = "", anchor: str = "start", turn: float = 0) -> Markup:
    """Words at a place; ``anchor`` is start, middle or end; ``turn`` in degrees."""
    turned = Markup(' transform="rotate({} {} {})"').format(_n(turn), _n(x), _n(y)) if turn else Markup("")
    anchored = Markup(' text-anchor="{}"').format(anchor) if anchor != "start" else Markup("")
    of_kind = Markup(' class="{}"').format(kind) if kind else Markup("")
    return Markup('<text x="{}" y="{}"{}{}{}>{}</text>').format(_n(x), _n(y), of_kind, anchored, turned, words)


def svg(identity: str, title: str, description: str, width: float, height: float, parts: Sequence[Markup]) -> Markup:
    """A whole picture with its title and description, as wide as its place allows."""
    return Markup(
        '<svg class="picture" role="img" aria-labelledby="{id}-t {id}-d" viewBox="0 0 {w} {h}">'
        '<title id="{id}-t">{title}</title><desc id="{id}-d">{desc}</desc>'
        "{body}</svg>"
    ).format(
        id=identity, w=_n(width), h=_n(height), title=title, desc=description, body=Markup("").join(map(escape, parts))
    )


def short(words: str, most: int) -> str:
    """``words``, cut to ``most`` characters with an ellipsis; the whole stands in the table beside the picture."""
    return words if len(words) <= most else words[: most - 1] + "…"


def _n(value: float) -> str:
    return f"{round(value, 1) + 0.0:g}"
