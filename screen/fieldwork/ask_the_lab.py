"""What to ask the laboratory for. In: samples as packed, guideline sets. Out: needs by analysis, limits by substance.

A limit above a level cannot show whether the level is kept, so each level is given as the most that a limit may be. For
a sum it is the limit of each member at which the sum of all limits still reaches no more than the level.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from screen.fieldwork.shipment import Packed
from screen.reference.holding_times import Analysis, analyses, analysis_of
from screen.reference.overview import dry_levels
from screen.reference.rules import sum_rules
from screen.reference.sets import GuidelineSet, default_sets, load_set

__all__ = ["CARBON_PCT", "Ask", "Limit", "Need", "ask_the_lab", "sets_for"]

#: Organic carbon at which levels per carbon are brought to dry weight for the order, per cent; said beside each.
CARBON_PCT = 1.0
_CONGENERS, _AROCLORS = "pcb-congener", "pcb-aroclor"


@dataclass(frozen=True, slots=True)
class Need:
    """An analysis that is asked for, for how many samples; the words used; None where it stands in no table."""

    words: str
    samples: int
    analysis: Analysis | None


@dataclass(frozen=True, slots=True)
class Limit:
    """The most that a limit may be for one substance, or for each member of a sum, on dry weight.

    ``level`` is the level's name, ``stated`` its figure as published, ``most`` the limit in ``unit``; ``at`` what holds
    for it besides; ``members`` and ``total`` are of a sum (1 and empty for a substance).
    """

    analysis: str
    substance: str
    set: str
    level: str
    stated: str
    most: float
    unit: str
    at: str
    total: str
    members: int
    evidence: str


@dataclass(frozen=True, slots=True)
class Ask:
    """All that a laboratory is to be told: needs, limits, levels that no sample asks an analysis for, and PCBs."""

    needs: tuple[Need, ...]
    limits: tuple[Limit, ...]
    not_asked: tuple[str, ...]
    supporting: tuple[str, ...]
    pcbs: tuple[str, ...]


def sets_for(samples: Sequence[Packed], named: Sequence[str]) -> tuple[GuidelineSet, ...]:
    """The sets named, else the defaults for the waters of the samples. Raises SetError for one that does not exist."""
    if named:
        return tuple(load_set(one) for one in dict.fromkeys(named))
    waters = dict.fromkeys(one.water for one in samples)
    return tuple(load_set(one) for one in dict.fromkeys(one for water in waters for one in default_sets(water or None)))


def ask_the_lab(samples: Sequence[Packed], sets: Sequence[GuidelineSet]) -> Ask:
    """What the samples need and how low the limits must be for ``sets``.

    Where no sample says what it is analysed for, the limits are of everything that the sets have levels for.
    """
    needs = _needs(samples)
    asked = {one.analysis.name for one in needs if one.analysis is not None}
    every = [limit for one in sets for limit in _limits(one)]
    lowest: dict[tuple[str, str], Limit] = {}
    for limit in every:
        key = limit.substance, limit.total
        if key not in lowest or limit.most < lowest[key].most:
            lowest[key] = limit
    wanted = [one for one in lowest.values() if not asked or one.analysis in asked]
    missing = sorted({one.analysis for one in lowest.values() if asked and one.analysis not in asked and one.analysis})
    order = {one.name: at for at, one in enumerate(analyses())}
    wanted.sort(key=lambda one: (order.get(one.analysis, len(order)), one.total != "", one.substance.casefold()))
    return Ask(needs, tuple(wanted), tuple(missing), _supporting(asked), _pcbs(sets, samples))


def _needs(samples: Sequence[Packed]) -> tuple[Need, ...]:
    found: dict[str, tuple[list[str], set[str], Analysis | None]] = {}
    for one in samples:
        for text, analysis in one.analyses:
            key = text.casefold() if analysis is None else analysis.name
            words, names, _ = found.setdefault(key, ([], set(), analysis))
            names.add(one.sample)
            if text not in words:
                words.append(text)
    order = {one.name: at for at, one in enumerate(analyses())}
    listed = [Need(", ".join(words), len(names), analysis) for words, names, analysis in found.values()]
    return tuple(sorted(listed, key=lambda need: order.get(need.analysis.name, 99) if need.analysis else 99))


def _limits(one: GuidelineSet) -> list[Limit]:
    rules = sum_rules()
    levels = dry_levels(one, CARBON_PCT)
    wanted = levels[levels["level"] == (one.lower or one.upper)]
    only_upper = levels[(levels["level"] == one.upper) & ~levels["substance"].isin(wanted["substance"])]
    limits = []
    for frame in (wanted, only_upper):
        for row in frame[frame["dry_value"].notna()].to_dict("records"):
            stated = f"{row['value']:g} {row['unit']}" + ("" if row["basis"] == "dry" else f", {row['basis']}")
            totals = [one for kind in str(row["totals"]).split("|") for one in kind.split(";")]
            for total in totals:
                members = rules.members[rules.members["total"] == total]
                if len(members) == 1:
                    total, members = "", members.iloc[:0]  # a sum of one member is that substance
                weight = float(rules.totals["factor"][total]) * float(members["weight"].sum()) if total else 1.0
                first = str(members["substance"].iloc[0]) if total else str(row["substance"])
                limits.append(
                    Limit(
                        _analysis(first),
                        str(row["substance"]),
                        one.id,
                        str(row["level"]),
                        stated,
                        float(row["dry_value"]) / weight if weight else math.nan,
                        str(row["dry_unit"]),
                        str(row["at"]),
                        total,
                        len(members) if total else 1,
                        str(row["evidence"]),
                    )
                )
    return limits


def _analysis(substance: str) -> str:
    found = analysis_of([substance])[0]
    return found.name if found is not None else ""


def _supporting(asked: set[str]) -> tuple[str, ...]:
    """What every batch needs beside its contaminants, and why; those that no sample asks for are said to be missing."""
    reasons = {
        "Moisture or total solids": "percent solids of every sample, so that results can be brought to dry weight; ask "
        "for results on dry weight, and for the word dry or wet on the sheet",
        "Organic carbon": "total organic carbon of every sample, for levels per carbon and to compare stations",
        "Grain size": "gravel, sand, silt and clay with the limits of the classes, since fine sediment holds more",
    }
    return tuple(
        f"{name}: {why}." + ("" if name in asked else " No sample of the field record asks for it.")
        for name, why in reasons.items()
    )


def _pcbs(sets: Sequence[GuidelineSet], samples: Sequence[Packed]) -> tuple[str, ...]:
    """Congeners or Aroclors: what the sets compare, and what each of the two ways cannot say."""
    groups = {group for one in samples for _, analysis in one.analyses if analysis for group in analysis.groups}
    with_level = [one for one in sets if any(name in one.sums for name in ("Total PCBs", "ICES-7 PCBs"))]
    if not with_level or (groups and not groups & {_CONGENERS, _AROCLORS}):
        return ()
    takes = []
    for one in with_level:
        kinds = one.sums.get("Total PCBs") or one.sums["ICES-7 PCBs"]
        ids = dict.fromkeys(total for kind in kinds for total in kind)
        takes.append(f"{one.id} compares {', '.join(ids)}")
    return (
        f"Say which is wanted, congeners or Aroclors. {'; '.join(takes)}.",
        "Congeners: ask for the list of congeners and of what is not resolved from what; a total needs 100 measured "
        "congeners or more, or the list of 18 or of 7 that the set names.",
        "Aroclors: patterns that have weathered or were mixed do not fit the standards; ask for all seven from 1016 to "
        "1260, and for 1262 and 1268 where they may have been used.",
        "The two are never added to each other, and totals made in the two ways do not compare.",
    )
