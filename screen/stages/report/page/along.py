"""Along the reach and down the cores: what steps, differs, would be left. In: ``Facts``. Out: words, tables."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from screen.stages.report.facts import Facts, records
from screen.stages.report.marks import word
from screen.stages.report.numbers import counted, depths, figure, given, listed, span
from screen.stages.report.parts import Cell, Head, Table, listing, number
from screen.stages.report.pictures.figures import Picture
from screen.stages.report.pictures.mapfigure import map_points, map_svg
from screen.stages.report.words.cut_words import cut_sentences
from screen.stages.report.words.reach_words import core_sentences, reach_sentences, total_name, trend_sentences

__all__ = ["comparisons", "cuts", "said", "station_map", "trends", "unplaced"]

_MOST_ROWS = 120
#: Cores that are told in a sentence each.
_MOST_SENTENCES = 8


def said(facts: Facts) -> tuple[list[str], list[str]]:
    """The sentences on the river and those on the cores."""
    cores = core_sentences(facts.run)
    shown = set(cores)
    steps = [text for text in reach_sentences(facts.run) if text not in shown]
    return [*steps, *trend_sentences(facts.run)], [*_first(cores, "cores"), *_first(cut_sentences(facts), "cuts")]


def _first(texts: Sequence[str], table: str) -> list[str]:
    """The first of many sentences, and where the rest is."""
    left = len(texts) - _MOST_SENTENCES
    return [*texts[:_MOST_SENTENCES], *([f"{counted(left, 'core')} more in the table {table}."] if left > 0 else [])]


def unplaced(facts: Facts) -> list[str]:
    """Which stations the map and the profiles leave out, and why."""
    known = {one.name for one in map_points(facts)}
    names = [place.station for place in facts.places]
    far = [place.station for place in facts.places if math.isnan(place.river_km)]
    out = []
    if not known:
        out.append("No map: no station has coordinates.")
    elif len(known) < len(names):
        out.append(
            f"Not on the map, for want of coordinates: {listed([one for one in names if one not in known], 12)}."
        )
    if far and len(far) < len(names):
        out.append(f"In no profile and no trend, for want of a river km: {listed(far, 12)}.")
    return out


def trends(facts: Facts) -> Table | None:
    """The tests for a trend along the river of what the sets speak of; None where none was asked."""
    if facts.run.trends is None or facts.run.trends.empty:
        return None
    compared = {one.total or one.substance for one in facts.findings if one.finding != "not-assessed"}
    rows = [row for row in records(facts.run.trends) if row["substance"] in compared]
    rows.sort(key=lambda row: (row["outcome"] not in ("higher upstream", "higher downstream"), row["outcome"]))
    heads = (
        "Substance",
        Head("Stations", kind="n"),
        Head("Detected", kind="n"),
        "River km",
        Head("Kendall's tau", kind="n"),
        Head("Spearman's rho", kind="n"),
        Head("p", kind="n"),
        Head("p, adjusted", kind="n"),
        Head("Outcome", kind="w"),
        Head("Note", kind="w"),
    )
    tested = sum(bool(row["test"]) for row in rows)
    return listing(
        "trends",
        f"Do surface figures go with the distance from the mouth? {counted(tested, 'test')}",
        heads,
        rows,
        lambda row: [
            Cell(total_name(row["substance"]), kind="head"),
            Cell(f"{row['n']:.0f}", kind="n"),
            Cell(f"{row['detects']:.0f}", kind="n"),
            f"{given(row['km_low'])} to {given(row['km_high'])}",
            *(number(figure(row[name]), row[name]) for name in ("tau", "rho", "p", "p_holm")),
            row["outcome"],
            row["note"],
        ],
        source="trends",
        most=_MOST_ROWS,
        whole=len(facts.run.trends),
        folded=True,
        printed=False,
    )


def station_map(facts: Facts) -> Picture | None:
    """The stations on a plain ground, with their coordinates as a table; None where none has coordinates."""
    points = map_points(facts)
    drawing = map_svg("map", points)
    if not drawing:
        return None
    rows = tuple((one.name, f"{one.latitude:.5f}", f"{one.longitude:.5f}", one.word) for one in points)
    heads = ("Station", "Latitude", "Longitude", "Gravest settled finding")
    return Picture("map", "The stations on the ground: the gravest settled finding at each", drawing, "", heads, rows)


def comparisons(facts: Facts) -> Table | None:
    """The tests between parts of the reach, those that show a difference first; None where none was made."""
    if facts.run.comparisons is None or facts.run.comparisons.empty:
        return None
    everything = records(facts.run.comparisons)
    plain = "no difference shown"
    shown = sum(row["outcome"] != plain for row in everything)
    flagged = {one.total or one.substance for name in ("above", "between") for one in facts.exceeding(name)}
    rows = [row for row in everything if row["substance"] in flagged]
    rows.sort(key=lambda row: row["outcome"] == plain)
    heads = (
        "Substance",
        "Layer",
        Head("Groups", kind="w"),
        "n",
        "Detected",
        "Medians",
        "Unit",
        "Test",
        Head("p", kind="n"),
        Head("p, adjusted", kind="n"),
        Head("Outcome", kind="w"),
        Head("Note", kind="w"),
    )
    return listing(
        "comparisons",
        f"Do parts of the reach differ? {shown:,} of {counted(len(everything), 'test')} "
        f"{'shows' if shown == 1 else 'show'} a difference",
        heads,
        rows,
        lambda row: [
            Cell(total_name(row["substance"]), kind="head"),
            row["layer"],
            row["groups"].replace(";", ", "),
            row["n"].replace(";", ", "),
            row["detects"].replace(";", ", "),
            ", ".join(figure(float(one)) if one else "" for one in row["medians"].split(";")),
            row["unit"],
            row["test"],
            number(figure(row["p"]), row["p"]),
            number(figure(row["p_holm"]), row["p_holm"]),
            row["outcome"],
            row["note"],
        ],
        source="comparisons",
        most=_MOST_ROWS,
        whole=len(everything),
        folded=True,
        printed=False,
    )


def cuts(facts: Facts) -> Table | None:
    """What a cut takes and what it lays bare, where that is above a level or open; None without a cut."""
    if facts.run.cuts is None or facts.run.cuts.empty:
        return None
    told = set(facts.told_sets)
    rows = [row for row in records(facts.run.cuts) if row["finding"] != "below" and row["set"] in told]
    cores = listed(list(dict.fromkeys(str(row["core"]) for row in rows)), 8)
    heads = (
        "Core",
        "Part",
        Head("Depth", "cm", "d"),
        Head("Covered", "%", "n"),
        "Substance",
        "Set",
        Head("Mean", kind="n"),
        "Low to high",
        "Unit",
        "Lower",
        "Upper",
        "Finding",
        Head("Note", kind="w"),
    )
    caption = f"The cut and what it lays bare: {counted(len(rows), 'finding')} above a level or open"
    return listing(
        "cuts-table",
        f"{caption}, in {cores}" if rows else f"{caption}; all others are below",
        heads,
        rows,
        lambda row: [
            Cell(row["core"], kind="head"),
            row["part"],
            depths(row["top_cm"], row["bottom_cm"]),
            number(given(row["covered_pct"]), row["covered_pct"]),
            f"{row['substance']} ({row['total']})" if row["total"] else row["substance"],
            row["set"],
            number(figure(row["value"]), row["value"]),
            span(row["low"], row["high"]) if row["low"] != row["high"] else "",
            row["unit"] if row["basis"] == "dry" else f"{row['unit']}, {row['basis']}",
            f"{row['lower_name']} {given(row['lower_level'])}".strip(),
            f"{row['upper_name']} {given(row['upper_level'])}".strip(),
            _word(row),
            row["note"],
        ],
        source="cuts",
        most=_MOST_ROWS,
        folded=True,
        printed=False,
    )


def _word(row: Mapping[str, Any]) -> str:
    """The word of a row of the cuts."""
    cause = "" if math.isnan(row["value"]) else "members" if row["total"] else "more-than"
    return word(row["finding"], unsettled=row["settled"] is False, cause=cause)
