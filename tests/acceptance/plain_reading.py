"""The rules of totals and findings once more, one measurement at a time, with nothing of the tool in them.

In: samples with their solids, carbon and measurements as plain records. Out: what findings.csv must say of each. For
comparison with what the command writes; slow and plain on purpose.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

METALS = ("Lead", "Zinc", "Copper")
ICES7 = ("PCB-28", "PCB-52", "PCB-101", "PCB-118", "PCB-138", "PCB-153", "PCB-180")
AROCLORS = tuple(f"Aroclor {number}" for number in (1016, 1221, 1232, 1242, 1248, 1254, 1260))
DDD = ("2,4'-DDD", "4,4'-DDD")
TOTALS = {"pcb-ices7": ICES7, "pcb-aroclors": AROCLORS, "ddd": DDD}
#: (substance, total or "", basis, lower, upper): one row for each kind of measurement of a sum.
COMPARED = (
    ("Lead", "", "dry", 35.0, 128.0),
    ("Zinc", "", "dry", None, 400.0),
    ("Copper", "", "dry", 30.0, None),
    ("Anthracene", "", "dry", 57.2, 845.0),
    ("Fluoranthene", "", "oc", 0.16, 1.2),
    ("Pyrene", "", "oc-1%", 50.0, 500.0),
    ("Total PCBs", "pcb-ices7", "dry", 60.0, 676.0),
    ("Total PCBs", "pcb-aroclors", "dry", 60.0, 676.0),
    ("Sum DDD", "ddd", "dry", 4.88, 28.0),
)
#: How many standard units (mg/kg for metals, ug/kg for organics) one of the unit is.
METAL_UNITS = {"mg/kg": 1.0, "ug/g": 1.0, "ug/kg": 0.001, "ppm": 1.0, "%": 10_000.0}
ORGANIC_UNITS = {"ug/kg": 1.0, "ng/g": 1.0, "mg/kg": 1000.0, "ppb": 1.0, "pg/g": 0.001}
TIE = 1e-9
RANGE = (0.5, 4.0)


@dataclass(frozen=True)
class Measured:
    """One cell: how it is reported, and what it means: ``exact``, ``nondetect`` or ``more-than``."""

    substance: str
    kind: str
    number: float
    unit: str
    basis: str
    flag: str = ""


@dataclass(frozen=True)
class Sample:
    """One sample: per cent solids and carbon where known, and its measurements."""

    name: str
    solids: float | None
    carbon: float | None
    measured: tuple[Measured, ...]
    parent: str = ""


@dataclass(frozen=True)
class Figure:
    """A figure on its way to a finding; ``None`` for what is not known."""

    value: float | None
    low: float | None
    high: float | None
    limit: float | None
    more_than: bool = False
    partial: bool = False
    assessed: bool = True


#: A finding, whether it is settled, and the value.
Found = tuple[str, str, float | None]
UNKNOWN = Figure(None, None, None, None, assessed=False)


@dataclass(frozen=True)
class Rules:
    """What the run was told."""

    nondetects: str = "zero"
    at_level: str = "not-above"
    outside: str = "not-assessed"
    duplicates: str = "higher"
    shared: frozenset[str] = field(default_factory=frozenset)


def on_dry_weight(one: Measured, sample: Sample) -> Figure:
    """The measurement in the standard unit on dry weight; not assessed where it cannot be brought there."""
    units = METAL_UNITS if one.substance in METALS else ORGANIC_UNITS
    number = one.number * units[one.unit]
    if one.flag in ("R", "NJ"):
        return UNKNOWN
    if one.basis == "wet":
        if sample.solids is None:
            return UNKNOWN
        number = number / (sample.solids / 100.0)
    if one.kind == "exact":
        return Figure(number, number, number, None)
    if one.kind == "more-than":
        return Figure(number, number, None, None, more_than=True)
    return Figure(None, 0.0, number, number)


def total_of(sample: Sample, total: str, rule: str) -> Figure | None:
    """The sum of what was measured of a list, or None where nothing was."""
    rows = [one for one in sample.measured if one.substance in TOTALS[total]]
    figures = [figure for one in rows if (figure := on_dry_weight(one, sample)).assessed]
    if not rows:
        return None
    if not figures:
        return UNKNOWN
    low = math.fsum(figure.low or 0.0 for figure in figures)
    known = [figure.high for figure in figures if figure.high is not None]
    high = math.fsum(known) if len(known) == len(figures) else None
    share = {"zero": 0.0, "half": 0.5, "root2": 1 / math.sqrt(2.0), "full": 1.0}[rule]
    substituted = math.fsum(
        figure.value if figure.value is not None else (figure.limit or 0.0) * share for figure in figures
    )
    partial = len(figures) < len(TOTALS[total])
    if all(figure.value is None for figure in figures):
        limit = max(figure.limit or 0.0 for figure in figures) if rule == "zero" else substituted
        return Figure(None, low, high, limit, partial=partial)
    return Figure(substituted, low, high, None, any(figure.more_than for figure in figures), partial)


def on_basis(figure: Figure, basis: str, sample: Sample, rules: Rules) -> Figure:
    """The figure per carbon where the level is."""
    if basis == "dry" or not figure.assessed:
        return figure
    carbon = sample.carbon
    if carbon is None:
        return UNKNOWN
    if not RANGE[0] <= carbon <= RANGE[1]:
        if rules.outside == "not-assessed":
            return UNKNOWN
        carbon = min(max(carbon, RANGE[0]), RANGE[1])
    by = 0.001 / (carbon / 100.0) if basis == "oc" else 1.0 / carbon

    def times(number: float | None) -> float | None:
        return None if number is None else number * by

    return replace(
        figure, value=times(figure.value), low=times(figure.low), high=times(figure.high), limit=times(figure.limit)
    )


def exceeds(value: float, level: float, rules: Rules) -> bool:
    """Above the level, a tie by the set's rule."""
    if abs(value - level) <= TIE * level:
        return rules.at_level == "exceeds"
    return value > level


