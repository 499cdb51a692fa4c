"""What to do next, each step tied to findings: whom to ask, for what, where. In: ``Facts``. Out: paragraphs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from screen.stages.report.facts import NO_NUMBER, Facts, Finding, records
from screen.stages.report.numbers import against, counted, figure, given, listed, times
from screen.stages.report.words.sentences import Paragraph

__all__ = ["next_steps"]


def next_steps(facts: Facts) -> list[Paragraph]:
    """What to do next, each step tied to findings: whom to ask, for what, where."""
    out = [*_talk(facts), *_lower_limits(facts), *_settling(facts), *_members(facts), *_reasons(facts)]
    gone = facts.listed("without_results")
    if gone:
        out.append(
            Paragraph(f"Ask the laboratory for the results of {listed(gone, 8)}.", "not-assessed", "Missing samples")
        )
    return out


def _talk(facts: Facts) -> list[Paragraph]:
    above = facts.exceeding("above")
    if not above:
        return []
    top = max(above, key=lambda one: one.quotient)
    stations = list(dict.fromkeys(one.station for one in above))
    return [
        Paragraph(
            f"Take the findings above the upper level at {listed(stations, 8)} to the regulator before anything is "
            f"dug or "
            f"moved there; have {top.sample} split and analysed again first, for {top.substance} "
            f"({times(top.quotient)} times the {top.upper_name or top.lower_name}).",
            "findings",
            "Talk to the regulator",
        )
    ]


def _lower_limits(facts: Facts) -> list[Paragraph]:
    """For limits above the lower level: the limit that would have answered, for a sum that of each member."""
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for one in facts.undetermined:
        if one.cause in ("limit", "trace"):
            groups.setdefault((one.substance, one.unit, one.basis), []).append(one)
    said = []
    for (substance, unit, basis), group in _most_first(groups):
        asked = [(*facts.asked_limit(one), one) for one in group]
        limit, _, strictest = min(asked, key=lambda item: item[0])
        highest = max((now for _, now, _ in asked if not math.isnan(now)), default=math.nan)
        now = f"now up to {against(highest, limit)}" if not math.isnan(highest) else "none is known now"
        name = strictest.lower_name if not math.isnan(strictest.lower_level) else strictest.upper_name
        level = strictest.lower_level if not math.isnan(strictest.lower_level) else strictest.upper_level
        each = " for each member" if strictest.total else ""
        from_level = f"the {name}" if limit == level else f"so that the sum keeps to the {name}, {given(level)}"
        samples = list(dict.fromkeys(one.sample for one in group))
        said.append(
            f"{substance} at {_places(samples)}: {given(limit)} {unit}{'' if basis == 'dry' else ', ' + basis} or "
            f"less{each}, {from_level} ({now})"
        )
    return _one("Ask the laboratory for limits that answer. ", said, "Lower limits")


def _settling(facts: Facts) -> list[Paragraph]:
    """For whole sums whose finding hangs on non-detects: what these may add at most, so that no level lies between."""
    groups: dict[tuple[str, str, str], list[tuple[float, str, float, str]]] = {}
    for one in facts.hanging:
        if not one.total or facts.lacks_members(one) or math.isnan(one.high):
            continue
        levels = [(one.lower_level, one.lower_name), (one.upper_level, one.upper_name)]
        crossed = [(level, name) for level, name in levels if one.low <= level < one.high]
        if crossed:
            level, name = min(crossed)
            groups.setdefault((f"{one.substance} ({one.total})", one.unit, one.basis), []).append(
                (level - one.low, name, one.high - one.low, one.sample)
            )
    said = []
    for (name, unit, basis), found in _most_first(groups):
        asked, level, _, _ = min(found)
        samples = list(dict.fromkeys(sample for *_, sample in found))
        most = max(now for _, _, now, _ in found)
        said.append(
            f"{name} at {_places(samples)}: what is not detected may add {against(asked, most)} {unit}"
            f"{'' if basis == 'dry' else ', ' + basis} at most, for the {level} (now up to {figure(most)})"
        )
    return _one("Ask for limits of the members that settle the sum. ", said, "Unsettled sums")


def _places(samples: Sequence[str]) -> str:
    return listed(samples) if len(samples) <= 3 else counted(len(samples), "sample")


def _members(facts: Facts) -> list[Paragraph]:
    """For sums that lack members: which."""
    wanted = {(one.sample, one.total) for one in facts.undetermined if one.total}
    groups: dict[tuple[str, str], list[str]] = {}
    for row in records(facts.run.totals):
        if (row["sample"], row["total"]) in wanted and row["complete"] is False and row["missing"]:
            samples = groups.setdefault((f"{row['name']} ({row['total']})", row["missing"]), [])
            if row["sample"] not in samples:
                samples.append(row["sample"])
    said = []
    for (name, missing), samples in _most_first(groups):
        names = str(missing).split(";")
        lacks = listed(names) if len(names) <= 6 else f"{len(names)} of the members"
        said.append(f"{lacks}, for {name} at {listed(samples, 4)}")
    return _one("Have the missing members measured. ", said, "Missing members")


def _reasons(facts: Facts) -> list[Paragraph]:
    """For findings that were not assessed: the reason, and at how many samples."""
    groups: dict[str, list[Finding]] = {}
    for one in facts.not_assessed:
        groups.setdefault(one.note or NO_NUMBER, []).append(one)
    said = [
        f"{listed(list(dict.fromkeys(one.substance for one in group)), 4)} at "
        f"{_places(list(dict.fromkeys(one.sample for one in group)))}: {note}"
        for note, group in _most_first(groups)
    ]
    return _one("Settle with the laboratory why there is no number. ", said, "Not assessed")


def _most_first(groups: dict[Any, list[Any]]) -> Iterable[tuple[Any, list[Any]]]:
    return sorted(groups.items(), key=lambda item: -len(item[1]))


def _one(begin: str, said: Sequence[str], lead: str) -> list[Paragraph]:
    if not said:
        return []
    shown = "; ".join(said[:4]) + (f"; and {len(said) - 4} more like these" if len(said) > 4 else "")
    return [Paragraph(f"{begin}{shown}.", "not-assessed" if lead == "Not assessed" else "findings", lead)]
