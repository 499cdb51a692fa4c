"""What stands behind the findings, as tables: totals, places, and what has no number. In: ``Facts``."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from screen.stages.report.facts import NO_NUMBER, Facts, Finding, records
from screen.stages.report.numbers import counted, figure, given, listed, share, span
from screen.stages.report.parts import Cell, Head, Table, condensed, number, simple

__all__ = ["change", "not_assessed", "reach", "totals"]

#: Rows of one table on the page; the rest is in the files, and the table says so.
_MOST_ROWS = 300


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
        shown = [row for row in rows if row["sample"] in chosen][:_MOST_ROWS]
        if not shown:
            continue
        complete = sum(row["complete"] is True for row in rows)
        detected = sum(row["detected"] is True for row in rows)
        out.append(
            condensed(
                simple(
                    f"total-{total}-{rule}",
                    f"{name} ({total}), non-detects counted as: {rule}. {counted(len(rows), 'sample')}, {complete:,} "
                    f"complete, "
                    f"{detected:,} with a member detected"
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
                    [_total_row(row) for row in shown],
                    folded=True,
                    note=f"{counted(len(rows) - len(shown), 'row')} more in the table totals."
                    if len(shown) < len(rows)
                    else "",
                    printed=False,
                )
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
                f"{span(measured[0], measured[-1])} of {first['members']:.0f}",
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
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for one in facts.not_assessed:
        groups.setdefault((one.note or NO_NUMBER, one.substance, one.set), []).append(one)
    if not groups:
        return []
    rows: list[list[str | Cell]] = [
        [
            Cell(substance, kind="head"),
            set_id,
            Cell(f"{len(found):,}", kind="n"),
            listed([one.sample for one in found], 12),
            note,
        ]
        for (note, substance, set_id), found in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0]))
    ]
    return [
        simple(
            "no-number",
            f"Findings without a number: {counted(len(facts.not_assessed), 'finding')}",
            ("Substance", "Set", Head("Findings", kind="n"), Head("Samples", kind="w"), "Why"),
            rows[:_MOST_ROWS],
            note=f"{counted(len(rows) - _MOST_ROWS, 'row')} more in the table findings."
            if len(rows) > _MOST_ROWS
            else "",
        )
    ]


def reach(facts: Facts, substances: Sequence[str]) -> list[Table]:
    """Means over the reach and its parts, for what exceeds a level."""
    rows: list[list[str | Cell]] = [
        [
            Cell(row["substance"], kind="head"),
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
        for row in records(facts.run.reach)
        if row["substance"] in substances
    ]
    if not rows:
        return []
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
    left = len(rows) - _MOST_ROWS
    note = f"{counted(left, 'row')} more in the table reach." if left > 0 else ""
    return [simple("reach-means", caption, heads, rows[:_MOST_ROWS], folded=len(rows) > 12, note=note)]


def change(facts: Facts) -> list[Table]:
    """Against an earlier run of the same stations."""
    if facts.run.change is None:
        return []
    rows = [
        [
            Cell(row["station"], kind="head"),
            row["layer"],
            row["substance"],
            number(figure(row["earlier"]), row["earlier"]),
            number(figure(row["now"]), row["now"]),
            number(figure(row["ratio"]), row["ratio"]),
            row["unit"],
            row["note"],
        ]
        for row in records(facts.run.change)
    ]
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
    left = len(rows) - _MOST_ROWS
    note = f"{counted(left, 'row')} more in the table change." if left > 0 else ""
    return [simple("change-table", "Against the earlier run", heads, rows[:_MOST_ROWS], folded=True, note=note)]
