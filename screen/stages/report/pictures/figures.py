"""The pictures of the report as SVG. In: ``Facts``. Out: pictures, each with its title, words and numbers.

The reach as a strip (wide, and upright for narrow pages), and the profile of one substance along the river. Cores are
in ``corefigures``. A picture without scripts or colours says the same: every mark has its shape, every level its label.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from screen.stages.report.facts import Facts, Finding, Place
from screen.stages.report.marks import GRAVITY, use
from screen.stages.report.numbers import counted, depths, figure, given, listed, span, times
from screen.stages.report.pictures.drawing import (
    Scale,
    box,
    line,
    place_scale,
    short,
    spread,
    svg,
    text,
    tick_text,
    value_scale,
)

__all__ = ["Picture", "levels_of", "profile", "strip_rows", "strip_title", "strip_upright", "strip_wide"]

#: Stations of the strip, and of the upright one on a narrow page, at most.
_MOST_STATIONS = 200
_MOST_UPRIGHT = 20


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing, the words under it, and its numbers as rows of texts under ``heads``."""

    identity: str
    title: str
    drawing: Markup
    note: str = ""
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def _said(place: Place) -> str:
    found = place.worst.word
    return ": ".join([found, *_drivers(place)[:1]])


def _drivers(place: Place) -> list[str]:
    return [f"{one.substance} {times(one.exceeded[0])} × {one.exceeded[1]}" for one in place.drivers]


def _strip_description(places: Sequence[Place]) -> str:
    groups: dict[str, list[str]] = {}
    for place in places:
        groups.setdefault(place.worst.word, []).append(place.station)
    return "; ".join(f"{found}: {listed(stations, 12)}" for found, stations in groups.items()) + "."


def _in_order(facts: Facts) -> tuple[list[Place], bool]:
    """The stations that can be drawn, and whether by river km (else evenly, in the tables' order)."""
    places = _striped(facts)
    known = [place for place in places if not math.isnan(place.river_km)]
    return (known, True) if known else (places, False)


def _striped(facts: Facts) -> list[Place]:
    """Every station; of very many, those whose samples the page shows one by one."""
    if len(facts.places) <= _MOST_STATIONS:
        return facts.places
    chosen = {one.station for one in facts.drawn(facts.findings)}
    return [place for place in facts.places if place.station in chosen]


def strip_title(facts: Facts) -> str:
    """What the strip shows, and of how many stations."""
    shown = len(_striped(facts))
    where = "each station" if shown == len(facts.places) else f"{shown:,} of {len(facts.places):,} stations"
    return f"The reach: the gravest settled finding at {where}"


def strip_wide(facts: Facts) -> Markup:
    """The reach from mouth to head, left to right, a mark per station; for wide pages and print."""
    places, by_km = _in_order(facts)
    width, left, right = 960.0, 46.0, 46.0
    spots = [place.river_km if by_km else float(at) for at, place in enumerate(places)]
    scale = place_scale(spots, left, width - right)
    lanes: list[float] = []  # of each lane, where its last mark ends
    drawn: list[tuple[Place, float, int]] = []
    for place, at in zip(places, spots, strict=True):
        x = scale(at)
        lane = next((number for number, end in enumerate(lanes) if x - end >= 20), len(lanes))
        lanes[lane : lane + 1] = [x]
        drawn.append((place, x, lane))
    names = 74.0
    top = names + 24 * (len(lanes) - 1)
    height = top + 62
    labels: dict[str, float] = {}
    for place, x, _ in sorted(drawn, key=lambda item: (-GRAVITY[item[0].worst.finding], -item[0].worst.quotient)):
        if all(abs(x - other) >= 16 for other in labels.values()):
            labels[place.station] = x
    parts = [line(left - 20, top + 14, width - right + 20, top + 14, "p-water")]
    for tick in scale.ticks if by_km else ():
        parts += [
            line(scale(tick), top + 14, scale(tick), top + 20, "p-axis"),
            text(scale(tick), top + 33, tick_text(tick), "p-tick", "middle"),
        ]
    parts += [
        text(left - 20, top + 50, "mouth" if by_km else "first", "p-end"),
        text(width - right + 20, top + 50, "head" if by_km else "last", "p-end", "end"),
        text(
            width / 2,
            top + 50,
            "river km from the mouth" if by_km else "stations in the order of the tables; no river km is known",
            "p-tick",
            "middle",
        ),
    ]
    for place, x, lane in drawn:
        y = top - 24 * lane
        if place.role == "reference":
            parts.append(box(x - 13, y - 13, 26, 26, "p-reference"))
        parts.append(use(place.worst.finding, unsettled=place.worst.unsettled, x=x, y=y))
        if place.station in labels:
            high = top - 24 * (len(lanes) - 1) - 16
            if lane < len(lanes) - 1:
                parts.append(line(x, y - 10, x, high + 2, "p-lead"))
            parts.append(text(x + 3, high, short(place.station, 12), "p-name", turn=-50))
    return svg("strip-wide", "The reach from mouth to head", _strip_description(places), width, height, parts)


