"""What was found, as finished tables: matrix, exceedances and open findings. In: ``Facts`` and chains."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from screen.stages.report.facts import Facts, Finding
from screen.stages.report.numbers import against, counted, depths, given, listed, span, times
from screen.stages.report.page.chains import Chains
from screen.stages.report.parts import Cell, Head, Table, listing, mark, number
from screen.stages.report.text import number_text

__all__ = ["exceedances", "matrix", "open_findings"]

#: A column of the matrix: a substance, and which of the kinds of measurement that its sum can be made of.
_Column = tuple[str, int]
#: Columns of the matrix on one table; wider ones are split.
_WIDE = 13
#: Rows of one table on the page; the rest is in the files, and the table says so.
_MOST_ROWS = 200
#: The same of open findings, and where the matrix tells as much.
_MOST_OPEN, _MOST_BETWEEN = 100, 60
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


def _finding_name(one: Finding) -> str:
    return f"{one.substance} ({one.total})" if one.total else one.substance


def _small_quotient(one: Finding) -> str:
    quotient = one.lower_quotient if not math.isnan(one.lower_quotient) else one.upper_quotient
    return against(quotient, 1.0, digits=2)


def matrix(facts: Facts, chains: Chains) -> list[tuple[str, list[Table]]]:
    """Per set that is told in full: tables of samples by substances, one or more per chemical group, in river order."""
    out = []
    for set_id in facts.told_sets:
        findings = facts.drawn(facts.of_set(set_id))
        samples = list(dict.fromkeys(one.sample for one in findings))
        groups: dict[str, dict[_Column, None]] = {}
        cells: dict[tuple[str, _Column], Finding] = {}
        for one in findings:
            column = one.substance, _kind(facts, one)
            while (one.sample, column) in cells:
                column = one.substance, column[1] + 1
            groups.setdefault(_GROUPS.get(one.group, "Other substances"), {}).setdefault(column)
            cells[one.sample, column] = one
        tables = [
            _matrix_table(set_id, columns, samples, cells, chains)
            for columns in _packed(
                {group: _beside(groups[group]) for group in dict.fromkeys(_GROUPS.values()) if group in groups}
            )
        ]
        lower, upper = facts.names(set_id)
        out.append((f"{listed([name for name in (lower, upper) if name])} ({set_id})", tables))
    return out


def _kind(facts: Facts, one: Finding) -> int:
    """Of the kinds of measurement that a guideline sum can be made of, which this finding is: a column of its own."""
    chosen = facts.sets.get(one.set)
    kinds = chosen.sums.get(one.substance, ()) if chosen is not None else ()
    total = one.total.removesuffix("-lab")
    return next((at for at, totals in enumerate(kinds) if total in totals), 0)


def _beside(columns: Collection[_Column]) -> list[_Column]:
    """The columns as met, those of one substance beside one another."""
    names = list(dict.fromkeys(name for name, _ in columns))
    return sorted(columns, key=lambda column: (names.index(column[0]), column[1]))


def _packed(groups: Mapping[str, Sequence[_Column]]) -> list[list[tuple[str, list[_Column]]]]:
    """The columns of each table: whole groups together where they fit, a wide group in slices of its own."""
    tables: list[list[tuple[str, list[_Column]]]] = []
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
    set_id: str,
    columns: Sequence[tuple[str, Sequence[_Column]]],
    samples: Sequence[str],
    cells: Mapping[tuple[str, _Column], Finding],
    chains: Chains,
) -> Table:
    every = [column for _, part in columns for column in part]
    many = {name for name, _ in every if sum(name == other for other, _ in every) > 1}
    totals: dict[_Column, dict[str, None]] = {column: {} for column in every}
    said = listed(
        [
            group if number == 0 or group.isupper() or group[1:2].isupper() else group.lower()
            for number, (group, _) in enumerate(columns)
        ],
        9,
    )
    rows = []
    for sample in samples:
        met = [cells.get((sample, column)) for column in every]
        first = next(filter(None, met), None)
        if first is None:
            continue
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
        for column, one in zip(every, met, strict=True):
            if one is None:
                row.append(Cell(kind="m"))
                continue
            kind = one.total if one.substance in many else ""
            totals[column].setdefault(kind)
            drawn = mark(one, _small_quotient(one), chains.places.get(one.key, ""), kind)
            row.append(Cell(kind="plain" if one.finding == "below" and not one.unsettled else "m", mark=drawn))
        rows.append(tuple(row))
    return Table(
        "matrix-" + "".join(c if c.isalnum() else "-" for c in f"{set_id}-{every[0][0]}"),
        f"{said}: samples in river order, by substance",
        (Head("Sample"), *(Head(column[0], ", ".join(filter(None, totals[column])), "m") for column in every)),
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
        Head("Notes", kind="w"),
    )


_EVIDENCE = {
    "seen": "",
    "own": "own level",
    "from_memory": "level from memory",
    "conflict": "sources of the level conflict",
}


def _finding_row(one: Finding, facts: Facts, chains: Chains) -> list[str | Cell]:
    level = one.upper_level if one.finding == "above" else one.lower_level
    if math.isnan(one.value):
        high = facts.compared_limit(one)
        limit = against(high, one.lower_level) if not math.isnan(high) else ""
        shown = Cell(f"< {limit}" if limit else "not known", number_text(high), kind="n")
    else:
        shown = number(against(one.value, level), one.value)
    levels = [
        Cell(f"{given(level)}", number_text(level), kind="n") if not math.isnan(level) else Cell(kind="n")
        for level in (one.lower_level, one.upper_level)
    ]
    basis = "" if one.basis == "dry" else f", {one.basis}"
    return [
        Cell(one.sample, kind="head", link=chains.places.get(one.key, "")),
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
        "; ".join(filter(None, (_EVIDENCE.get(one.evidence, one.evidence), _lacks(one, facts), one.note))),
    ]


def _lacks(one: Finding, facts: Facts) -> str:
    """Of a sum that cannot be judged for want of members, how many were measured."""
    row = facts.total_rows.get((one.sample, one.total))
    if one.finding != "undetermined" or math.isnan(one.value) or row is None:
        return ""
    return f"{row['measured']:.0f} of {row['members']:.0f} members measured"


def _finding_tables(
    facts: Facts,
    found: Sequence[Finding],
    chains: Chains,
    slug: str,
    caption: str,
    fold: int,
    *,
    most: int = _MOST_OPEN,
    printed: bool = True,
) -> list[Table]:
    """One table per set; ``caption`` holds ``{upper}`` and ``{lower}`` for the names of its levels."""
    out = []
    for set_id in facts.told_sets:
        all_of_set = [one for one in found if one.set == set_id]
        rows = facts.drawn(all_of_set)
        if not rows:
            continue
        lower, upper = facts.names(set_id)
        lower = lower or "lower level"
        name = caption.format(lower=lower, upper=upper)
        out.append(
            listing(
                f"{slug}-{set_id}",
                f"{name} ({set_id}): {counted(len(all_of_set), 'finding')}",
                _finding_heads(lower, upper),
                rows,
                lambda one: _finding_row(one, facts, chains),
                source="findings",
                most=most,
                whole=len(all_of_set),
                folded=len(rows) > fold,
                printed=printed,
            )
        )
    return out


def exceedances(facts: Facts, chains: Chains) -> list[Table]:
    """Above and between, highest quotient first."""
    return [
        *_finding_tables(facts, facts.exceeding("above"), chains, "above", "Above the {upper}", 60, most=_MOST_ROWS),
        *_finding_tables(
            facts,
            facts.exceeding("between"),
            chains,
            "between",
            "Between {lower} and {upper}",
            25,
            most=_MOST_BETWEEN,
            printed=False,
        ),
    ]


def open_findings(facts: Facts, chains: Chains) -> list[Table]:
    """What cannot be judged, and what hangs on how non-detects are counted."""
    return [
        *_finding_tables(facts, facts.undetermined, chains, "undetermined", "Limit too high, or members missing", 40),
        *_finding_tables(
            facts, facts.hanging, chains, "unsettled", "Unsettled: other counting of non-detects, other finding", 40
        ),
    ]
