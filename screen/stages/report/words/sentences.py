"""The first page in sentences. In: ``Facts``. Out: plain sentences with numbers in them, each built from the findings.

Undetermined, unsettled and not-assessed findings are counted in the same sentence as exceedances.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from screen.stages.report.facts import Facts, Finding, records
from screen.stages.report.numbers import against, counted, depths, figure, given, listed, share, span, times

__all__ = [
    "Paragraph",
    "answer",
    "aside",
    "assumptions",
    "dates",
    "missing_samples",
    "pair",
    "rests_on",
    "screened",
    "set_names",
]

_MOST_DRIVERS = 4
#: Names that begin so are of several substances.
_MANY = ("Total ", "Low ", "High ")


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Some sentences, and the section that says more (its id)."""

    text: str
    more: str = ""
    lead: str = ""


def dates(facts: Facts) -> str:
    """When the samples were taken: ``on 4 May 2026``, ``from 4 May to 6 June 2026``; empty where no date is known."""
    found = sorted({str(row["collected"])[:10] for row in facts.samples.values() if row.get("collected")})
    days = [dt.date.fromisoformat(text) for text in found if _is_date(text)]
    if not days:
        return ""
    first, last = days[0], days[-1]
    end = f"{last.day} {last:%B} {last.year}"
    if first == last:
        return f"on {end}"
    if (first.year, first.month) == (last.year, last.month):
        begin = f"{first.day}"
    else:
        begin = f"{first.day} {first:%B}" + (f" {first.year}" if first.year != last.year else "")
    return f"from {begin} to {end}"


def _is_date(text: str) -> bool:
    try:
        dt.date.fromisoformat(text)
    except ValueError:
        return False
    return True


def pair(facts: Facts, set_id: str) -> str:
    """The level names of a set: ``TEC and PEC``."""
    return listed([name for name in facts.names(set_id) if name])


def screened(facts: Facts) -> Paragraph:
    """What was screened, against what."""
    counts = facts.record["counts"]
    stations = {row["station"] or name for name, row in facts.samples.items()} - _only_without_results(facts)
    kms = [place.river_km for place in facts.places if not math.isnan(place.river_km)]
    where = f" between river km {given(min(kms))} and {given(max(kms))}" if len(set(kms)) > 1 else ""
    when = dates(facts)
    cores = {row["core"] for row in facts.samples.values() if row.get("core")}
    deepest = max((one.depth_bottom_cm for one in facts.findings if not math.isnan(one.depth_bottom_cm)), default=0.0)
    depth = f" and {counted(len(cores), 'core')} (to {given(deepest)} cm)" if cores and deepest else ""
    compared = f"compared with {set_names(facts)}" if facts.set_ids else "read; there was no level to compare with"
    one = counts["samples"] == 1
    return Paragraph(
        f"{counted(counts['samples'], 'sample')} from {counted(len(stations), 'station')}{depth}{where}"
        f"{', collected ' + when + ',' if when else ''} "
        f"{'was' if one else 'were'} {compared}. "
        f"{'It holds' if one else 'They hold'} {counted(counts['results'], 'result')}, of which {_no(counts['used'])} "
        f"could be used; {_none(counts['rejected'], 'no value cell', 'value cell')} "
        f"{'was' if counts['rejected'] < 2 else 'were'} refused.",
        "record",
    )


def set_names(facts: Facts) -> str:
    """The sets in words: level names and ids; of many, the leading one and how many others."""
    named = [f"{pair(facts, name)} ({name})" for name in facts.told_sets]
    others = len(facts.set_ids) - len(named)
    return f"{named[0]} and {len(named) - 1 + others:,} other sets" if others else listed(named)


def _none(number: int, none: str, one: str) -> str:
    return counted(number, one) if number else none


def _only_without_results(facts: Facts) -> set[str]:
    """Stations none of whose samples has a result."""
    gone = set(facts.listed("without_results"))
    stations = {name: row["station"] or name for name, row in facts.samples.items()}
    return {stations[name] for name in gone if name in stations} - {
        station for name, station in stations.items() if name not in gone
    }


def answer(facts: Facts) -> list[Paragraph]:
    """What was found, set by set, the leading one first: the counts in one sentence, then what drives them and where.

    Of many sets only the leading one is told; ``others`` says how the rest differ.
    """
    many = len(facts.told_sets) < len(facts.set_ids)
    return [_found(facts, name) for name in (facts.set_ids[:1] if many else facts.set_ids)]


