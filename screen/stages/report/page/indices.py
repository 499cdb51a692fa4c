"""Indices and ratios: their figures by sample, and what each one is. In: ``Facts``. Out: tables and short texts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from screen.reference.index_about import about_indices, index_classes
from screen.stages.report.facts import Facts, records
from screen.stages.report.numbers import figure, listed, span
from screen.stages.report.parts import Cell, Head, Table, listing

__all__ = ["About", "about", "by_sample"]

#: Rows of one table on the page; the rest is in the files, and the table says so.
_MOST_ROWS = 300
_WEAK = {"from_memory": "from memory", "conflict": "sources conflict"}
_PATTERN = "ratio-homolog-"


@dataclass(frozen=True, slots=True)
class About:
    """One index in words: its name, and what it is made of as pairs of a heading and a text."""

    id: str
    name: str
    parts: tuple[tuple[str, str], ...]


def by_sample(facts: Facts) -> list[Table]:
    """The indices that have one figure a sample, side by side; those of single substances by their range."""
    chosen = facts.shown[0]
    names = _names(facts)
    table: dict[str, dict[str, str]] = {}
    others: dict[str, list[float]] = {}
    for row in records(facts.run.indices):
        name = row["index"]
        if row["substance"]:
            others.setdefault(name, []).append(row["value"])
        elif row["sample"] in chosen:
            table.setdefault(row["sample"], {})[name] = figure(row["value"]) or "none"
    whole = [name for name in names if name not in others]
    patterns = [name for name in whole if name.startswith(_PATTERN)]
    single = []
    for name, values in others.items():
        known = [value for value in values if value == value]
        most = f", {span(min(known), max(known))}" if known else ""
        single.append(f"{names[name]} ({len(values):,} figures{most})")
    note = "Low, high, class and members are in the table indices."
    if single:
        note += f" Of single substances, in the same file: {listed(single, 12)}."
    heads = {name: names[name] for name in whole if name not in patterns}
    shares = {name: name.removeprefix(_PATTERN) for name in patterns}
    out = [
        _table("indices-table", "Indices and ratios by sample", heads, table, note),
        _table("homologs-table", "Shares of PCBs by chlorine number, per cent", shares, table, ""),
    ]
    return [one for one in out if one is not None]


def about(facts: Facts) -> tuple[list[About], str]:
    """What each index that was made is, and in one sentence which are switched off."""
    evidence: dict[str, str] = {}
    for name, mark in facts.run.indices[["index", "evidence"]].drop_duplicates().itertuples(index=False):
        evidence.setdefault(str(name), str(mark))
    out, off = [], []
    for one in about_indices():
        if one.off:
            off.append(f"{one.name}: {one.off}")
        met = next((name for name in evidence if one.fits(name)), None)
        if met is None or one.off:
            continue
        classes = "; ".join(row["class"] for row in index_classes(one.id)) or one.classes
        weak = _WEAK.get(evidence[met])
        parts = (
            ("Formula", one.formula),
            ("Source", f"{one.source}{f' ({weak})' if weak else ''}"),
            ("Non-detects", one.nondetects),
            ("Classes", classes),
            ("Mind", " ".join(one.caveats)),
        )
        out.append(About(one.id, one.name, tuple(part for part in parts if part[1])))
    return out, f"Switched off. {' '.join(off)}" if off and out else ""


def _names(facts: Facts) -> dict[str, str]:
    """The ids of the indices that were made, in the order of the table, each with its name."""
    known = about_indices()
    return {
        str(name): next((one.name for one in known if one.fits(str(name))), str(name))
        for name in dict.fromkeys(facts.run.indices["index"].astype(object))
    }


def _table(
    identity: str,
    caption: str,
    heads: Mapping[str, str],
    table: Mapping[str, Mapping[str, str]],
    note: str,
) -> Table | None:
    rows = [item for item in table.items() if any(name in item[1] for name in heads)]
    if not rows:
        return None
    return listing(
        identity,
        caption,
        ["Sample", *(Head(name, kind="n") for name in heads.values())],
        rows,
        lambda item: [Cell(item[0], kind="head"), *(Cell(item[1].get(name, ""), kind="n") for name in heads)],
        source="indices",
        most=_MOST_ROWS,
        folded=True,
        note=note,
        printed=False,
    )
