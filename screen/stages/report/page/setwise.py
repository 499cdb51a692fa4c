"""Guideline sets beside one another: how many findings each gives, and where they disagree. In: ``Facts``."""

from __future__ import annotations

from screen.stages.report.facts import Facts, Finding
from screen.stages.report.marks import GRAVITY, WORDS, head
from screen.stages.report.numbers import counted, listed
from screen.stages.report.parts import Cell, Head, Table, listing, mark, simple

__all__ = ["disagreement", "tally"]

#: Substances of the comparison on the page; the rest is in the files, and the table says so.
_MOST_ROWS = 200
_JUDGED = ("above", "between", "below")
#: What stands beside the findings of a set that was not checked against its source (contract 5).
UNSEEN = "most figures not seen in a source"


def tally(facts: Facts) -> Table | None:
    """How many findings of each kind, set by set, the open ones beside the exceedances."""
    if not facts.findings:
        return None
    rows = []
    for set_id in facts.set_ids:
        found = facts.of_set(set_id)
        numbers = [sum(one.finding == name for one in found) for name in WORDS]
        hanging = sum(one.unsettled and one.finding != "undetermined" for one in found)
        levels = listed([name for name in facts.names(set_id) if name])
        about = f"{set_id}; {UNSEEN}" if set_id in facts.unseen_sets else set_id
        rows.append([Cell(levels, about, kind="head"), *(Cell(f"{count:,}", kind="n") for count in numbers)])
        rows[-1].append(Cell(f"{hanging:,}", kind="n"))
    heads: tuple[str | Head, ...] = (
        "Findings against",
        *(Head(text, kind="n") for text in map(head, WORDS)),
        Head("unsettled, counted among these", kind="n"),
    )
    return simple("tally", "Findings by set", heads, rows)


def disagreement(facts: Facts) -> Table | None:
    """Where the sets differ, substance by substance; None for a single set and where no two sets judge one result."""
    by_substance: dict[str, dict[str, dict[str, Finding]]] = {}
    for one in facts.findings:
        if one.finding in _JUDGED:
            by_substance.setdefault(one.substance, {}).setdefault(one.sample, {})[one.set] = one
    rows: list[tuple[int, str, list[str | Cell]]] = []
    for substance, samples in by_substance.items():
        sets = {name for found in samples.values() for name in found}
        if len(sets) < 2:
            continue
        apart = [found for found in samples.values() if len({one.finding for one in found.values()}) > 1]
        if not apart:
            continue
        gravest = max(apart, key=lambda found: max((GRAVITY[one.finding], one.quotient) for one in found.values()))
        of_sample = next(iter(gravest.values()))
        named = {
            kind: [name for name in facts.set_ids if name in gravest and gravest[name].finding == kind]
            for kind in _JUDGED
        }
        worst = max(gravest.values(), key=lambda one: (GRAVITY[one.finding], one.quotient))
        rows.append(
            (
                -len(apart),
                substance,
                [
                    Cell(substance, kind="head"),
                    Cell(f"{len(sets):,}", kind="n"),
                    Cell(f"{len(apart):,} of {len(samples):,}", kind="n"),
                    of_sample.sample,
                    Cell(kind="m", mark=mark(worst)),
                    *(listed(named[kind], 3) for kind in _JUDGED),
                ],
            )
        )
    if not rows:
        return None
    rows.sort(key=lambda item: item[:2])
    notes = [f"Of {listed(facts.unseen_sets)} {UNSEEN}."] if facts.unseen_sets else []
    return listing(
        "disagreement",
        f"Where sets disagree: {counted(len(rows), 'substance')} judged differently in some sample",
        (
            "Substance",
            Head("Sets with a level", kind="n"),
            Head("Samples judged differently", kind="n"),
            "For instance",
            "Gravest there",
            Head("Above an upper level by", kind="w"),
            Head("Between levels by", kind="w"),
            Head("Below by", kind="w"),
        ),
        [row for _, _, row in rows],
        lambda row: row,
        source="findings",
        most=_MOST_ROWS,
        folded=len(rows) > 20,
        note=" ".join(notes),
    )
