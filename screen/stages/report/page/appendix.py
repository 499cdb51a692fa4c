"""The report's back matter as finished strings: data quality, method, sources of the levels, record of the run."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from screen.stages.report.facts import Facts, records
from screen.stages.report.numbers import figure, given, listed, span
from screen.stages.report.parts import Cell, Head, Table, condensed, listing, number, simple

__all__ = ["Source", "method", "quality", "record", "sources", "warnings"]

_MOST_ROWS = 200
_RULES = {
    "zero": "as zero",
    "half": "at half the limit",
    "root2": "at the limit divided by the square root of 2",
    "full": "at the limit",
    "km": "by the Kaplan-Meier estimate",
}
_DUPLICATES = {
    "higher": "Of a field sample and its duplicate the higher value makes the finding, on the row of the first; "
    "means per "
    "place average the pair first.",
    "mean": "A field sample and its duplicate make one finding by their mean, a non-detect at half its limit.",
    "separate": "A field sample and its duplicate are compared each for itself; means per place average the pair "
    "first.",
}
_PASSING = ("pass", "passed", "ok", "met", "within")


@dataclass(frozen=True, slots=True)
class Source:
    """A guideline set: what it is, what to mind, and the levels used of it."""

    identity: str
    title: str
    citation: str
    caveats: tuple[str, ...]
    facts: tuple[str, ...]
    levels: Table


def quality(facts: Facts) -> list[Table]:
    """The checks of data quality: their outcomes counted, then every one that did not pass."""
    rows = records(facts.run.quality)
    if not rows:
        return []
    tally: dict[tuple[str, str], int] = {}
    for row in rows:
        key = (row["check"], row["outcome"])
        tally[key] = tally.get(key, 0) + 1
    out = [
        simple(
            "quality-counts",
            "Checks of data quality, by outcome",
            ("Check", "Outcome", Head("Number", kind="n")),
            [
                [Cell(check, kind="head"), outcome, Cell(f"{number_:,}", kind="n")]
                for (check, outcome), number_ in sorted(tally.items())
            ],
        )
    ]
    open_ = [row for row in rows if row["outcome"].lower() not in _PASSING]
    if open_:
        groups: dict[tuple[str, ...], list[dict[str, Any]]] = {}
        for row in open_:
            same = (row["check"], row["substance"], _words(row["criterion"]), row["outcome"], row["note"])
            groups.setdefault(same, []).append(row)
        out.append(
            listing(
                "quality-open",
                f"Checks to look at: {len(open_):,}, those that differ by sample only in one row. They change no "
                "result.",
                (
                    "Check",
                    "Substance",
                    Head("Criterion", kind="w"),
                    "Outcome",
                    Head("Samples", kind="w"),
                    "Value",
                    Head("Note", kind="w"),
                    "Where",
                ),
                list(groups.items()),
                _checks,
                source="quality",
                most=_MOST_ROWS,
                folded=len(groups) > 20,
            )
        )
    return out


def _checks(group: tuple[tuple[str, ...], Sequence[Mapping[str, Any]]]) -> list[str | Cell]:
    """A row for checks of one kind, substance, criterion and outcome: at which samples, and from least to most."""
    (check, substance, criterion, outcome, note), rows = group
    samples = [name for name in dict.fromkeys(row["sample"] for row in rows) if name]
    values = [row["value"] for row in rows if not math.isnan(row["value"])]
    return [
        Cell(check, kind="head"),
        substance,
        criterion,
        outcome,
        samples[0] if len(samples) == 1 else f"{len(samples)}: {listed(samples, 4)}" if samples else "",
        span(min(values), max(values)) if values else "",
        note,
        _where(rows[0]) if len(rows) == 1 else "",
    ]


def _words(value: object) -> str:
    return figure(value) if isinstance(value, float) else str(value)


def _where(row: Mapping[str, Any]) -> str:
    line = "" if math.isnan(row["row"]) else f"row {row['row']:.0f}"
    return ", ".join(filter(None, (row["file"], f"sheet {row['sheet']}" if row["sheet"] else "", line)))


def warnings(facts: Facts) -> Table | None:
    """What the reading and comparing warned of: what, where, how to mend it."""
    problems = facts.run.problems
    if not problems:
        return None
    return listing(
        "warnings",
        f"Warnings and refusals: {len(problems):,}",
        ("Code", "Kind", "Where", Head("What", kind="w"), Head("How to mend it", kind="w")),
        problems,
        lambda one: [Cell(one.code, kind="head"), one.severity, one.where, one.message, one.mend],
        source="warnings of run.json",
        most=_MOST_ROWS,
        folded=len(problems) > 12,
    )


def method(facts: Facts) -> list[str]:
    """The rules in use, as sentences."""
    settings, record = facts.run.settings, facts.record
    out = [
        "Every result was brought to dry weight with the sample's own moisture or solids, and to the standard unit "
        "of its "
        "substance; a result without a stated basis, without moisture where it needs one, without a unit or of an "
        "unknown "
        "substance has no number here and is listed as not assessed or refused. Nothing was guessed.",
        _nondetects(facts),
        "Low and high of every total count non-detects as zero and at their limit; where the two ends give different "
        "findings, "
        "the finding is unsettled. A total that lacks members stands where it is above a level and cannot be judged "
        "where it is not.",
        "A non-detect whose limit is above the lower level cannot be judged and is shown as limit too high, not as "
        "below; what cannot be judged for another reason has the same mark, with the reason in brackets. "
        "A value equal to a level does not exceed it"
        + _ties(facts)
        + "; equal means within one part in a thousand million. Nothing is rounded before comparing; figures on this "
        "page are "
        "rounded to three significant figures, or to as many as show the side of the level.",
        "Peaks of several PCB congeners are added once and whole. Congeners, homologs and Aroclors are never added "
        "to each other. "
        "A total of the laboratory's own is shown beside ours and never added.",
        _DUPLICATES[settings.duplicates],
    ]
    words = {
        "limits": {"detection": "A bare ND takes the detection limit where its text names none."},
        "conflicts": {"higher": "Of two conflicting results for one measurement the higher was taken."},
        "zeros": {"nondetect": "A bare 0 as a concentration was read as a non-detect."},
        "blanks": {
            "five-ten": "Results within five times (common laboratory contaminants: ten times) of a blank were read "
            "as non-detects."
        },
        "water_content": {"use": "A water content over dry mass served as moisture where a sheet gave no other."},
        "soil": {"include": "Bank soil was counted as sediment."},
        "compaction": {
            "linear": "Core depths were stretched evenly for compaction; results keep their depths as recorded."
        },
    }
    out += [said[value] for name, said in words.items() if (value := getattr(settings, name)) in said]
    if settings.water:
        out.append(f"Stations whose water the field record does not state were taken as {settings.water}.")
    if settings.at is not None:
        out.append(f"Upstream and downstream are divided at river km {given(settings.at)}.")
    counts = record["counts"]
    out.append(
        f"Of {counts['cells']:,} cells that hold something, every one is in the ledger: {counts['results']:,} became "
        f"results, "
        f"{counts['qc']:,} quality control, {counts['duplicate']:,} were the same number again, "
        f"{counts['superseded']:,} lost to a "
        f"rerun or dilution, {counts['lab_total']:,} were totals of the laboratory, {counts['rejected']:,} were "
        f"refused, "
        f"{counts['ignored']:,} were left aside; the rest is heads, units, titles and notes."
    )
    return out


def _nondetects(facts: Facts) -> str:
    rule = facts.run.settings.nondetects
    if rule != "stated":
        return f"In sums, non-detects are counted {_RULES[rule]} (chosen for this run)."
    said = [
        f"{name}: {_RULES[one.nondetects or 'zero']}" + ("" if one.nondetects else " (the set states no rule)")
        for name, one in facts.sets.items()
    ]
    return f"In sums, non-detects are counted as each set states: {'; '.join(said)}."


def _ties(facts: Facts) -> str:
    other = [name for name, one in facts.sets.items() if one.at_level == "exceeds"]
    return f", but for {listed(other)}, which says that it does" if other else ""


def sources(facts: Facts) -> list[Source]:
    """Every set in use with the levels that findings were compared with, each with evidence and source."""
    out = []
    for name, one in facts.sets.items():
        used = {finding.substance for finding in facts.of_set(name)}
        rows = [row for row in records(one.rows) if row["substance"] in used]
        out.append(
            Source(
                f"source-{name}",
                f"{one.title} ({name})",
                one.citation,
                tuple(one.caveats),
                (
                    f"Water: {listed(list(one.water))}",
                    f"Levels: {listed(list(one.levels), 12)}; compared as lower and upper: "
                    f"{listed([level for level in (one.lower, one.upper) if level])}",
                ),
                _levels(name, one.levels, rows, printed=name in facts.told_sets),
            )
        )
    return out


def _levels(name: str, levels: Sequence[str], rows: Sequence[Mapping[str, Any]], *, printed: bool) -> Table:
    """The figures as printed, the levels of a substance side by side where they share unit, basis and evidence."""
    groups: dict[tuple[str, ...], dict[str, float]] = {}
    sources: dict[tuple[str, ...], dict[str, list[str]]] = {}
    for row in rows:
        key = tuple(row[part] for part in ("substance", "unit", "basis", "evidence"))
        groups.setdefault(key, {})[row["level"]] = row["value"]
        for part in ("source", "note"):
            sources.setdefault((*key, part), {}).setdefault(row[part], []).append(row["level"])
    heads: tuple[str | Head, ...] = (
        "Substance",
        *(Head(level, kind="n") for level in levels),
        "Unit",
        "Basis",
        "Evidence",
    )
    return condensed(
        simple(
            f"levels-{name}",
            f"Levels used of {name}",
            (*heads, Head("Source", kind="w"), Head("Note", kind="w")),
            [
                [
                    Cell(key[0], kind="head"),
                    *(number(given(found.get(level)), found.get(level)) for level in levels),
                    key[1],
                    key[2],
                    _evidence(key[3]),
                    *(_by_level(sources[*key, part]) for part in ("source", "note")),
                ]
                for key, found in groups.items()
            ],
            folded=True,
            printed=printed,
        )
    )


def _by_level(texts: Mapping[str, Sequence[str]]) -> str:
    """A text that all levels share, or each text with the levels that it is of."""
    told = [(text, levels) for text, levels in texts.items() if text]
    if len(texts) == 1:
        return told[0][0] if told else ""
    return "; ".join(f"{listed(list(levels))}: {text.rstrip('.')}" for text, levels in told)


def _evidence(mark: str) -> str:
    return {"seen": "seen", "own": "own figure", "from_memory": "FROM MEMORY", "conflict": "SOURCES CONFLICT"}.get(
        mark, mark
    )


def _setting(value: object) -> str:
    """A setting as it may be read: texts as they are, lists of them with commas, anything else as JSON."""
    if isinstance(value, str):
        return value
    if isinstance(value, list) and all(isinstance(item, str) for item in value):
        return ", ".join(value)
    return json.dumps(value, ensure_ascii=False)


def record(facts: Facts) -> list[Table]:
    """Inputs, versions, settings, guideline files and counts: what a repeat needs."""
    run = facts.record
    inputs = simple(
        "record-inputs",
        "Inputs",
        ("File", Head("Bytes", kind="n"), Head("SHA-256", kind="code")),
        [
            [
                Cell(str(one["path"]), kind="head"),
                Cell(f"{one['bytes']:,}", kind="n"),
                Cell(str(one["sha256"]), kind="code"),
            ]
            for one in run["inputs"]
        ],
    )
    sets = simple(
        "record-sets",
        "Guideline files",
        ("Set", Head("SHA-256", kind="code")),
        [[Cell(str(one["id"]), kind="head"), Cell(str(one["sha256"]), kind="code")] for one in run["guideline_sets"]],
    )
    versions = simple(
        "record-versions",
        "Versions",
        ("What", "Version"),
        [
            [Cell("siltmark", kind="head"), str(run["tool_version"])],
            *((Cell(str(name), kind="head"), str(version)) for name, version in run.get("libraries", {}).items()),
        ],
    )
    settings = simple(
        "record-settings",
        "Settings as used",
        ("Setting", Head("Value", kind="w")),
        [
            [Cell(str(name), kind="head"), _setting(value)]
            for name, value in run["settings"].items()
            if value not in (None, [], {}, ())
        ],
    )
    counts = simple(
        "record-counts",
        "Counts",
        ("What", Head("Number", kind="n")),
        [
            [Cell(name.replace("_", " "), kind="head"), Cell(f"{value:,}", kind="n")]
            for name, value in run["counts"].items()
        ],
    )
    return [inputs, sets, versions, settings, counts]
