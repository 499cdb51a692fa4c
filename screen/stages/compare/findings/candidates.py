"""What each sample has for each substance of a set: in go results, totals and refused rows, out comes one figure each.

A figure is a single result, a peak that holds the substance, a total for each kind of measurement, or the reason why
there is no number.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, by_code, coded, first_rows
from screen.reference.substances import describe
from screen.stages.compare.findings.levels import Levels
from screen.stages.compare.findings.source import Source
from screen.stages.sums.lab_totals import AT_LEAST, UNKNOWN_RULE
from screen.stages.sums.peaks import unit_factor

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Candidates", "candidates"]

SHARED, AS_ONE, PLAIN = "shared peak", "taken as one peak: ", ""
#: Congeners, homologs and Aroclors of one sample are different measurements (methods handbook 1.5).
SEVERAL = "measured in more than one way: each is compared by itself, none is added"


@dataclass(frozen=True, slots=True)
class Candidates:
    """One row per sample, substance of the set and kind of measurement; arrays of one length.

    Figures are on dry weight in the unit of the substance. ``total`` and ``qualifier`` are codes into the source's
    texts (-1 none); ``note`` and ``why`` into ``notes`` (-1 none; a row with a ``why`` has no number).
    """

    sample: Codes
    place: Codes
    total: Codes
    value: Floats
    low: Floats
    high: Floats
    limit: Floats
    detected: Flags
    partial: Flags
    more_than: Flags
    qualifier: Codes
    note: Codes
    why: Codes

    def take(self, rows: Codes | Flags) -> Candidates:
        """Some of the rows."""
        return Candidates(*(getattr(self, one.name)[rows] for one in fields(self)))

    @staticmethod
    def stack(parts: Sequence[Candidates]) -> Candidates:
        """All rows of ``parts``."""
        return Candidates(*(np.concatenate([getattr(part, one.name) for part in parts]) for one in fields(Candidates)))


def candidates(source: Source, levels: Levels, rule: str) -> Candidates:
    """Every sample's figure for every substance of ``levels``; sums made with ``rule`` for members not detected."""
    parts = _singles(source, levels)
    for place, kinds in levels.sums.items():
        parts.append(_sums(source, levels, place, kinds, rule))
    parts += _refused(source, levels)
    return _first_of_each(Candidates.stack(parts), len(levels.substances))


def _first_of_each(all_rows: Candidates, width: int) -> Candidates:
    """Of several rows for one sample, substance and total the first; a row with a number goes before one without."""
    whole = all_rows.sample * width + all_rows.place
    mere_reason = (all_rows.why >= 0) & (all_rows.total < 0)
    order = by_code(whole * 2 + mere_reason)
    key, total = whole[order], all_rows.total[order]
    if not len(key):
        return all_rows
    first = np.append(True, key[1:] != key[:-1])
    first_at = np.maximum.accumulate(np.where(first, np.arange(len(key)), 0))
    another = np.append(False, total[1:] != total[:-1])
    # further kinds of measurement of one sum stand beside the first
    further = ~first & another & (total >= 0) & (total[first_at] >= 0)
    return all_rows.take(order[first | further])


