"""The report's sections as finished strings. In: ``Facts`` and chains. Out: tables and texts for the templates."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from screen.report.facts import Facts, Finding, records
from screen.report.marks import WORDS, word
from screen.report.numbers import against, counted, depths, figure, given, listed, share, span, times
from screen.report.parts import Cell, Head, Table, mark, number, simple
from screen.report.text import number_text

__all__ = [
    "Chain",
    "chain_views",
    "change",
    "exceedances",
    "matrix",
    "not_assessed",
    "open_findings",
    "reach",
    "tally",
    "totals",
]

#: Columns of the matrix on one table; wider ones are split.
_WIDE = 10
#: Rows of one table on the page; the rest is in the files, and the table says so.
_MOST_ROWS = 300
_GROUPS = {
    "metal": "Metals",
    "pah": "PAHs",
    "pcb-congener": "PCBs",
    "pcb-aroclor": "PCBs",
    "pcb-homolog": "PCBs",
    "pesticide": "Pesticides",
    "dioxin": "Dioxins and furans",
    "organotin": "Organotins",
    "conventional": "Conventionals",
    "other": "Other substances",
}
_STEPS = {
    "read": "read",
    "unit": "to the standard unit",
    "dry-weight": "to dry weight",
    "carbon": "to the basis of the level",
    "sum": "into the sum",
    "level": "level",
    "quotient": "value over level",
}


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a chain: ``to dry weight: 15 by 0.6 gives 25 mg/kg``, in full figures."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Source:
    """A cell of the laboratory's sheet and what it holds."""

    where: str
    text: str


@dataclass(frozen=True, slots=True)
class Chain:
    """The way of one figure from the laboratory's cells to its finding."""

    identity: str
    title: str
    word: str
    steps: tuple[Step, ...]
    cells: tuple[Source, ...]


def chain_views(chains: Sequence[Mapping[str, Any]], facts: Facts) -> dict[tuple[str, str, str, str], Chain]:
    """The chains by sample, substance, total and set, in the order given."""
    out: dict[tuple[str, str, str, str], Chain] = {}
    chosen = facts.shown[0]
    for one in chains:
        key = (str(one["sample"]), str(one["substance"]), _text(one.get("total")), _text(one.get("set")))
        if key in out or key[0] not in chosen:
            continue
        identity = f"chain-{len(out) + 1}"
        steps = tuple(Step(_step(step), _text(step.get("source"))) for step in one["steps"])
        cells = tuple(Source(_cell_place(cell), _text(cell.get("text"))) for cell in one["cells"])
        finding = one.get("finding")
        name = finding.get("finding") if isinstance(finding, Mapping) else finding
        total = f" ({key[2]})" if key[2] else ""
        title = f"{key[1]}{total} in {key[0]} against {key[3]}"
        out[key] = Chain(identity, title, word(str(name)) if name else "", steps, cells)
    return out


def _step(step: Mapping[str, Any]) -> str:
    """The step in figures that a pencil can redo."""
    begin, by, end, unit = (_text(step.get(name)) for name in ("from", "by", "to", "unit"))
    name = _STEPS.get(str(step["step"]), str(step["step"]))
    figures = " ".join(filter(None, (begin, f"by {by}" if by else "", "gives" if begin else "", end, unit)))
    return f"{name}: {figures}"


def _cell_place(cell: Mapping[str, Any]) -> str:
    sheet = _text(cell.get("sheet"))
    place = f"{_text(cell.get('column'))}{_text(cell.get('row'))}"
    return ", ".join(filter(None, (_text(cell.get("file")), f"sheet {sheet}" if sheet else "", f"cell {place}")))


def _text(value: object) -> str:
    if isinstance(value, float):
        return number_text(value)
    return "" if value is None else str(value)


def _finding_name(one: Finding) -> str:
    return f"{one.substance} ({one.total})" if one.total else one.substance


def tally(facts: Facts) -> Table | None:
    """How many findings of each kind, set by set, the open ones beside the exceedances."""
    if not facts.findings:
        return None
    rows = []
    for set_id in facts.set_ids:
        found = facts.of_set(set_id)
        numbers = [sum(one.finding == name for one in found) for name in WORDS]
        hanging = sum(one.unsettled and one.finding != "undetermined" for one in found)
        name = f"{listed([name for name in facts.names(set_id) if name])} ({set_id})"
        rows.append([Cell(name, kind="head"), *(Cell(f"{count:,}", kind="n") for count in [*numbers, hanging])])
    heads: list[str | Head] = [
        "Findings against",
        *(Head(text, kind="n") for text in WORDS.values()),
        Head("unsettled, counted among these", kind="n"),
    ]
    return simple("tally", "Findings by set", heads, rows)


def _small_quotient(one: Finding) -> str:
    quotient = one.lower_quotient if not math.isnan(one.lower_quotient) else one.upper_quotient
    return against(quotient, 1.0, digits=2)