def strip_upright(facts: Facts) -> Markup:
    """The same from top to bottom, with what drives each station beside it; for narrow pages."""
    places, by_km = _in_order(facts)
    whole = len(places)
    if whole > _MOST_UPRIGHT:
        gravest = sorted(places, key=lambda place: (-GRAVITY[place.worst.finding], -place.worst.quotient))
        kept = {place.station for place in gravest[:_MOST_UPRIGHT]}
        places = [place for place in places if place.station in kept]
    width, step = 340.0, 34.0
    height = step * len(places) + (60 if whole > len(places) else 44)
    parts = [
        text(30, 14, "mouth" if by_km else "first", "p-end", "middle"),
        line(30, 20, 30, height - 20, "p-water"),
        text(30, height - 6, "head" if by_km else "last", "p-end", "middle"),
    ]
    if whole > len(places):
        parts.append(text(54, height - 22, f"The {len(places)} gravest of {whole} stations; all: see below.", "p-tick"))
    for at, place in enumerate(places):
        y = 40 + step * at
        if place.role == "reference":
            parts.append(box(17, y - 13, 26, 26, "p-reference"))
        where = f" · km {given(place.river_km)}" if by_km else ""
        role = " · reference" if place.role == "reference" else ""
        parts += [
            use(place.worst.finding, unsettled=place.worst.unsettled, x=30, y=y),
            text(54, y - 2, f"{short(place.station, 20)}{where}{role}", "p-name"),
            text(54, y + 12, short(_said(place), 46), "p-tick"),
        ]
    return svg("strip-upright", "The reach from mouth to head", _strip_description(places), width, height, parts)


def strip_rows(facts: Facts) -> tuple[tuple[str, ...], ...]:
    """The strip in words: station, river km, role, worst settled finding and what drives it."""
    return tuple(
        (
            place.station,
            given(place.river_km),
            place.role,
            place.worst.word,
            listed(_drivers(place), 4),
        )
        for place in _striped(facts)
    )


def levels_of(findings: Iterable[Finding]) -> list[tuple[str, float]]:
    """The levels that ``findings`` were compared with, each once, mildest first."""
    found: dict[tuple[str, float], None] = {}
    for one in findings:
        for name, level in ((one.lower_name, one.lower_level), (one.upper_name, one.upper_level)):
            if name and not math.isnan(level):
                found.setdefault((name, level))
    return sorted(found, key=lambda item: item[1])


def _points(findings: Sequence[Finding]) -> dict[str, list[Finding]]:
    """Per station, one finding per sample: the gravest of the sets."""
    best: dict[str, Finding] = {}
    for one in findings:
        if one.sample not in best or GRAVITY[one.finding] > GRAVITY[best[one.sample].finding]:
            best[one.sample] = one
    stations: dict[str, list[Finding]] = {}
    for one in best.values():
        stations.setdefault(one.station, []).append(one)
    return stations


def _height(one: Finding) -> float:
    return one.high if math.isnan(one.value) else one.value