def _singles(source: Source, levels: Levels) -> list[Candidates]:
    """Rows of single substances: plain results first, then pairs taken as one, then shared peaks."""
    wanted = {name: i for i, name in enumerate(levels.substances) if i not in levels.sums}
    ranked: list[tuple[int, int, int, str]] = []
    for code, (name, members) in enumerate(zip(source.names.names, source.names.members, strict=True)):
        if name in wanted:
            ranked.append((0, code, wanted[name], PLAIN))
            continue
        for member in members:
            if member in wanted:
                as_one = len(members) == 1
                ranked.append((1 if as_one else 2, code, wanted[member], f"{AS_ONE}{name}" if as_one else SHARED))
    parts = [_empty()]
    results = source.results
    for rank, code, place, note in sorted(ranked):
        rows = results.rows(code)
        to = unit_factor(source.names.units[code], str(levels.unit[place]))
        value, low, high, limit = (
            figures[rows] * to for figures in (results.value, results.low, results.high, results.limit)
        )
        more_than = source.more_than[rows]
        shared = rank == 2
        if shared:
            high = np.where(more_than, np.nan, high)
            low, value = np.where(np.isnan(low), np.nan, 0.0), np.full(len(rows), np.nan)
        detected = results.detected[rows]
        aside = source.why[rows]
        aside = np.where(aside < 0, source.words.code("set aside"), aside)
        why = np.where(source.used[rows], -1, aside)
        why = np.where(why < 0, _unknown_limit(source, value, detected, high, limit), why)
        count = len(rows)
        parts.append(
            Candidates(
                results.sample[rows],
                np.full(count, place),
                np.full(count, -1),
                value,
                low,
                high,
                np.where(np.isnan(limit) & ~detected, high, limit),
                detected,
                np.zeros(count, dtype=bool),
                more_than & (not shared),
                results.qualifier[rows],
                np.full(count, source.words.code(note) if note else -1),
                why,
            )
        )
    return parts


def _unknown_limit(source: Source, value: Floats, detected: Flags, high: Floats, limit: Floats) -> Codes:
    unknown = np.isnan(value) & ~detected & np.isnan(high) & np.isnan(limit)
    return np.where(unknown, source.words.code("not detected, limit unknown"), -1)


def _empty() -> Candidates:
    whole, number, flag = np.array([], dtype=np.int64), np.array([], dtype=np.float64), np.array([], dtype=bool)
    kinds = {"Codes": whole, "Floats": number, "Flags": flag}
    return Candidates(*(kinds[str(one.type)] for one in fields(Candidates)))


def _sums(source: Source, levels: Levels, place: int, kinds: tuple[tuple[str, ...], ...], rule: str) -> Candidates:
    """One row for each kind of measurement that a sample has: the first complete total, else the first in part."""
    count = len(source.samples)
    met = list(source.rules_met)
    used_rule = met.index(rule) if rule in met else met.index(min(met)) if met else -1
    picks = []
    for ids in kinds:
        chosen = np.full(count, -1, dtype=np.int64)
        settled = np.zeros(count, dtype=bool)
        for one in ids:
            if one not in source.total_ids:
                continue
            rows = source.totals.rows(source.total_ids[one])
            rows = rows[source.rule[rows] == used_rule]
            of, complete = source.totals.sample[rows], source.complete[rows]
            better = (complete & ~settled[of]) | (chosen[of] < 0)
            chosen[of[better]] = rows[better]
            settled[of] |= complete
        chosen[chosen < 0] = _from_laboratory(source, ids)[chosen < 0]
        picks.append(chosen[chosen >= 0])
    # a laboratory's total that may stand for several kinds is told once
    made = _of_totals(source, levels, place, pd.unique(np.concatenate(picks)))
    several = np.bincount(made.sample, minlength=count)[made.sample] > 1
    return replace(made, note=source.words.added(made.note, several, SEVERAL))


def _from_laboratory(source: Source, ids: tuple[str, ...]) -> Codes:
    """For each sample the row of the laboratory's total that stands for one of ``ids``, -1 for none."""
    out = np.full(len(source.samples), -1, dtype=np.int64)
    if "stands_for" not in source.table:
        return out
    codes, texts = coded(source.table["stands_for"])
    fits = np.append(np.array([bool(set(ids) & set(text.split(";"))) for text in texts], dtype=bool), False)[codes]
    sample = source.totals.sample
    rows = np.flatnonzero(fits & (sample >= 0))
    rows = rows[first_rows(sample[rows])]
    out[sample[rows]] = rows
    return out


