"""The picture of one substance down one core: the described column at left, concentrations by interval at right."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from screen.stages.report.facts import Finding
from screen.stages.report.marks import use
from screen.stages.report.numbers import MINUS, counted, depths, figure, given, listed, span
from screen.stages.report.pictures.drawing import Scale, box, line, short, svg, text, tick_text, value_scale
from screen.stages.report.pictures.figures import Picture, levels_of

__all__ = ["PATTERNS", "core_picture", "has_elevations"]

#: How a described texture is drawn, by the first word of these that its description has.
_TEXTURES = ("gravel", "sand", "silt", "clay", "peat", "shell")
PATTERNS = Markup(
    '<pattern id="t-hatch" width="5" height="5" patternUnits="userSpaceOnUse"><path class="t-hatch" d="M0 5L5 '
    '0"/></pattern>'
    '<pattern id="t-sand" width="6" height="6" patternUnits="userSpaceOnUse"><path class="t-line" d="M1 1h1M4 '
    '4h1"/></pattern>'
    '<pattern id="t-silt" width="8" height="5" patternUnits="userSpaceOnUse"><path class="t-line" d="M0 2h4M5 '
    '4h2"/></pattern>'
    '<pattern id="t-clay" width="6" height="4" patternUnits="userSpaceOnUse"><path class="t-line" d="M0 '
    '2h6"/></pattern>'
    '<pattern id="t-gravel" width="9" height="9" patternUnits="userSpaceOnUse"><path class="t-line" '
    'd="M1 4a3 2 0 1 0 6 0a3 2 0 1 0-6 0"/></pattern>'
    '<pattern id="t-peat" width="6" height="6" patternUnits="userSpaceOnUse"><path class="t-line" d="M0 6L3 0L6 '
    '6"/></pattern>'
    '<pattern id="t-shell" width="8" height="6" patternUnits="userSpaceOnUse"><path class="t-line" d="M1 4a3 3 0 0 1 '
    '6 0"/></pattern>'
)


def core_picture(
    identity: str,
    core: str,
    findings: Sequence[Finding],
    samples: Mapping[str, Mapping[str, Any]],
    cut_cm: float = math.nan,
) -> Picture:
    """``findings`` are of one substance, basis and core; ``samples`` says how each interval was described.

    Where the samples have elevations these stand at the right, beside the depths below the bed at the left.
    """
    layers = _layers(findings)
    first = layers[0]
    levels = levels_of(findings)
    heights_m, datum = _elevations(layers, samples)
    width, left, right, top = 340.0, 138.0, 56.0 if heights_m else 16.0, 16.0 + _ROW * max(1, len(levels))
    deepest = max(one.depth_bottom_cm for one in layers)
    bottom = top + min(300.0, max(150.0, 34.0 * len(layers)))
    depth = Scale(0, deepest, top, bottom)
    heights = [_reach(one) for one in layers]
    x = value_scale([*heights, *(level for _, level in levels)], left, width - right)
    unit = first.unit if first.basis == "dry" else f"{first.unit}, {first.basis}"
    parts = [text(4, top - 6, "depth, cm", "p-tick")]
    for tick in x.ticks:
        parts += [
            line(x(tick), top, x(tick), bottom, "p-grid"),
            text(x(tick), bottom + 14, tick_text(tick), "p-tick", "middle"),
        ]
    parts.append(
        text((left + width - right) / 2, bottom + 29, f"{unit}{', logarithmic' if x.log else ''}", "p-tick", "middle")
    )
    edge = 0.0
    for one, height in zip(layers, heights, strict=True):
        upper, lower = depth(one.depth_top_cm), depth(one.depth_bottom_cm)
        if one.depth_top_cm > edge:
            parts.append(text(left + 4, (depth(edge) + upper) / 2 + 4, "not sampled", "p-gap"))
        edge = one.depth_bottom_cm
        parts += _described(samples.get(one.sample, {}), upper, lower)
        if math.isnan(height):
            parts.append(text(left + 4, (upper + lower) / 2 + 4, one.word, "p-gap"))
            continue
        kind = "p-open" if math.isnan(one.value) else f"p-step s-{one.finding}"
        parts.append(box(left, upper + 0.5, x(height) - left, lower - upper - 1, kind))
        if one.unsettled and not math.isnan(one.value):
            high = x.high if math.isnan(one.high) else one.high
            middle = (upper + lower) / 2
            parts.append(line(x(one.low), middle, x(high), middle, "p-range"))
        parts.append(
            use(one.finding, unsettled=one.unsettled, x=min(x(height), width - right), y=(upper + lower) / 2, size=14)
        )
    last = -math.inf
    for at in sorted({one.depth_top_cm for one in layers} | {one.depth_bottom_cm for one in layers}):
        if depth(at) - last >= 11:
            last = depth(at)
            parts.append(text(30, last + 4, given(at), "p-tick", "end"))
            if at in heights_m:
                parts.append(text(width - 2, last + 4, _metres(heights_m[at]), "p-tick", "end"))
    if heights_m:
        parts.append(text(width - 2, bottom + 43, f"right: elevation, m, {short(datum, 24)}", "p-tick", "end"))
    for number, (name, level) in enumerate(levels):
        row, word = top - 6 - _ROW * (len(levels) - 1 - number), f"{short(name, 5)} {given(level)}"
        left_of = x(level) + 6 * len(word) > width
        parts += [
            line(x(level), row - 8, x(level), bottom, "p-level"),
            text(x(level) + (-3 if left_of else 3), row, word, "p-label", "end" if left_of else "start"),
        ]
    if not math.isnan(cut_cm) and cut_cm < deepest:
        parts += [
            line(34, depth(cut_cm), width - right, depth(cut_cm), "p-cut"),
            text(width - right, depth(cut_cm) - 4, f"cut {given(cut_cm)} cm", "p-label", "end"),
        ]
    name = f"{first.substance} ({first.total})" if first.total else first.substance
    most = max(layers, key=lambda one: -1 if math.isnan(_reach(one)) else _reach(one))
    return Picture(
        identity,
        f"{name}, core {core} at {first.station}" if core != first.station else f"{name}, by depth at {core}",
        svg(
            identity,
            f"{name} down core {core}",
            f"{counted(len(layers), 'interval')} to {given(deepest)} cm, in {unit}; the most, "
            f"{figure(_reach(most))}, at "
            f"{depths(most.depth_top_cm, most.depth_bottom_cm)} cm; levels "
            f"{listed([f'{label} {given(level)}' for label, level in levels])}"
            + (f"; bed at {_metres(heights_m[0.0])} m, {datum}." if 0.0 in heights_m else "."),
            width,
            bottom + (50 if heights_m else 36),
            parts,
        ),
        "",
        ("Depth, cm", *([f"Elevation, m, {datum}"] if heights_m else ()), f"Value, {unit}", *_HEADS),
        tuple(_row(one, samples.get(one.sample, {}), elevation=bool(heights_m)) for one in layers),
    )


#: Height of one level's label over the picture, and how much of a description has room on a line.
_ROW = 12.0
_LETTERS = 15
_HEADS = ("Range", "Finding", "Described as")


def has_elevations(findings: Sequence[Finding], samples: Mapping[str, Mapping[str, Any]]) -> bool:
    """Whether the samples of a core have elevations."""
    return bool(_elevations(findings, samples)[0])


def _elevations(layers: Sequence[Finding], samples: Mapping[str, Mapping[str, Any]]) -> tuple[dict[float, float], str]:
    """The elevation of each edge of a layer, by its depth as recorded, in m; and above which datum."""
    found: dict[float, float] = {}
    datum = ""
    for one in layers:
        sample = samples.get(one.sample, {})
        for at, name in ((one.depth_top_cm, "elevation_top_m"), (one.depth_bottom_cm, "elevation_bottom_m")):
            elevation = sample.get(name)
            if isinstance(elevation, float) and not math.isnan(elevation):
                found.setdefault(at, elevation)
                datum = str(sample.get("datum") or "")
    return found, datum


def _metres(value: float) -> str:
    """An elevation to the centimetre, with a true minus sign."""
    return f"{value:.2f}".replace("-", MINUS)


def _layers(findings: Sequence[Finding]) -> list[Finding]:
    """One finding per interval, downwards: of several sets or duplicates, the first."""
    found: dict[tuple[float, float], Finding] = {}
    for one in findings:
        found.setdefault((one.depth_top_cm, one.depth_bottom_cm), one)
    return [found[key] for key in sorted(found)]


def _reach(one: Finding) -> float:
    return one.high if math.isnan(one.value) else one.value


def _words(sample: Mapping[str, Any]) -> list[str]:
    return [str(sample.get(name) or "") for name in ("texture", "colour", "odour", "inclusions")]


def _described(sample: Mapping[str, Any], upper: float, lower: float) -> list[Markup]:
    texture, colour, odour, inclusions = _words(sample)
    pattern = next((name for name in _TEXTURES if name in texture.lower()), "")
    parts = [box(36, upper, 14, lower - upper, "t-box")]
    if pattern:
        parts.append(
            Markup('<rect fill="url(#t-{})" x="36" y="{}" width="14" height="{}"/>').format(
                pattern, f"{upper:.1f}", f"{lower - upper:.1f}"
            )
        )
    smell = "no odour" if odour.lower() == "none" else odour
    told = ", ".join(filter(None, (texture, colour, smell, "" if inclusions.lower() == "none" else inclusions)))
    room = max(1, int((lower - upper) // 12))
    for number, item in enumerate(textwrap.wrap(told, _LETTERS, max_lines=room, placeholder="…")):
        parts.append(text(54, upper + 11 + 12 * number, item, "p-tick"))
    return parts


def _row(one: Finding, sample: Mapping[str, Any], *, elevation: bool) -> tuple[str, ...]:
    value = f"< {figure(one.high)}" if math.isnan(one.value) and not math.isnan(one.high) else figure(one.value)
    return (
        depths(one.depth_top_cm, one.depth_bottom_cm),
        *([_between(sample)] if elevation else ()),
        " ".join(filter(None, (value, one.qualifier))),
        span(one.low, one.high),
        one.word,
        ", ".join(filter(None, _words(sample))),
    )


def _between(sample: Mapping[str, Any]) -> str:
    """The elevations of an interval, ``-3.20 to -3.30``; empty where they are not known."""
    ends = [sample.get(name) for name in ("elevation_top_m", "elevation_bottom_m")]
    return " to ".join(_metres(one) for one in ends if isinstance(one, float) and not math.isnan(one))