def aside(facts: Facts) -> list[Paragraph]:
    """What stands beside the sets: what lies deeper, and where many sets disagree."""
    return [paragraph for paragraph in (others(facts), _cores(facts)) if paragraph]


def others(facts: Facts) -> Paragraph | None:
    """How the sets that are not told in full differ from the leading one; None where all are told."""
    if len(facts.told_sets) == len(facts.set_ids):
        return None
    lead = facts.set_ids[0]
    graver: dict[str, int] = {}
    milder: dict[str, int] = {}
    mine = {(one.sample, one.substance): one.finding for one in facts.of_set(lead)}
    alone: set[str] = set()
    for one in facts.findings:
        if one.set == lead or one.finding not in _JUDGED:
            continue
        other = mine.get((one.sample, one.substance))
        if other is None and one.finding == "above":
            alone.add(one.substance)
        if other in _JUDGED and _JUDGED.index(one.finding) != _JUDGED.index(str(other)):
            group = graver if _JUDGED.index(one.finding) > _JUDGED.index(str(other)) else milder
            group[one.set] = group.get(one.set, 0) + 1
    said = [f"{len(facts.set_ids) - 1:,} other sets were compared as well."]
    if graver:
        top = max(graver, key=lambda name: (graver[name], name))
        unseen = ", of which most figures were not seen in a source" if top in facts.unseen_sets else ""
        said.append(
            f"{len(graver):,} of them judge some result more gravely than {pair(facts, lead)} does, most often {top} "
            f"({counted(graver[top], 'result')}{unseen})"
            + (f"; {len(milder):,} judge some more mildly." if milder else "; none judges one more mildly.")
        )
    elif milder:
        said.append(f"{len(milder):,} of them judge some result more mildly than {pair(facts, lead)} does; none worse.")
    if alone:
        said.append(f"Above an upper level of another set, with no level in {lead}: {listed(sorted(alone), 8)}.")
    return Paragraph(" ".join(said), "findings", "Other sets")


def _found(facts: Facts, set_id: str) -> Paragraph:
    findings = facts.of_set(set_id)
    lower, upper = facts.names(set_id)
    number = {name: sum(one.finding == name for one in findings) for name in ("above", "between", "below")}
    closed = [one for one in findings if one.finding == "not-assessed"]
    open_ = [one for one in findings if one.finding == "undetermined"]
    unsettled = [one for one in findings if one.unsettled and one.finding != "undetermined"]
    hanging, lacking = len(unsettled), [one for one in unsettled if facts.lacks_members(one)]
    if_ = " and ".join(
        filter(
            None,
            (
                "if non-detects were counted otherwise" if len(lacking) < hanging else "",
                "if the missing members were measured" if lacking else "",
            ),
        )
    ).replace(" and if", " or if")
    if len(closed) == len(findings):
        text = (
            f"None of {counted(len(findings), 'finding')} could be assessed: no result has a number on the basis "
            "of the set. This says nothing about the sediment."
        )
        return Paragraph(text, "findings", pair(facts, set_id))
    levels = [f"{_no(number['above'])} {_are(number['above'])} above the {upper or lower}"]
    if lower and (upper or number["between"]):
        levels.append(
            f"{_no(number['between'])} between {lower} and {upper}"
            if upper
            else f"{number['between']:,} above the {lower}"
        )
    levels.append(f"{_no(number['below'])} below")
    text = (
        f"Of {counted(len(findings), 'finding')}, {listed(levels)}; {_undecided(open_)}, {_no(len(closed))} "
        f"{_are(len(closed))} not assessed, and {_no(hanging)} of the others {_are(hanging)} unsettled"
        + (f": {'it' if hanging == 1 else 'they'} {'may' if lacking else 'would'} differ {if_}." if hanging else ".")
    )
    return Paragraph(" ".join([text, *_drivers(facts, set_id, findings)]), "findings", pair(facts, set_id))


_JUDGED = ("below", "between", "above")


_CAUSES = {
    "a limit is too high": ("limit", "trace"),
    "a sum lacks members": ("members",),
    "a peak is shared with another substance": ("peak",),
    "a result is given only as more than a figure": ("more-than",),
}