def _of_totals(source: Source, levels: Levels, place: int, rows: Codes) -> Candidates:
    totals = source.totals
    unit_codes, units = coded(source.table["unit"].iloc[rows])
    to = np.append([unit_factor(unit, str(levels.unit[place])) for unit in units], np.nan)[unit_codes]
    value, low, high, limit = (figures[rows] * to for figures in (totals.value, totals.low, totals.high, totals.limit))
    detected, note = totals.detected[rows], source.note[rows]
    from_lab, at_least = (_noted(source, note, words) for words in (UNKNOWN_RULE, AT_LEAST))
    unknown = np.isnan(value) & ~detected & np.isnan(limit)
    count = len(rows)
    return Candidates(
        totals.sample[rows],
        np.full(count, place),
        totals.name[rows],
        value,
        low,
        high,
        limit,
        detected,
        ~source.complete[rows] & ~from_lab,
        at_least,
        totals.qualifier[rows],
        note,
        np.where(unknown, source.words.code("not detected, limit of a member unknown"), -1),
    )


def _noted(source: Source, note: Codes, words: str) -> Flags:
    """Which of ``note`` (codes into the source's words, -1 none) hold ``words``."""
    return np.append([words in text for text in source.words.texts], False)[note].astype(bool)


def _refused(source: Source, levels: Levels) -> list[Candidates]:
    """Reasons: refused rows of a substance itself, and of members of a sum of which a sample has no total."""
    sample, substance, reason = source.refused
    singles = {name: i for i, name in enumerate(levels.substances) if i not in levels.sums}
    parts = []
    texts = np.array([f"refused: {_said(one)}" if one else "refused" for one in reason], dtype=object)
    words = source.words.codes(texts)
    members = _members_of_sums(source, levels)
    for name in dict.fromkeys(substance):
        rows = np.flatnonzero((substance == name) & (sample >= 0))
        places = [singles[name]] if name in singles else []
        places += [place for place, own in members.items() if name in own]
        parts += [_reasons(sample[rows], place, words[rows]) for place in places]
    results = source.results
    unused = np.flatnonzero(~source.used & (results.sample >= 0))
    # of several reasons of one sample the same one is told whatever the order of rows
    rank = np.array([*np.argsort(np.argsort(np.array(source.words.texts, dtype=str))), 0], dtype=np.int64)
    unused = unused[np.argsort(rank[source.why[unused]], kind="stable")]
    name = results.name[unused]
    for place, own in members.items():
        inside = np.array(
            [bool(own & {text, *peak}) for text, peak in zip(source.names.names, source.names.members, strict=True)],
            dtype=bool,
        )
        rows = unused[np.append(inside, False)[name]]
        if len(rows):
            parts.append(_reasons(results.sample[rows], place, source.why[rows]))
    return parts


def _said(reason: str) -> str:
    """The words of a reason without the code that stands before them in the ledger."""
    code, colon, words = str(reason).partition(": ")
    return words if colon and " " not in code else str(reason)


def _members_of_sums(source: Source, levels: Levels) -> dict[int, set[str]]:
    """For each sum of the set: the substances that are in it, and the laboratory totals that may stand for it."""
    members = source.rules.members
    out: dict[int, set[str]] = {}
    away = describe(list(dict.fromkeys(source.refused[1])))
    for place, kinds in levels.sums.items():
        ids = {one for own in kinds for one in own}
        out[place] = set(members.loc[members["total"].isin(ids), "substance"])
        out[place] |= {str(name) for name, text in away["lab_total_of"].items() if ids & set(str(text).split(";"))}
    return out


def _reasons(sample: Codes, place: int, why: Codes) -> Candidates:
    count = len(sample)
    nothing, none = np.full(count, np.nan), np.full(count, -1, dtype=np.int64)
    no = np.zeros(count, dtype=bool)
    return Candidates(
        sample, np.full(count, place), none, nothing, nothing, nothing, nothing, no, no, no, none, none, why
    )
