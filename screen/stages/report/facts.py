"""What the report says, worked out once from the frames. In: a finished ``Run``. Out: ``Facts``, plain and in order."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from screen.reference.sets import load_set, mostly_unseen
from screen.stages.report.marks import GRAVITY, word
from screen.stages.report.numbers import counted

if TYPE_CHECKING:
    from screen.model import Run
    from screen.reference.sets import GuidelineSet

__all__ = ["NO_NUMBER", "Facts", "Finding", "Place", "records"]

#: The page draws at most this many samples and marks; beyond, the stations with the gravest findings.
MOST_SAMPLES = 200
MOST_MARKS = 7_500
#: Sets that are told sample by sample; further ones are compared with these.
MOST_TOLD = 3
#: What is said of a finding without a number whose note is empty.
NO_NUMBER = "no number on the basis of the set"


#: Columns of figures; any other that holds nothing at all, and is not stored as figures, is a column of texts.
_FIGURES = frozenset(
    "river_km latitude longitude depth_top_cm depth_bottom_cm value low high limit members measured peaks "
    "detects factor lab_total lab_difference_pct lower_level upper_level lower_quotient upper_quotient n "
    "mean mean_low mean_high median max upper95 share_of_area_pct area_mean area_mean_low area_mean_high "
    "solids_pct toc_pct fines_pct surface peak peak_top_cm peak_bottom_cm surface_to_peak cut_cm cut_mean "
    "cut_mean_low cut_mean_high cut_covered_pct left_value earlier now ratio row cells "
    "top_cm bottom_cm covered_pct statistic p p_holm tau rho km_low km_high "
    "rank samples compared above above_low above_high between undetermined not_assessed below unsettled "
    "highest_quotient highest_top_cm highest_bottom_cm "
    "depth_top_linear_cm depth_bottom_linear_cm elevation_top_m elevation_bottom_m "
    "recovery_pct linear_factor bed_level_m peak_top_m peak_bottom_m cut_m".split()
)


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows as plain dicts: text ("" for none), float (NaN for none), bool or None."""
    columns = {name: _values(name, frame[name]) for name in frame.columns}
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def _values(name: str, column: pd.Series[Any]) -> list[Any]:
    missing = column.isna().to_numpy()
    if missing.all() and not pd.api.types.is_bool_dtype(column.dtype) and not pd.api.types.is_float_dtype(column.dtype):
        return [math.nan if name in _FIGURES else ""] * len(column)
    if pd.api.types.is_numeric_dtype(column.dtype) and not pd.api.types.is_bool_dtype(column.dtype):
        return column.to_numpy(dtype=float, na_value=math.nan).tolist()
    nothing = (
        None if pd.api.types.is_bool_dtype(column.dtype) or set(column[~missing].unique()) <= {True, False} else ""
    )
    values = column.astype(object).to_numpy(copy=True)
    values[missing] = math.nan if name in _FIGURES else nothing
    return values.tolist()


