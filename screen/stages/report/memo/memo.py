"""The text of a memo: what was screened, how, what was found, and what it does not say. In: ``Facts``. Out: parts.

``memo_files`` writes the parts as Markdown and as a word processor's document. Every figure is one of the tables'.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from screen.stages.report.facts import NO_NUMBER, Facts, Finding
from screen.stages.report.marks import OPEN, WORDS, head
from screen.stages.report.numbers import against, counted, depths, given, listed, times
from screen.stages.report.page import appendix
from screen.stages.report.words import sentences
from screen.stages.report.words.cautions import cautions
from screen.stages.report.words.steps import next_steps

__all__ = ["Grid", "Heading", "Items", "Part", "Text", "memo"]

#: Rows of one table of the memo; the rest is in the tables of the run, and the memo says so.
_MOST_ROWS = 60


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; ``rank`` 1 is the title."""

    text: str
    rank: int = 2


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph, with words to begin it that stand out."""

    text: str
    lead: str = ""


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    texts: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: caption, heads, rows; ``figures`` are the columns that are set flush right."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: frozenset[int] = frozenset()


Part = Heading | Text | Items | Grid


def memo(facts: Facts) -> list[Part]:
    """The memo in its order."""
    settings = facts.run.settings
    number = f"Memo {settings.memo_no}" if settings.memo_no else ""
    by = f"Prepared by {settings.prepared_by}" if settings.prepared_by else ""
    checked = f"Checked by {settings.checked_by}" if settings.checked_by else ""
    head = " · ".join(filter(None, (number, settings.date or "", by, checked)))
    out: list[Part] = [Heading(settings.title or "Sediment screening", 1)]
    out += [Text(head)] if head else []
    out += [Heading("What was found"), Text(sentences.screened(facts).text)]
    out += [Text(one.text, one.lead) for one in (*sentences.answer(facts), *sentences.aside(facts))]
    out += [Text(text) for text in sentences.missing_samples(facts)]
    found = cautions(facts)
    out += [Text(one.text, "PCB waste") for one in found["waste"]]
    out += [*_methods(facts), *_results(facts)]
    limits = [one.text for one in sentences.rests_on(facts)]
    limits += [one.text for one in (*found["first"], *found["limits"])]
    out += [Heading("What this does not say"), Items(tuple(limits))]
    steps = tuple(f"{one.lead}: {one.text}" if one.lead else one.text for one in next_steps(facts))
    if steps:
        out += [Heading("What to do next"), Items(steps, numbered=True)]
    cited = tuple(f"{name}: {one.title}. {one.citation}" for name, one in facts.sets.items() if facts.of_set(name))
    if cited:
        out += [Heading("Sources of the levels"), Items(cited)]
    return out


def _methods(facts: Facts) -> list[Part]:
    told = (*sentences.assumptions(facts), *appendix.method(facts))
    version = facts.record["tool_version"]
    made = f"Made with Siltmark {version}; inputs, settings and versions are recorded in run.json beside the tables."
    return [Heading("Methods"), Items((*told, made))]


def _results(facts: Facts) -> list[Part]:
    out: list[Part] = [Heading("Results")]
    if not facts.findings:
        return [*out, Text("No sample has a result for a substance with a level.")]
    out += [_by_substance(facts, set_id) for set_id in facts.told_sets]
    if len(facts.told_sets) < len(facts.set_ids):
        others = len(facts.set_ids) - len(facts.told_sets)
        out.append(Text(f"Of the other sets: {counted(others, 'set')} in the table findings."))
    told = set(facts.told_sets)
    above = [one for one in facts.exceeding("above") if one.set in told]
    open_ = [one for one in (*facts.undetermined, *facts.hanging, *facts.not_assessed) if one.set in told]
    out += _one_by_one(facts, above, "Findings above an upper level")
    out += _one_by_one(facts, open_, f"Findings that are open: {OPEN}, unsettled, not assessed")
    return out


def _by_substance(facts: Facts, set_id: str) -> Grid:
    """One row per guideline substance: its levels, how many findings of each kind, and the highest value."""
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for one in facts.of_set(set_id):
        groups.setdefault((one.substance, one.unit, one.basis), []).append(one)
    lower, upper = facts.names(set_id)
    rows = []
    for (substance, unit, basis), found in groups.items():
        known = [one for one in found if not math.isnan(one.value)]
        top = max(known, key=lambda one: one.value, default=None)
        highest = "" if top is None else f"{against(top.value, _nearest(top))} ({top.sample})"
        levels = [one for one in found if not (math.isnan(one.lower_level) and math.isnan(one.upper_level))]
        shown = ("", "") if not levels else (given(levels[0].lower_level), given(levels[0].upper_level))
        counts = [sum(one.finding == name for one in found) for name in WORDS]
        rows.append(
            (substance, f"{unit}{'' if basis == 'dry' else ', ' + basis}", *shown, *(f"{n:,}" for n in counts), highest)
        )
    heads = ("Substance", "Unit", lower or "Lower level", upper or "Upper level", *map(head, WORDS), "Highest value")
    name = listed([name for name in (lower, upper) if name])
    return Grid(f"Findings by substance against {name} ({set_id})", heads, tuple(rows), frozenset(range(2, 9)))


def _nearest(one: Finding) -> float:
    """The level that a value must be shown on the right side of."""
    return one.upper_level if one.finding == "above" or math.isnan(one.lower_level) else one.lower_level


def _one_by_one(facts: Facts, found: Sequence[Finding], caption: str) -> list[Part]:
    if not found:
        return []
    rows = []
    for one in found[:_MOST_ROWS]:
        limit = facts.compared_limit(one)
        value = against(one.value, _nearest(one))
        if not value:
            value = "" if math.isnan(limit) else f"< {against(limit, one.lower_level)}"
        note = (one.note or NO_NUMBER) if one.finding == "not-assessed" else ""
        rows.append(
            (
                one.sample,
                depths(one.depth_top_cm, one.depth_bottom_cm),
                one.substance,
                " ".join(filter(None, (value, one.qualifier))),
                one.unit if one.basis == "dry" else f"{one.unit}, {one.basis}",
                one.set,
                f"{one.lower_name} {given(one.lower_level)}" if not math.isnan(one.lower_level) else "",
                f"{one.upper_name} {given(one.upper_level)}" if not math.isnan(one.upper_level) else "",
                times(one.upper_quotient),
                "; ".join(filter(None, (one.word, note))),
            )
        )
    heads = (
        "Sample",
        "Depth, cm",
        "Substance",
        "Value",
        "Unit",
        "Set",
        "Lower level",
        "Upper level",
        "Value ÷ upper",
        "Finding",
    )
    out: list[Part] = [Grid(f"{caption}: {counted(len(found), 'finding')}", heads, tuple(rows), frozenset({3, 8}))]
    left = len(found) - len(rows)
    if left:
        out.append(Text(f"{counted(left, 'finding')} more in the table findings."))
    return out
