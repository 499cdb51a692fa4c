"""What stands behind the findings, as tables: totals, places, and what has no number. In: ``Facts``."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from screen.stages.report.facts import NO_NUMBER, Facts, Finding, records
from screen.stages.report.numbers import counted, figure, given, listed, share, span
from screen.stages.report.parts import Cell, Head, Table, condensed, listing, number, simple
from screen.stages.report.words.reach_words import total_name

__all__ = ["change", "not_assessed", "reach", "totals"]

#: Rows of one table on the page; the rest is in the files, and the table says so.
_MOST_ROWS = 120


def totals(facts: Facts) -> tuple[list[Table], str]:
    """How each total that is compared was made, one table per total and rule; and which others were made."""
    chosen = facts.shown[0]
    groups: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for row in records(facts.run.totals):
        groups.setdefault((row["name"], row["total"], row["rule"]), []).append(row)
    compared = {one.total for one in facts.findings}
    out: list[Table] = []
    others: list[str] = []
    for (name, total, rule), rows in groups.items():
        if total not in compared and all(math.isnan(row["lab_total"]) for row in rows):
            others.append(f"{name} ({total}, {rule})")
            continue
        shown = [row for row in rows if row["sample"] in chosen]
        if not shown:
            continue
        complete = sum(row["complete"] is True for row in rows)
        detected = sum(row["detected"] is True for row in rows)
        out.append(
            listing(
                f"total-{total}-{rule}",
                f"{name} ({total}), non-detects counted as: {rule}. {counted(len(rows), 'sample')}, {complete:,} "
                f"complete, {detected:,} with a member detected"
                + (f"; factor {given(rows[0]['factor'])}" if rows[0]["factor"] != 1 else "")
                + (f"; {'compared with a level' if total in compared else 'not compared with a level here'}"),
                (
                    "Sample",
                    Head("Sum", rows[0]["unit"], "n"),
                    "Flag",
                    Head("Low to high", rows[0]["unit"], "d"),
                    Head("Limit", rows[0]["unit"], "n"),
                    Head("Measured", "of members", "n"),
                    Head("Detected", kind="n"),
                    "Complete",
                    Head("Missing", kind="w"),
                    Head("Peaks of several members, counted once", kind="w"),
                    Head("Laboratory's own", rows[0]["unit"], "n"),
                    Head("Ours less theirs", "%", "n"),
                    Head("Note", kind="w"),
                ),
                shown,
                _total_row,
                source="totals",
                most=_MOST_ROWS,
                whole=len(rows),
                folded=True,
                printed=False,
            )
        )
    made = [rows for (_, total, _), rows in groups.items() if total in compared]
    if made:
        out.insert(0, _made(made))
    said = f"Also made, not compared with any level here, in the table totals: {listed(others, 40)}." if others else ""
    return out, said


def _made(groups: Sequence[Sequence[Mapping[str, Any]]]) -> Table:
    """Each total that is compared, in one row: how many samples have it, how complete, what it lacks most often."""
    rows: list[list[str | Cell]] = []
    for group in groups:
        first = group[0]
        values = [row["value"] for row in group if not math.isnan(row["value"])]
        measured = sorted({row["measured"] for row in group})
        lacks = [row["missing"] for row in group if row["missing"] and row["complete"] is False]
        names = [name for name in str(max(lacks, key=lacks.count) if lacks else "").split(";") if name]
        rows.append(
            [
                Cell(f"{first['name']} ({first['total']})", kind="head"),
                first["rule"],
                Cell(f"{first['factor']:g}", kind="n"),
                Cell(f"{len(group):,}", kind="n"),
                Cell(f"{sum(row['complete'] is True for row in group):,}", kind="n"),
                Cell(f"{sum(row['detected'] is True for row in group):,}", kind="n"),
                f"{' to '.join(dict.fromkeys(f'{number:.0f}' for number in (measured[0], measured[-1])))} of "
                f"{first['members']:.0f}",
                span(min(values), max(values)) if values else "",
                first["unit"],
                listed(names, 4) if len(names) <= 6 else f"{len(names)} members" if names else "",
            ]
        )
    heads: tuple[str | Head, ...] = (
        "Total",
        "Non-detects counted as",
        Head("Factor", kind="n"),
        Head("Samples", kind="n"),
        Head("Complete", kind="n"),
        Head("With a detect", kind="n"),
        "Members measured",
        "Sums, least to most",
        "Unit",
        Head("Lacking where not complete", kind="w"),
    )
    return condensed(simple("totals-made", "The totals that are compared with levels", heads, rows))


def _total_row(row: Mapping[str, Any]) -> list[str | Cell]:
    return [
        Cell(row["sample"], kind="head"),
        number(figure(row["value"]), row["value"]),
        row["qualifier"],
        span(row["low"], row["high"]),
        number(f"< {figure(row['limit'])}" if figure(row["limit"]) else "", row["limit"]),
        Cell(f"{row['measured']:.0f} of {row['members']:.0f}", kind="n"),
        Cell(f"{row['detects']:.0f}", kind="n"),
        {True: "yes", False: "no", None: ""}[row["complete"]],
        listed([name for name in str(row["missing"]).split(";") if name], 6),
        listed([name for name in str(row["counted_once"]).split(";") if name], 6),
        number(figure(row["lab_total"]), row["lab_total"]),
        number(figure(row["lab_difference_pct"]), row["lab_difference_pct"]),
        row["note"],
    ]


def not_assessed(facts: Facts) -> list[Table]:
    """What has no number, and why; results set aside; what was never analysed."""
    out = _finding_tables_short(facts)
    results = facts.run.batch.results
    unused = results.loc[~results["used"].astype(bool), ["why_not", "substance", "sample"]]
    if len(unused):
        rows: list[list[str | Cell]] = []
        for reason, part in unused.groupby(unused["why_not"].astype(object).fillna("reason not stated"), sort=True):
            rows.append(
                [
                    Cell(str(reason), kind="head"),
                    Cell(f"{len(part):,}", kind="n"),
                    listed([str(name) for name in part["substance"].unique()], 8),
                    listed([str(name) for name in part["sample"].unique()], 8),
                ]
            )
        out.append(
            simple(
                "set-aside",
                f"Results read and set aside: {counted(len(unused), 'result')} ({share(len(unused), len(results))} "
                f"of all)",
                ("Reason", Head("Results", kind="n"), Head("Substances", kind="w"), Head("Samples", kind="w")),
                rows,
            )
        )
    return out


def _finding_tables_short(facts: Facts) -> list[Table]:
    by_substance: dict[tuple[str, str], list[Finding]] = {}
    for one in facts.not_assessed:
        by_substance.setdefault((one.note or NO_NUMBER, one.substance), []).append(one)
    groups: dict[tuple[str, tuple[str, ...]], list[Finding]] = {}
    for (note, _), found in by_substance.items():
        groups.setdefault((note, tuple(dict.fromkeys(one.sample for one in found))), []).extend(found)
    if not groups:
        return []
    return [
        listing(
            "no-number",
            f"Findings without a number: {counted(len(facts.not_assessed), 'finding')}",
            ("Why", Head("Findings", kind="n"), Head("Samples", kind="w"), Head("Substances", kind="w"), "Sets"),
            sorted(groups.items(), key=lambda item: (-len(item[1]), item[0])),
            lambda group: [
                Cell(group[0][0], kind="head"),
                Cell(f"{len(group[1]):,}", kind="n"),
                listed(group[0][1], 12),
                listed(list(dict.fromkeys(one.substance for one in group[1])), 24),
                listed([name for name in facts.told_sets if any(one.set == name for one in group[1])]),
            ],
            source="findings",
            most=_MOST_ROWS,
        )
    ]


def reach(facts: Facts, substances: Sequence[str]) -> list[Table]:
    """Means over the reach and its parts, for what exceeds a level."""
    rows = [row for row in records(facts.run.reach) if row["substance"] in substances]
    if not rows:
        return []

    def made(row: Mapping[str, Any]) -> list[str | Cell]:
        return [
            Cell(total_name(row["substance"]), kind="head"),
            row["place"],
            row["layer"],
            Cell(f"{row['n']:.0f}", kind="n"),
            Cell(f"{row['detects']:.0f}", kind="n"),
            number(figure(row["mean"]), row["mean"]),
            span(row["mean_low"], row["mean_high"]),
            number(figure(row["median"]), row["median"]),
            number(figure(row["max"]), row["max"]),
            number(figure(row["upper95"]), row["upper95"]),
            number(figure(row["area_mean"]), row["area_mean"]),
            row["unit"],
            "; ".join(filter(None, (row["method"], row["note"]))),
        ]

    heads = (
        "Substance",
        "Place",
        "Layer",
        Head("n", kind="n"),
        Head("Detected", kind="n"),
        Head("Mean", kind="n"),
        "Mean, non-detects at 0 and at the limit",
        Head("Median", kind="n"),
        Head("Most", kind="n"),
        Head("Upper 95 % of the mean", kind="n"),
        Head("Mean by area", kind="n"),
        "Unit",
        Head("Method and note", kind="w"),
    )
    caption = "Means over the reach and its parts, for substances that exceed a level"
    return [listing("reach-means", caption, heads, rows, made, source="reach", most=_MOST_ROWS, folded=len(rows) > 12)]


def change(facts: Facts) -> list[Table]:
    """Against an earlier run of the same stations."""
    if facts.run.change is None:
        return []
    heads = (
        "Station",
        "Layer",
        "Substance",
        Head("Earlier", kind="n"),
        Head("Now", kind="n"),
        Head("Now over earlier", kind="n"),
        "Unit",
        Head("Note", kind="w"),
    )
    return [
        listing(
            "change-table",
            "Against the earlier run",
            heads,
            records(facts.run.change),
            lambda row: [
                Cell(row["station"], kind="head"),
                row["layer"],
                total_name(row["substance"]),
                number(figure(row["earlier"]), row["earlier"]),
                number(figure(row["now"]), row["now"]),
                number(figure(row["ratio"]), row["ratio"]),
                row["unit"],
                row["note"],
            ],
            source="change",
            most=_MOST_ROWS,
            folded=True,
        )
    ]