@dataclass(frozen=True, slots=True)
class Finding:
    """One row of findings, as in the table; ``at`` is its place there.

    ``cause`` (of ``marks.CAUSES``) is why one cannot be judged; empty for all others.
    """

    at: int
    sample: str
    station: str
    river_km: float
    depth_top_cm: float
    depth_bottom_cm: float
    group: str
    substance: str
    total: str
    set: str
    basis: str
    value: float
    low: float
    high: float
    unit: str
    detected: bool | None
    qualifier: str
    lower_name: str
    lower_level: float
    upper_name: str
    upper_level: float
    lower_quotient: float
    upper_quotient: float
    finding: str
    highest_exceeded: str
    settled: bool | None
    evidence: str
    note: str
    cause: str = ""

    @property
    def word(self) -> str:
        """Its word in the report, with what stands behind it."""
        return word(self.finding, unsettled=self.unsettled, cause=self.cause)

    @property
    def unsettled(self) -> bool:
        """Whether it hangs on how non-detects are counted."""
        return self.settled is False

    @property
    def flagged(self) -> bool:
        """Whether its chain belongs into the report."""
        return self.finding in ("above", "between", "undetermined") or self.unsettled

    @property
    def quotient(self) -> float:
        """Value over the upper level, over the lower one where there is no upper; -1 without a value."""
        for one in (self.upper_quotient, self.lower_quotient):
            if not math.isnan(one):
                return one
        return -1.0

    @property
    def exceeded(self) -> tuple[float, str, float]:
        """The level that makes the finding: its quotient, its name and its figure."""
        if self.finding == "above" or math.isnan(self.lower_level):
            return self.upper_quotient, self.upper_name, self.upper_level
        return self.lower_quotient, self.lower_name, self.lower_level

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What tells it from all others."""
        return self.sample, self.substance, self.total, self.set

    @property
    def surface(self) -> bool:
        """Whether the sample begins at the bed, or has no depth."""
        return math.isnan(self.depth_top_cm) or self.depth_top_cm == 0


@dataclass(frozen=True, slots=True)
class Place:
    """A station, its findings and the one that stands for it: the gravest settled, else the gravest of all."""

    station: str
    river_km: float
    role: str
    worst: Finding
    drivers: tuple[Finding, ...]


class Facts:
    """The findings as objects, the order of stations, and what is flagged. All lists are in the tables' order."""

    def __init__(self, run: Run) -> None:
        self.run = run
        wanted = [item.name for item in fields(Finding) if item.name not in ("at", "cause")]
        self.findings = [self._told(Finding(at, **row)) for at, row in enumerate(records(run.findings[wanted]))]
        self.sets: dict[str, GuidelineSet] = {one.id: one for one in run.sets}
        self.samples = {row["sample"]: row for row in records(run.batch.samples)}

    @cached_property
    def set_ids(self) -> list[str]:
        """The sets that have findings, the leading one first."""
        met = {one.set for one in self.findings}
        return [name for name in self.sets if name in met] + sorted(met - set(self.sets))

    @cached_property
    def unseen_sets(self) -> list[str]:
        """Those of them most of whose figures were not seen in a source."""
        return [name for name in self.set_ids if mostly_unseen(self.sets.get(name) or load_set(name))]

    @cached_property
    def told_sets(self) -> list[str]:
        """The sets that are told sample by sample, the leading one first; the others are compared with them."""
        return self.set_ids[:MOST_TOLD] if len(self.set_ids) > MOST_TOLD else self.set_ids

    @cached_property
    def told(self) -> list[Finding]:
        """The findings of the sets that are told sample by sample."""
        chosen = set(self.told_sets)
        return (
            self.findings if len(chosen) == len(self.set_ids) else [one for one in self.findings if one.set in chosen]
        )

    @cached_property
    def _by_set(self) -> dict[str, list[Finding]]:
        groups: dict[str, list[Finding]] = {}
        for one in self.findings:
            groups.setdefault(one.set, []).append(one)
        return groups

    def of_set(self, name: str) -> list[Finding]:
        """The findings of one set."""
        return self._by_set.get(name, [])

    @cached_property
    def total_rows(self) -> dict[tuple[str, str], dict[str, Any]]:
        """A row of the totals for each sample and total; of several rules the first."""
        out: dict[tuple[str, str], dict[str, Any]] = {}
        for row in records(self.run.totals):
            out.setdefault((row["sample"], row["total"]), row)
        return out

    def _told(self, one: Finding) -> Finding:
        return replace(one, cause=self._cause(one)) if one.finding == "undetermined" else one

    def _cause(self, one: Finding) -> str:
        partial = self.lacks_members(one)
        if not math.isnan(one.value):
            return "members" if partial else "more-than"
        level = one.upper_level if math.isnan(one.lower_level) else one.lower_level
        if partial and self.compared_limit(one) <= level:
            return "members"
        if one.note.startswith("shared peak"):
            return "peak"
        return "trace" if one.detected else "limit"

    def lacks_members(self, one: Finding) -> bool:
        """Whether a finding is of a sum that lacks members."""
        row = self.total_rows.get((one.sample, one.total))
        return row is not None and row["complete"] is not True

    def compared_limit(self, one: Finding) -> float:
        """The limit by which a finding without a value is judged: its own, for a sum the highest single one.

        In the unit and on the basis of the finding (for a sum times its factor); NaN where none is known.
        """
        row = self.total_rows.get((one.sample, one.total))
        if row is None or not row["high"] or math.isnan(one.high):
            return one.high
        return float(row["limit"] * one.high / row["high"])

    def asked_limit(self, one: Finding) -> tuple[float, float]:
        """For a finding without a value: the limit of a single measurement that would answer, and the one it has.

        A sum is judged by the highest single limit times its factor, so each member's limit must keep to the level
        over that factor. Under a rule that puts figures in place of limits the sum itself must.
        """
        level = one.lower_level if not math.isnan(one.lower_level) else one.upper_level
        row = self.total_rows.get((one.sample, one.total))
        factor = row["factor"] if row is not None and row["rule"] not in ("half", "root2", "full") else 1.0
        factor = factor if factor > 0 else 1.0
        return level / factor, self.compared_limit(one) / factor

    def names(self, set_id: str) -> tuple[str, str]:
        """The lower and upper level's name in a set, the first empty for a set of one level."""
        chosen = self.sets.get(set_id)
        if chosen is not None:
            return str(chosen.lower or ""), str(chosen.upper or "")
        first = self.of_set(set_id)[0]
        return first.lower_name, first.upper_name

    @cached_property
    def places(self) -> list[Place]:
        """The stations in the order of the findings (river order, then as met), by the sets told sample by sample.

        A station that only other sets were compared for stands with the findings of those.
        """
        groups: dict[str, list[Finding]] = {one.station: [] for one in self.findings}
        for one in self.told:
            groups[one.station].append(one)
        for one in self.findings:
            if not groups[one.station] or groups[one.station][0].set not in self.told_sets:
                groups[one.station].append(one)
        return [self._place(station, group) for station, group in groups.items()]

    def _place(self, station: str, group: Sequence[Finding]) -> Place:
        settled = [one for one in group if one.settled] or list(group)
        worst = max(settled, key=lambda one: (GRAVITY[one.finding], one.quotient, -one.at))
        drivers: dict[str, Finding] = {}
        for one in sorted(group, key=lambda one: (-one.quotient, one.at)):
            if one.finding == worst.finding and worst.finding in ("above", "between") and one.settled:
                drivers.setdefault(one.substance, one)
        role = str(self.samples.get(group[0].sample, {}).get("role", ""))
        return Place(station, group[0].river_km, role, worst, tuple(drivers.values()))

    @cached_property
    def shown(self) -> tuple[set[str], str]:
        """The samples that the page draws one by one, and the rule in words where these are not all."""
        order = list(dict.fromkeys(one.sample for one in self.findings))
        if len(order) <= MOST_SAMPLES and len(self.told) <= MOST_MARKS:
            return set(order), ""
        by_station: dict[str, set[str]] = {}
        marks: dict[str, int] = {}
        for one in self.findings:
            by_station.setdefault(one.station, set()).add(one.sample)
        for one in self.told:
            marks[one.station] = marks.get(one.station, 0) + 1
        chosen: set[str] = set()
        stations, drawn = 0, 0
        for place in sorted(self.places, key=lambda p: (-GRAVITY[p.worst.finding], -p.worst.quotient, p.worst.at)):
            more = by_station[place.station]
            too_many = len(chosen) + len(more) > MOST_SAMPLES or drawn + marks.get(place.station, 0) > MOST_MARKS
            if stations and too_many:
                break
            chosen |= more
            drawn += marks.get(place.station, 0)
            stations += 1
        shown = f"{counted(stations, 'station')} ({counted(len(chosen), 'sample')})"
        rule = (
            f"The batch has {len(order):,} samples and {len(self.findings):,} findings. The tables and drawings that "
            f"go sample by sample show {shown}, of the gravest settled findings and the highest quotients; every count "
            "is of the whole batch, and every row is in the files in the folder tables."
        )
        return chosen, rule

    def drawn(self, findings: Iterable[Finding]) -> list[Finding]:
        """Those of ``findings`` that the page shows one by one."""
        chosen = self.shown[0]
        return [one for one in findings if one.sample in chosen]

    @cached_property
    def not_assessed(self) -> list[Finding]:
        """The findings of told sets without a number on the set's basis."""
        return [one for one in self.told if one.finding == "not-assessed"]

    @cached_property
    def undetermined(self) -> list[Finding]:
        """The findings of told sets that cannot be judged."""
        return [one for one in self.told if one.finding == "undetermined"]

    @cached_property
    def hanging(self) -> list[Finding]:
        """Findings with a word of their own that hang on how non-detects are counted, undetermined ones apart."""
        return [one for one in self.told if one.unsettled and one.finding != "undetermined"]

    @cached_property
    def hanging_keys(self) -> set[tuple[str, str, str, str]]:
        """The keys of these."""
        return {one.key for one in self.hanging}

    @cached_property
    def causes(self) -> dict[tuple[str, str, str, str], str]:
        """Why a finding cannot be judged, by its key."""
        return {one.key: one.cause for one in self.findings if one.cause}

    @cached_property
    def _cores_are_named(self) -> bool:
        return any(row.get("core") for row in self.samples.values())

    def core_of(self, one: Finding) -> str:
        """The core that a finding is of, empty for none; where no sample names a core, its station stands for one."""
        return str(self.samples.get(one.sample, {}).get("core") or "") if self._cores_are_named else one.station

    def exceeding(self, finding: str) -> list[Finding]:
        """The findings of told sets that are ``above`` or ``between``, set by set, the highest quotient first."""
        found = [one for one in self.told if one.finding == finding]
        return sorted(found, key=lambda one: (self.set_ids.index(one.set), -one.quotient, one.at))

    @cached_property
    def cut_rows(self) -> list[dict[str, Any]]:
        """The cores and the depth of the dredge cut in each."""
        return records(self.run.cores[["core", "cut_cm"]])

    @property
    def record(self) -> Mapping[str, Any]:
        """What goes into run.json."""
        return self.run.record

    def listed(self, key: str) -> list[str]:
        """A list of names out of the record."""
        return [str(name) for name in self.record.get(key, [])]
