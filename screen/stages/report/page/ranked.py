"""The ranking of stations as tables of the page: what is open stands in the row of what is above. In: ``Facts``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from screen.stages.report.facts import Facts, records
from screen.stages.report.numbers import against, depths, given, listed
from screen.stages.report.parts import Cell, Head, Table, listing, number

__all__ = ["ranking"]

#: Stations of the table on the page; the rest is in the files, and the table says so.
_MOST_STATIONS = 60


def ranking(facts: Facts) -> list[Table]:
    """The stations in the order in which they ask to be looked at, for each set told in full; the first unfolded."""
    if facts.run.ranking is None or facts.run.ranking.empty:
        return []
    rows = [row for row in records(facts.run.ranking) if row["set"] in facts.told_sets]
    out = []
    for at, set_id in enumerate(facts.told_sets):
        found = [row for row in rows if row["set"] == set_id]
        if len(found) > 1:
            out.append(_ranked(facts, set_id, found, folded=at > 0))
    return out


def _ranked(facts: Facts, set_id: str, rows: Sequence[Mapping[str, Any]], *, folded: bool) -> Table:
    lower, upper = facts.names(set_id)
    heads = (
        "Station",
        Head("Rank", kind="n"),
        Head("River", "km", "n"),
        Head(f"Above {upper or lower}", kind="n"),
        Head(f"Between {lower} and {upper}" if lower and upper else "Between", kind="n"),
        Head("Cannot be judged", kind="n"),
        Head("Not assessed", kind="n"),
        Head("Below", kind="n"),
        Head("Unsettled", kind="n"),
        Head(f"Highest value ÷ {upper or lower}", kind="n"),
        Head("That of", kind="w"),
    )
    caption = f"Where to look first, {listed([name for name in (lower, upper) if name])} ({set_id})"
    note = (
        "Counts are of substances and sums; each counts once at a station, by its gravest finding at any depth. The "
        "order is by how many are above the upper level, then by the highest quotient. It says where to look next and "
        "does not measure harm. In brackets: from those above however non-detects are counted to those perhaps above, "
        "with non-detects at their limits or what is wanting measured."
    )
    return listing(
        f"ranking-{set_id}",
        caption,
        heads,
        rows,
        lambda row: _row(row, upper or lower),
        source="ranking",
        most=_MOST_STATIONS,
        folded=folded,
        printed=not folded,
        note=note,
    )


def _row(row: Mapping[str, Any], level: str) -> list[str | Cell]:
    counts = (f"{row[name]:.0f}" for name in ("between", "undetermined", "not_assessed", "below", "unsettled"))
    depth = depths(row["highest_top_cm"], row["highest_bottom_cm"])
    total = f" ({row['highest_total']})" if row["highest_total"] else ""
    other = "" if row["highest_level"] == level else f"against the {row['highest_level']}"
    that = (f"{row['highest_substance']}{total}", row["highest_sample"], depth and f"{depth} cm", other)
    return [
        Cell(row["station"], "reference" if row["role"] == "reference" else "", kind="head"),
        Cell(f"{row['rank']:.0f}", kind="n"),
        number(given(row["river_km"]), row["river_km"]),
        Cell(f"{row['above']:.0f}{_open(row)}", kind="n"),
        *(Cell(count, kind="n") for count in counts),
        number(against(row["highest_quotient"], 1.0), row["highest_quotient"]),
        row["note"] or ", ".join(filter(None, that)),
    ]


def _open(row: Mapping[str, Any]) -> str:
    """From how many settled to how many possible, where these are not one number: `` (1 to 3)``."""
    low, high = row["above_low"], row["above_high"]
    return "" if low == high else f" ({low:.0f} to {high:.0f})"
