"""Mean quotients of a sample: in go results and totals, out come the means of value / level over a published list.

The lists are data (`guidelines/coefficients/mean_quotients.csv`). The mean PEC quotient is the mean of the means of its
classes (MacDonald et al. 2000; Ingersoll et al. 2001), not of all quotients; the mean ERM quotient is flat over 25.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts, flagged, joined, patterns
from screen.reference.locate import read_table
from screen.reference.sets import load_set
from screen.stages.compare.findings.candidates import candidates
from screen.stages.compare.findings.levels import levels_of
from screen.stages.compare.findings.source import Source
from screen.stages.compare.indices.index_rows import IndexRows

__all__ = ["mean_quotients"]

#: Fewer quotients than this in a class that has as many members give no mean (our choice).
_AT_LEAST = 3


def mean_quotients(source: Source, wanted: dict[str, Flags]) -> list[IndexRows]:
    """One block for each mean quotient, for the samples that ``wanted`` (flags by index) asks it for.

    A member not detected counts with half its limit in the value, with 0 in ``low`` and the limit in ``high``, where
    the limit is not above the level; where it is, the member is left out. A partial total has no upper bound.
    """
    table = read_table("coefficients/mean_quotients.csv")
    return [
        block
        for index, members in table.groupby("index", sort=False)
        if str(index) in wanted and (block := _one(source, str(index), members, wanted[str(index)])) is not None
    ]


def _one(source: Source, index: str, members: pd.DataFrame, on: Flags) -> IndexRows | None:
    chosen = load_set(str(members["set"].iloc[0]))
    levels = levels_of(chosen, source.rules)
    level_of = dict(zip(levels.substances, levels.figure[:, levels.upper], strict=True))
    classes = list(dict.fromkeys(members["class"]))
    kind_of = {name: classes.index(own) for name, own in zip(members["substance"], members["class"], strict=True)}
    kind = np.array([kind_of.get(name, -1) for name in levels.substances], dtype=np.int64)
    level = np.array([level_of[name] for name in levels.substances])

    rows = candidates(source, levels, chosen.nondetects or "zero")
    rows = rows.take((rows.why < 0) & (kind[rows.place] >= 0) & on[rows.sample])
    # one measurement for each sum: a complete one before a partial one
    order = np.lexsort((rows.partial, rows.place, rows.sample))
    rows = rows.take(order)
    again = np.append(False, (rows.sample[1:] == rows.sample[:-1]) & (rows.place[1:] == rows.place[:-1]))
    bound = np.where(rows.detected, rows.high, rows.limit)
    by = level[rows.place]
    has = ~np.isnan(rows.value)
    keep = ~again[: len(by)] & (has | (bound <= by))
    rows, by, bound, has = rows.take(keep), by[keep], bound[keep], has[keep]
    if not len(by):
        return None
    value = np.where(has, rows.value, bound / 2.0) / by
    low = np.minimum(rows.low / by, value)
    high = np.where(rows.partial, np.nan, np.fmax(rows.high / by, value))
    high = np.where(np.isnan(rows.high), np.nan, high)

    count = len(source.samples)
    key = rows.sample * len(classes) + kind[rows.place]
    size = np.bincount(key, minlength=count * len(classes)).reshape(count, -1)
    listed = np.array([sum(1 for own in kind_of.values() if own == code) for code in range(len(classes))])
    enough = size >= np.minimum(listed, _AT_LEAST)

    def mean(figures: Floats) -> Floats:
        sums = np.bincount(key, weights=figures, minlength=count * len(classes)).reshape(count, -1)
        means = np.where(enough, sums / np.maximum(size, 1), 0.0)
        return np.asarray(means.sum(axis=1) / np.maximum(enough.sum(axis=1), 1))

    values, lows, highs = mean(value), mean(low), mean(high)
    samples = np.flatnonzero(enough.any(axis=1) & on)
    counted = np.where(enough, size, 0).sum(axis=1)
    metals_only = _only_metals(rows.sample, levels.group[rows.place], count)
    taken, kinds = patterns(enough[samples])
    absent = [", ".join(np.array(classes, dtype=object)[~row]) for row in kinds]
    notes = joined(
        [
            (counted[samples], [f"{number} of {len(kind_of)} quotients" for number in range(len(kind_of) + 1)]),
            (taken, [f"without {names}" if names else "" for names in absent]),
            flagged(metals_only[samples], "metals only: the classes do not apply as derived"),
        ],
        len(samples),
    )
    return IndexRows(
        samples,
        index,
        "",
        values[samples],
        lows[samples],
        highs[samples],
        "1",
        f"{chosen.id}, {chosen.upper}",
        _members(rows.sample, rows.place, levels.substances, samples),
        np.asarray(notes, dtype=object),
        classify=~metals_only[samples],
    )


def _only_metals(sample: Codes, group: np.ndarray, count: int) -> Flags:
    other = np.bincount(sample, weights=(group != "metal").astype(float), minlength=count)
    return np.asarray(other == 0)


def _members(sample: Codes, place: Codes, names: Texts, wanted: Codes) -> Texts:
    """The members of each wanted sample, joined; samples with the same members share one text."""
    present = np.zeros((int(sample.max()) + 1, len(names)), dtype=bool)
    present[sample, place] = True
    pattern, distinct = patterns(present[wanted])
    return np.array([";".join(names[row]) for row in distinct], dtype=object)[pattern]