def profile(identity: str, findings: Sequence[Finding]) -> Picture:
    """One substance or total along the river: surface values, the most in each core, limits and levels.

    ``findings`` share substance, total, unit and basis, whatever their set.
    """
    first = findings[0]
    stations = {name: group for name, group in _points(findings).items() if not math.isnan(group[0].river_km)}
    levels = levels_of(findings)
    width, left, right, top, bottom = 340.0, 50.0, 78.0, 22.0, 190.0
    everything = [_height(one) for group in stations.values() for one in group] + [level for _, level in levels]
    y = value_scale(everything, bottom, top)
    kms = [group[0].river_km for group in stations.values()] or [0.0]
    x = place_scale(kms, left + 8, width - right - 6)
    unit = first.unit if first.basis == "dry" else f"{first.unit}, {first.basis}"
    parts = [text(4, 12, f"{unit}{', logarithmic' if y.log else ''}", "p-tick")]
    for tick in y.ticks:
        parts += [
            line(left, y(tick), width - right, y(tick), "p-grid"),
            text(left - 5, y(tick) + 4, tick_text(tick), "p-tick", "end"),
        ]
    parts.append(line(left, bottom, width - right, bottom, "p-axis"))
    for tick in x.ticks[:: 1 + len(x.ticks) // 7]:
        parts += [
            line(x(tick), bottom, x(tick), bottom + 4, "p-axis"),
            text(x(tick), bottom + 16, tick_text(tick), "p-tick", "middle"),
        ]
    parts += [
        text(left, bottom + 31, "mouth", "p-end"),
        text(width - right, bottom + 31, "head", "p-end", "end"),
        text((left + width - right) / 2, bottom + 31, "river km", "p-tick", "middle"),
    ]
    labels = spread([y(level) for _, level in levels], 12, top, bottom)
    for (name, level), at in zip(levels, labels, strict=True):
        parts += [
            line(left, y(level), width - right, y(level), "p-level"),
            line(width - right, y(level), width - right + 6, at, "p-level-lead"),
            text(width - right + 8, at + 4, f"{short(name, 5)} {given(level)}", "p-label"),
        ]
    rows = []
    for group in stations.values():
        parts += _station_marks(group, x(group[0].river_km), y)
        rows += [_row(one) for one in group]
    left_out = [name for name, group in _points(findings).items() if math.isnan(group[0].river_km)]
    name = _title(first)
    highest = max((one for group in stations.values() for one in group), key=_height, default=first)
    return Picture(
        identity,
        name,
        svg(
            identity,
            f"{name} along the river",
            f"{counted(len(stations), 'station')} from mouth to head, in {unit}; highest "
            f"{'limit' if math.isnan(highest.value) else 'value'} {figure(_height(highest))} at {highest.station}; "
            f"levels {listed([f'{label} {given(level)}' for label, level in levels])}.",
            width,
            bottom + 38,
            parts,
        ),
        f"Not drawn for want of a river km: {listed(left_out)}." if left_out else "",
        ("Station", "River km", "Depth, cm", f"Value, {unit}", "Range", "Finding"),
        tuple(rows),
    )


def _title(one: Finding) -> str:
    return f"{one.substance} ({one.total})" if one.total else one.substance


def _row(one: Finding) -> tuple[str, ...]:
    value = f"< {figure(one.high)}" if math.isnan(one.value) and not math.isnan(one.high) else figure(one.value)
    return (
        one.station,
        given(one.river_km),
        depths(one.depth_top_cm, one.depth_bottom_cm),
        " ".join(filter(None, (value, one.qualifier))),
        span(one.low, one.high),
        one.word,
    )


def _station_marks(group: Sequence[Finding], x: float, y: Scale) -> list[Markup]:
    """The surface results of a station, and a thin line to the most that its cores hold below."""
    surface = [one for one in group if one.surface]
    drawn = [one for one in surface or group if not math.isnan(_height(one))]
    parts: list[Markup] = []
    deepest = max((_height(one) for one in group if not math.isnan(_height(one))), default=math.nan)
    for one in drawn:
        if deepest > _height(one):
            parts += [
                line(x, y(_height(one)), x, y(deepest), "p-core"),
                line(x - 4, y(deepest), x + 4, y(deepest), "p-core"),
            ]
        if math.isnan(one.value):
            parts.append(use("limit", x=x, y=y(one.high), size=14))
            continue
        if one.unsettled:
            high = y.high if math.isnan(one.high) else one.high
            parts += [
                line(x, y(one.low), x, y(high), "p-range"),
                line(x - 5, y(one.low), x + 5, y(one.low), "p-range"),
                line(x - 5, y(high), x + 5, y(high), "p-range"),
            ]
        parts.append(use(one.finding, unsettled=one.unsettled, x=x, y=y(one.value), size=14))
    return parts