def _undecided(found: Sequence[Finding]) -> str:
    """How many cannot be judged, and why."""
    if not found:
        return "none is left undecided"
    kinds = {words: sum(one.cause in causes for one in found) for words, causes in _CAUSES.items()}
    met = {name: count for name, count in kinds.items() if count}
    if len(met) == 1:
        return f"{len(found):,} cannot be judged because {next(iter(met))}"
    return f"{len(found):,} cannot be judged ({listed([f'in {count:,} {name}' for name, count in met.items()])})"


def _no(number: int) -> str:
    return f"{number:,}" if number else "none"


def _are(number: int) -> str:
    return "is" if number < 2 else "are"


def _drivers(facts: Facts, set_id: str, findings: Sequence[Finding]) -> list[str]:
    lower, upper = facts.names(set_id)
    above = [one for one in findings if one.finding == "above"]
    if above:
        return _by_substance(findings, above, f"the {upper}")
    between = [one for one in findings if one.finding == "between"]
    if between:
        return [f"No value is above the {upper}.", *_by_substance(findings, between, f"the {lower or 'lower level'}")]
    if any(one.finding == "below" for one in findings):
        rest = sum(one.finding in ("undetermined", "not-assessed") for one in findings)
        open_ = f"; {counted(rest, 'finding')} {_are(rest)} left open" if rest else ""
        return [f"No value is above the {lower or upper}{open_}."]
    return []


def _by_substance(findings: Sequence[Finding], found: Sequence[Finding], level: str) -> list[str]:
    """A sentence for each of the substances that drive the finding: at how many stations, highest where."""
    compared: dict[str, set[str]] = {}
    for one in findings:
        if one.finding != "not-assessed":
            compared.setdefault(one.substance, set()).add(one.station)
    groups: dict[str, list[Finding]] = {}
    for one in found:
        groups.setdefault(one.substance, []).append(one)
    order = sorted(groups, key=lambda name: (-max(one.quotient for one in groups[name]), name))
    out = []
    for name in order[:_MOST_DRIVERS]:
        group = groups[name]
        top = max(group, key=lambda one: one.quotient)
        stations = {one.station for one in group}
        out.append(
            f"{name} {'are' if name.startswith(_MANY) else 'is'} above {level} at {len(stations):,} of "
            f"{counted(len(compared[name]), 'station')}, highest at {_place(top)} ({_value(top)}{_from_memory(top)})."
        )
    rest = order[_MOST_DRIVERS:]
    if rest:
        out.append(f"Also above {level}: {listed(rest, 8)}.")
    return out


def _place(one: Finding) -> str:
    depth = f", {depths(one.depth_top_cm, one.depth_bottom_cm)} cm" if not one.surface else ""
    return f"{one.station}{depth}"


def _value(one: Finding) -> str:
    quotient, name, level = one.exceeded
    unsettled = ", unsettled" if one.unsettled else ""
    return f"{against(one.value, level)} {one.unit}, {times(quotient)} times the {name}{unsettled}"


def _from_memory(one: Finding) -> str:
    return {"from_memory": "; level from memory", "conflict": "; sources of the level conflict"}.get(one.evidence, "")


def _cores(facts: Facts) -> Paragraph | None:
    """Cores that hold more below the surface than at it, for substances that exceed an upper or lower level."""
    flagged = {one.substance for one in facts.findings if one.finding in ("above", "between")}
    above = {one.substance for one in facts.findings if one.finding == "above"}
    buried = [
        row
        for row in records(facts.run.cores)
        if row["substance"] in flagged and row["surface_to_peak"] < 1 and row["peak_top_cm"] > 0
    ]
    if not buried:
        return None
    buried.sort(key=lambda row: (row["substance"] not in above, row["surface_to_peak"], row["core"], row["substance"]))
    said = [
        f"{row['substance']} {_in_core(row)} at "
        f"{depths(row['peak_top_cm'], row['peak_bottom_cm'])} cm, {figure(row['peak'])} {row['unit']} against "
        f"{figure(row['surface'])} at the surface"
        for row in buried[:3]
    ]
    cores = len({row["core"] for row in buried})
    return Paragraph(
        f"{counted(cores, 'core')} {'holds' if cores == 1 else 'hold'} more below the surface than at it: "
        f"{'; '.join(said)}.",
        "cores",
        "Depth",
    )


