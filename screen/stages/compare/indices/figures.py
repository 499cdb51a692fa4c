"""Figures of a few substances or of one total by sample: in go prepared results and totals, out come arrays."""

from __future__ import annotations

import numpy as np

from screen.columns import Codes, first_rows
from screen.stages.compare.findings.source import Source

__all__ = ["Figures", "figures_of", "first_complete"]


class Figures:
    """Used results of a few substances as arrays by sample and substance: value, low, high, detected, measured."""

    def __init__(self, source: Source, substances: list[str]) -> None:
        """Take ``substances``; a pair that the substance table takes as one counts as the one that it stands for."""
        shape = (len(source.samples), len(substances))
        self.value, self.low, self.high = (np.full(shape, np.nan) for _ in range(3))
        self.detected, self.measured = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
        place = {name: i for i, name in enumerate(substances)}
        results = source.results
        for code, (name, members) in enumerate(zip(source.names.names, source.names.members, strict=True)):
            if len(members) != 1 or members[0] not in place:
                continue
            column = place[members[0]]
            rows = results.rows(code)
            rows = rows[source.used[rows]]
            if name != members[0]:
                rows = rows[~self.measured[results.sample[rows], column]]
            sample = results.sample[rows]
            self.value[sample, column] = results.value[rows]
            self.low[sample, column] = results.low[rows]
            self.high[sample, column] = results.high[rows]
            self.detected[sample, column] = results.detected[rows]
            self.measured[sample, column] = True


def figures_of(source: Source, substances: list[str]) -> Figures:
    """``Figures`` of some substances."""
    return Figures(source, substances)


def first_complete(source: Source, wanted: list[str]) -> Codes:
    """One row of totals for each sample: the first complete one of the ids ``wanted``, else the first."""
    rows = [source.totals.rows(source.total_ids[one]) for one in wanted if one in source.total_ids]
    if not rows:
        return np.array([], dtype=np.int64)
    together = np.concatenate([*(one[source.complete[one]] for one in rows), *rows])
    return together[first_rows(source.totals.sample[together])]