def word(value: float, lower: float | None, upper: float | None, rules: Rules) -> str:
    """What a plain value gives."""
    if upper is not None and exceeds(value, upper, rules):
        return "above"
    if lower is not None and exceeds(value, lower, rules):
        return "between"
    return "below"


def finding(figure: Figure, lower: float | None, upper: float | None, rules: Rules) -> tuple[str, str]:
    """The finding and whether it is settled, as findings.csv writes them."""
    if not figure.assessed:
        return "not-assessed", ""
    lowest = lower if lower is not None else upper
    assert lowest is not None
    if figure.value is not None:
        found = word(figure.value, lower, upper, rules)
        if found == "below" and (figure.partial or figure.more_than):
            found = "undetermined"
    else:
        assert figure.limit is not None
        too_high = figure.limit - lowest > TIE * lowest
        found = "undetermined" if too_high or figure.partial else "below"
    if found == "undetermined":
        return found, "false"
    high = math.inf if figure.high is None or figure.partial else figure.high
    low = figure.low or 0.0
    return found, str(word(low, lower, upper, rules) == found == word(high, lower, upper, rules)).lower()


def of_pair(parent: Figure, duplicate: Figure, rule: str) -> Figure:
    """Which figure of a sample and its field duplicate stands on the parent's row."""
    known = [one for one in (parent, duplicate) if one.assessed]
    if len(known) < 2:
        return known[0] if known else parent
    if rule == "mean" and any(one.value is not None for one in known):
        halves = [one.value if one.value is not None else (one.limit or 0.0) / 2.0 for one in known]
        return Figure(
            sum(halves) / 2.0,
            sum(one.low or 0.0 for one in known) / 2.0,
            None if any(one.high is None for one in known) else sum(one.high or 0.0 for one in known) / 2.0,
            None,
            any(one.more_than for one in known),
            any(one.partial for one in known),
        )
    detected = [one for one in known if one.value is not None]
    if detected:
        return max(detected, key=lambda one: one.value or 0.0)
    return min(known, key=lambda one: one.limit or 0.0)


def findings(samples: list[Sample], rules: Rules) -> dict[tuple[str, str, str], Found]:
    """By sample, substance and total: the finding, whether settled, and the value on the level's basis.

    A kind of measurement without any usable figure has no row beside another kind that has one.
    """
    figures: dict[tuple[str, int], Figure] = {}
    for sample in samples:
        for at, (substance, total, basis, _, _) in enumerate(COMPARED):
            if total:
                figure = total_of(sample, total, rules.nondetects)
            else:
                rows = [one for one in sample.measured if one.substance == substance]
                figure = on_dry_weight(rows[0], sample) if rows else None
            if figure is not None:
                figures[sample.name, at] = on_basis(figure, basis, sample, rules)
    if rules.duplicates != "separate":
        for sample in samples:
            for at in range(len(COMPARED)):
                if sample.parent and (sample.name, at) in figures:
                    mine = figures.pop((sample.name, at))
                    other = figures.get((sample.parent, at))
                    figures[sample.parent, at] = mine if other is None else of_pair(other, mine, rules.duplicates)
    found: dict[tuple[str, str, str], Found] = {}
    for (name, at), figure in figures.items():
        substance, total, _, lower, upper = COMPARED[at]
        said, settled = finding(figure, lower, upper, rules)
        if figure.assessed:
            found[name, substance, total] = (said, settled, figure.value)
    for name, at in figures:
        substance, total, _, _, _ = COMPARED[at]
        if not any(key[:2] == (name, substance) for key in found):
            found[name, substance, ""] = ("not-assessed", "", None)
    return found