def _in_core(row: Mapping[str, Any]) -> str:
    """In which core, and at which station where that has another name."""
    place = f"in core {row['core']} (station {row['station']})"
    return place if row["core"] != row["station"] else f"at station {row['station']}"


def missing_samples(facts: Facts) -> list[str]:
    """Samples without results and samples without a field record, each kind in one sentence."""
    out = []
    gone = facts.listed("without_results")
    if gone:
        out.append(f"In the field record and not in any laboratory sheet: {listed(gone, 30)}.")
    alone = facts.listed("without_field")
    if alone and facts.run.settings.field:
        out.append(f"In a laboratory sheet and not in the field record: {listed(alone, 30)}.")
    elif alone:
        out.append(
            f"No field record was given, so station, depth and river km are the sheet's own for "
            f"{counted(len(alone), 'sample')}."
        )
    return out


def assumptions(facts: Facts) -> list[str]:
    """What was settled by the user and not by a sheet: ``--basis``, ``--unit``, answers; said before anything else."""
    settings = facts.run.settings
    out = []
    if settings.basis:
        out.append(
            f"Sheets that state no basis were read as {settings.basis} weight, because the run was told so (--basis)."
        )
    if settings.unit:
        out.append(f"Sheets that state no unit were read in {settings.unit}, because the run was told so (--unit).")
    for one in settings.answers:
        where = [
            one.file,
            *(
                f"{name} {getattr(one, name)}"
                for name in ("sheet", "row", "column", "sample", "substance")
                if getattr(one, name) is not None
            ),
        ]
        says = [
            f"{name.replace('_', ' ')} {getattr(one, name)}"
            for name in ("basis", "unit", "decimal", "dates", "read_as")
            if getattr(one, name) is not None
        ]
        if one.skip:
            says.append("left out")
        why = f", because {one.because}" if one.because else ""
        by = f" ({one.by})" if one.by else ""
        out.append(f"{', '.join(where)}: {', '.join(says)}{why}{by}.")
    return out


def rests_on(facts: Facts) -> list[Paragraph]:
    """What the answer rests on: share of results that could be used, open findings, evidence of the levels."""
    counts = facts.record["counts"]
    out = []
    unused = counts["results"] - counts["used"]
    out.append(
        Paragraph(
            f"{_no(unused).capitalize()} of {counted(counts['results'], 'result')}"
            + (f" ({share(unused, counts['results'])})" if unused else "")
            + f" {'was' if unused < 2 else 'were'} read and set aside as not usable.",
            "not-assessed",
        )
    )
    compared = [one for one in facts.told if one.finding != "not-assessed"]
    weak = [one for one in compared if one.evidence in ("from_memory", "conflict")]
    if weak:
        names = list(dict.fromkeys(f"{one.substance} ({one.set})" for one in weak))
        out.append(
            Paragraph(
                f"{counted(len(weak), 'finding')} {'rests' if len(weak) == 1 else 'rest'} on a level figure that was "
                f"taken "
                f"from memory or on which sources conflict: {listed(names, 5)}. Check it against the document before "
                f"relying on it.",
                "sources",
            )
        )
    else:
        levels = {
            (one.set, one.substance, name)
            for one in compared
            for name, level in ((one.lower_name, one.lower_level), (one.upper_name, one.upper_level))
            if not math.isnan(level)
        }
        own = sum(chosen.own for name, chosen in facts.sets.items() if name in facts.set_ids)
        where = "were seen in a source" + (f", or stand in the user's own {counted(own, 'set')}" if own else "")
        if levels:
            out.append(Paragraph(f"All {len(levels):,} level figures used {where}.", "sources"))
    if facts.hanging:
        worst = max(facts.hanging, key=lambda one: one.quotient)
        out.append(
            Paragraph(
                f"{counted(len(facts.hanging), 'finding')} {_are(len(facts.hanging))} unsettled, such as "
                f"{worst.substance} at "
                f"{_place(worst)}: {_anywhere(worst)}.",
                "findings",
            )
        )
    absent = facts.listed("not_analysed")
    if absent:
        out.append(
            Paragraph(f"Never analysed in this batch, though a set has a level: {listed(absent, 8)}.", "not-assessed")
        )
    return out


def _anywhere(one: Finding) -> str:
    if one.low == one.high:
        return f"{figure(one.low)} {one.unit} or more, for the sum lacks members"
    return f"anywhere from {span(one.low, one.high)} {one.unit}"