def matrix(facts: Facts, chains: Mapping[tuple[str, str, str, str], Chain]) -> list[tuple[str, list[Table]]]:
    """Per set: tables of samples by substances, one or more per chemical group, in river order."""
    out = []
    for set_id in facts.set_ids:
        findings = facts.drawn(facts.of_set(set_id))
        samples = list(dict.fromkeys(one.sample for one in findings))
        groups: dict[str, dict[str, None]] = {}
        cells: dict[tuple[str, str], list[Finding]] = {}
        for one in findings:
            groups.setdefault(_GROUPS.get(one.group, "Other substances"), {}).setdefault(one.substance)
            cells.setdefault((one.sample, one.substance), []).append(one)
        tables = [
            _matrix_table(facts, set_id, columns, samples, cells, chains)
            for columns in _packed(
                {group: list(groups[group]) for group in dict.fromkeys(_GROUPS.values()) if group in groups}
            )
        ]
        lower, upper = facts.names(set_id)
        out.append((f"{listed([name for name in (lower, upper) if name])} ({set_id})", tables))
    return out


def _packed(groups: Mapping[str, Sequence[str]]) -> list[list[tuple[str, list[str]]]]:
    """The columns of each table: whole groups together where they fit, a wide group in slices of its own."""
    tables: list[list[tuple[str, list[str]]]] = []
    for group, names in groups.items():
        slices = math.ceil(len(names) / _WIDE)
        size = math.ceil(len(names) / slices)
        for at in range(0, len(names), size):
            part = list(names[at : at + size])
            if slices == 1 and tables and sum(len(one) for _, one in tables[-1]) + len(part) <= _WIDE:
                tables[-1].append((group, part))
            else:
                tables.append([(group, part)])
    return tables


def _matrix_table(
    facts: Facts,
    set_id: str,
    columns: Sequence[tuple[str, Sequence[str]]],
    samples: Sequence[str],
    cells: Mapping[tuple[str, str], Sequence[Finding]],
    chains: Mapping[tuple[str, str, str, str], Chain],
) -> Table:
    names = [name for _, part in columns for name in part]
    said = listed(
        [
            group if number == 0 or group.isupper() or group[1:2].isupper() else group.lower()
            for number, (group, _) in enumerate(columns)
        ],
        9,
    )
    rows = []
    for sample in samples:
        met = [cells.get((sample, name), ()) for name in names]
        if not any(met):
            continue
        first = next(one for found in met for one in found)
        where = " · ".join(
            filter(
                None,
                (
                    f"km {given(first.river_km)}" if given(first.river_km) else "",
                    f"{depths(first.depth_top_cm, first.depth_bottom_cm)} cm"
                    if depths(first.depth_top_cm, first.depth_bottom_cm)
                    else "",
                ),
            )
        )
        row = [Cell(sample, where, kind="head")]
        for found in met:
            marks = tuple(
                mark(
                    one,
                    _small_quotient(one),
                    chains[one.key].identity if one.key in chains else "",
                    one.total if len(found) > 1 else "",
                )
                for one in found
            )
            row.append(Cell(kind="m", marks=marks))
        rows.append(tuple(row))
    return Table(
        "matrix-" + "".join(c if c.isalnum() else "-" for c in f"{set_id}-{names[0]}"),
        f"{said}: samples in river order, by substance",
        (Head("Sample"), *(Head(name, kind="m") for name in names)),
        tuple(rows),
        kind="matrix",
        groups=tuple((group, len(part)) for group, part in columns),
    )


def _finding_heads(lower: str, upper: str) -> tuple[Head, ...]:
    return (
        Head("Sample"),
        Head("River", "km", "n"),
        Head("Depth", "cm", "d"),
        Head("Substance"),
        Head("Value", kind="n"),
        Head("Flag"),
        Head("Low to high", kind="d"),
        Head("Unit"),
        Head(lower, kind="n"),
        Head(upper, kind="n"),
        Head(f"Value ÷ {lower}", kind="n"),
        Head(f"Value ÷ {upper}", kind="n"),
        Head("Finding"),
        Head("Evidence of the level, notes", kind="w"),
    )


_EVIDENCE = {
    "seen": "seen",
    "own": "own level",
    "from_memory": "level from memory",
    "conflict": "sources of the level conflict",
}


