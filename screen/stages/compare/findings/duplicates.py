"""Field duplicates in findings: in go figures of a sample and its duplicates, out comes one row on the parent's."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts
from screen.stages.compare.findings.candidates import Candidates
from screen.stages.compare.findings.half_limits import at_half_limit

__all__ = ["merged", "roots"]


def roots(samples: Texts, parents: Texts) -> Codes:
    """The sample that each sample's rows stand on: itself, or the parent that it duplicates, all the way up."""
    place = {name: i for i, name in enumerate(samples)}
    root = np.array([place.get(parent, i) if parent else i for i, parent in enumerate(parents)], dtype=np.int64)
    for _ in range(len(root)):
        further = root[root]
        if (further == root).all():
            break
        root = further
    return root


def merged(rows: Candidates, root: Codes, samples: Texts, how: str) -> tuple[Candidates, Codes, Codes, list[str]]:
    """One row for each parent, substance and total; figures are on the set's basis already.

    ``higher``: the higher value, a detect before a nondetect, of nondetects the one of the lower limit. ``mean``: the
    mean, a nondetect at half its limit; where none is quantified, or a trace has no upper bound, as ``higher``. Returns
    the rows, which row each came from, and a note (codes into texts) that names both samples.
    """
    every = np.arange(len(rows.sample))
    if how == "separate" or not len(every) or (root == np.arange(len(root))).all():
        return rows, every, np.full(len(every), -1, dtype=np.int64), []
    kept = every[~_sums_without_figure(rows, root[rows.sample])]
    rows = rows.take(kept)
    own = root[rows.sample]
    key = (own * (rows.place.max() + 1) + rows.place) * (rows.total.max() + 2) + rows.total + 1
    group = np.asarray(pd.factorize(key)[0], dtype=np.int64)
    counts = np.bincount(group)
    has_value = ~np.isnan(rows.value)
    ladder = np.select([rows.why >= 0, has_value, rows.detected], [3, 0, 1], default=2)
    best = np.where(has_value, -rows.value, np.where(rows.detected, -np.nan_to_num(rows.high, nan=np.inf), rows.limit))
    is_child = rows.sample != own
    order = np.lexsort((is_child, np.nan_to_num(best, nan=np.inf), ladder, group))
    first = order[np.append(True, group[order][1:] != group[order][:-1])]
    out = rows.take(first)
    several = counts[group[first]] > 1
    numbers = np.bincount(group[rows.why < 0], minlength=len(counts))[group[first]]
    averaged = np.zeros(len(first), dtype=bool)
    if how == "mean":
        out, averaged = _means(rows, out, group, group[first], several & (numbers > 1), len(counts))
    note, texts = _notes(rows, group, first, is_child, samples, _Words(numbers, averaged))
    return replace(out, sample=own[first]), kept[first], note, texts


def _sums_without_figure(rows: Candidates, own: Codes) -> Flags:
    """Rows of a sum none of whose parts could be used, where the other sample of the pair has that sum."""
    place = own * (rows.place.max() + 1) + rows.place
    return (rows.total < 0) & np.isin(place, place[rows.total >= 0])


def _means(
    rows: Candidates, out: Candidates, group: Codes, own: Codes, several: Flags, count: int
) -> tuple[Candidates, Flags]:
    """Means of pairs, and which rows are means; a group without a value keeps the row chosen."""
    counted = rows.why < 0
    low, high = np.where(rows.detected, rows.low, 0.0), np.where(rows.detected, rows.high, rows.limit)
    share = at_half_limit(rows.value, low, high)
    usable = counted & ~np.isnan(share)
    odd = np.bincount(group[counted & ~usable], minlength=count) > 0
    number = np.maximum(np.bincount(group[counted], minlength=count), 1)

    def mean(figures: Floats) -> Floats:
        sums = np.bincount(group[counted], weights=figures[counted], minlength=count)
        return np.asarray((sums / number)[own])

    def any_of(flags: Flags) -> Flags:
        return np.asarray((np.bincount(group[counted], weights=flags[counted], minlength=count) > 0)[own])

    on = several & ~np.isnan(out.value) & ~odd[own]
    made = replace(
        out,
        value=np.where(on, mean(share), out.value),
        low=np.where(on, mean(rows.low), out.low),
        high=np.where(on, mean(rows.high), out.high),
        partial=np.where(on, any_of(rows.partial), out.partial),
        more_than=np.where(on, any_of(rows.more_than), out.more_than),
    )
    return made, on


@dataclass(frozen=True, slots=True)
class _Words:
    """Of each row: how many of its samples have a number, and whether it is their mean."""

    numbers: Codes
    averaged: Flags

    def of(self, row: int, names: str, chosen: str) -> str:
        """The note of a row that several samples stand behind."""
        if self.averaged[row]:
            return f"mean of field duplicates {names}"
        if self.numbers[row] == 1:
            return f"of field duplicates {names} only {chosen} has a number"
        return f"higher of field duplicates {names}: {chosen}"


def _notes(
    rows: Candidates, group: Codes, first: Codes, alone: Flags, samples: Texts, words: _Words
) -> tuple[Codes, list[str]]:
    """Notes that name the samples behind each row that is not the parent's alone."""
    note = np.full(len(first), -1, dtype=np.int64)
    texts: dict[str, int] = {}
    counts = np.bincount(group)
    chosen = group[first]
    several = np.flatnonzero(counts[chosen] > 1)
    inside = np.flatnonzero(counts[group] > 1)
    order = inside[np.lexsort((rows.sample[inside], group[inside]))]
    starts = np.flatnonzero(np.append(True, group[order][1:] != group[order][:-1])[: len(order)])
    ends = np.append(starts[1:], len(order))
    members = {group[order[start]]: rows.sample[order[start:end]] for start, end in zip(starts, ends, strict=False)}
    for i in several:
        names = " and ".join(str(samples[one]) for one in members[chosen[i]])
        text = words.of(int(i), names, str(samples[rows.sample[first[i]]]))
        note[i] = texts.setdefault(text, len(texts))
    for i in np.flatnonzero((counts[chosen] == 1) & alone[first]):
        note[i] = texts.setdefault(f"from field duplicate {samples[rows.sample[first[i]]]}", len(texts))
    return note, list(texts)