def _finding_row(one: Finding, chains: Mapping[tuple[str, str, str, str], Chain]) -> list[str | Cell]:
    level = one.upper_level if one.finding == "above" else one.lower_level
    if math.isnan(one.value):
        limit = against(one.high, one.lower_level) if not math.isnan(one.high) else ""
        shown = Cell(f"< {limit}" if limit else "not known", _text(one.high), kind="n")
    else:
        shown = number(against(one.value, level), one.value)
    levels = [
        Cell(f"{given(level)}", _text(level), kind="n") if not math.isnan(level) else Cell(kind="n")
        for level in (one.lower_level, one.upper_level)
    ]
    basis = "" if one.basis == "dry" else f", {one.basis}"
    return [
        Cell(one.sample, kind="head", link=chains[one.key].identity if one.key in chains else ""),
        number(given(one.river_km), one.river_km),
        depths(one.depth_top_cm, one.depth_bottom_cm),
        _finding_name(one),
        shown,
        one.qualifier,
        span(one.low, one.high) if one.low != one.high else "",
        f"{one.unit}{basis}",
        *levels,
        number(times(one.lower_quotient), one.lower_quotient),
        number(times(one.upper_quotient), one.upper_quotient),
        Cell(kind="m", mark=mark(one)),
        "; ".join(filter(None, (_EVIDENCE.get(one.evidence, one.evidence), one.note))),
    ]


def _finding_tables(
    facts: Facts,
    found: Sequence[Finding],
    chains: Mapping[tuple[str, str, str, str], Chain],
    slug: str,
    caption: str,
    fold: int,
) -> list[Table]:
    """One table per set; ``caption`` holds ``{upper}`` and ``{lower}`` for the names of its levels."""
    out = []
    for set_id in facts.set_ids:
        all_of_set = [one for one in found if one.set == set_id]
        rows = facts.drawn(all_of_set)[:_MOST_ROWS]
        if not rows:
            continue
        lower, upper = facts.names(set_id)
        lower = lower or "lower level"
        left_out = len(all_of_set) - len(rows)
        name = caption.format(lower=lower, upper=upper)
        table = simple(
            f"{slug}-{set_id}",
            f"{name} ({set_id}): {counted(len(all_of_set), 'finding')}",
            _finding_heads(lower, upper),
            [_finding_row(one, chains) for one in rows],
            folded=len(rows) > fold,
            note=f"{counted(left_out, 'row')} more in tables/findings.csv." if left_out else "",
        )
        out.append(table)
    return out


def exceedances(facts: Facts, chains: Mapping[tuple[str, str, str, str], Chain]) -> list[Table]:
    """Above and between, highest quotient first."""
    return [
        *_finding_tables(facts, facts.exceeding("above"), chains, "above", "Above the {upper}", 60),
        *_finding_tables(facts, facts.exceeding("between"), chains, "between", "Between {lower} and {upper}", 25),
    ]


def open_findings(facts: Facts, chains: Mapping[tuple[str, str, str, str], Chain]) -> list[Table]:
    """What cannot be judged, and what hangs on how non-detects are counted."""
    return [
        *_finding_tables(
            facts, facts.undetermined, chains, "undetermined", "Limit too high, or a sum that lacks members", 40
        ),
        *_finding_tables(
            facts, facts.hanging, chains, "unsettled", "Unsettled: other counting of non-detects, other finding", 40
        ),
    ]


def totals(facts: Facts) -> list[Table]:
    """How each total was made: one table per total and rule."""
    chosen = facts.shown[0]
    groups: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for row in records(facts.run.totals):
        groups.setdefault((row["name"], row["total"], row["rule"]), []).append(row)
    compared = {one.total for one in facts.findings}
    out = []
    for (name, total, rule), rows in groups.items():
        shown = [row for row in rows if row["sample"] in chosen][:_MOST_ROWS]
        if not shown:
            continue
        complete = sum(row["complete"] is True for row in rows)
        detected = sum(row["detected"] is True for row in rows)
        out.append(
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
                    Head("Low to high", rows[0]["unit"]),
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
                note=f"{counted(len(rows) - len(shown), 'row')} more in tables/totals.csv."
                if len(shown) < len(rows)
                else "",
            )
        )
    return out


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
        groups.setdefault((one.note or "no number on the basis of the set", one.substance, one.set), []).append(one)
    if not groups:
        return []
    rows: list[list[str | Cell]] = [
        [
            Cell(note, kind="head"),
            substance,
            set_id,
            Cell(f"{len(found):,}", kind="n"),
            listed([one.sample for one in found], 12),
        ]
        for (note, substance, set_id), found in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0]))
    ]
    return [
        simple(
            "no-number",
            f"Findings without a number: {counted(len(facts.not_assessed), 'finding')}",
            ("Why", "Substance", "Set", Head("Findings", kind="n"), Head("Samples", kind="w")),
            rows[:_MOST_ROWS],
            note=f"{counted(len(rows) - _MOST_ROWS, 'row')} more in tables/findings.csv."
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
    note = f"{counted(left, 'row')} more in tables/reach.csv." if left > 0 else ""
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
    note = f"{counted(left, 'row')} more in tables/change.csv." if left > 0 else ""
    return [simple("change-table", "Against the earlier run", heads, rows[:_MOST_ROWS], folded=True, note=note)]
