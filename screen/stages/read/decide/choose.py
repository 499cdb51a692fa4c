"""Which of several results of one sample and substance is the result (intake handbook 5.2), step by step.

In: one row per record that may be a result, as arrays. Out: verdicts. The steps work on integer groups; records that
stand alone are never touched.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.stages.read.decide.verdicts import Verdicts

__all__ = ["Rivals", "choose"]

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

#: Two columns of one instrument that differ by more than this share are warned of (SW-846, from memory).
COLUMNS_DIFFER = 0.4


@dataclass(frozen=True, slots=True)
class Rivals:
    """What the choice looks at, one entry per record: ``group`` is an integer for sample and substance.

    ``number`` and ``limit`` are in one unit and on the basis of ``basis``; ``kind`` an integer. ``dilution`` is NaN
    where not stated, ``method_rank`` 99 where no rule names the method, ``column_rank`` 0 for primary, 1 for
    confirmation, 9 where not stated. ``use``: 1 yes, 0 no, -1 not stated. ``replicates`` stay side by side.
    ``lab_sample`` is 0 where there is none. ``aside`` marks records of a table of controls, in which a parent sample
    only stands again.
    """

    group: Ints
    number: Floats
    limit: Floats
    kind: Ints
    basis: Ints
    detected: Bools
    rejected: Bools
    over_range: Bools
    flawed: Bools
    rerun: Bools
    dilution: Floats
    method_rank: Ints
    method: Ints
    column_rank: Ints
    column: Ints
    use: npt.NDArray[np.int8]
    final: npt.NDArray[np.int8]
    replicates: Bools
    lab_sample: Ints
    file: Ints
    aside: Bools


def choose(rivals: Rivals, verdicts: Verdicts, conflicts: str = "refuse") -> list[tuple[str, Ints]]:
    """Decide the open records that have a rival; returns what to warn of: code and positions of the records.

    ``conflicts`` is the setting: ``refuse`` both of two different unmarked results, or keep the ``higher``.
    """
    open_ = np.flatnonzero(verdicts.open)
    counts = np.bincount(rivals.group[open_]) if len(open_) else np.zeros(0, dtype=int)
    places = open_[counts[rivals.group[open_]] > 1] if len(open_) else open_
    if not len(places):
        return []
    few = _Few(rivals, places, verdicts)
    few.identical("duplicate")
    few.prefer(~few.of(rivals.rejected), "rejected-by-lab: another result of the sample was not rejected")
    few.prefer(few.of(rivals.use) == 1, "not-reportable: the sheet marks another result for use")
    few.prefer(few.of(rivals.use) != 0, "not-reportable: the sheet marks this result as not for use")
    few.prefer(few.of(rivals.final) != 0, "preliminary: another result is final")
    few.prefer(~few.of(rivals.over_range), "over-range: the diluted run is in range")
    few.lowest(few.of(rivals.dilution), "dilution: a less diluted result is in range")
    few.prefer(few.of(rivals.rerun) | ~few.in_group(few.of(rivals.flawed)), "rerun: flagged, and run again")
    few.primary_column()
    few.higher_of_columns()
    ranks = few.of(rivals.method_rank).astype(float)
    few.warn("two-methods", few.lowest(ranks, "other-method: another method is meant for this group"))
    few.lowest_limit()
    few.conflict(conflicts)
    return few.warnings


class _Few:
    """The records that have a rival, with their groups numbered from 0."""

    def __init__(self, rivals: Rivals, places: Ints, verdicts: Verdicts) -> None:
        self.rivals, self.places, self.verdicts = rivals, places, verdicts
        codes, _ = pd.factorize(rivals.group[places])
        self.group = codes.astype(np.int64)
        self.size = int(codes.max()) + 1
        self.alive = np.ones(len(places), dtype=bool)
        self.warnings: list[tuple[str, Ints]] = []

    def of(self, values: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """The values of these records."""
        return values[self.places]

    def in_group(self, flags: Bools) -> Bools:
        """Which records have a living record of their group with the flag."""
        return (np.bincount(self.group, weights=flags & self.alive, minlength=self.size) > 0)[self.group]

    def _lose(self, losers: Bools, became: str, reason: str) -> Bools:
        losers = losers & self.alive
        self.alive &= ~losers
        if losers.any():
            self.verdicts.give(self.places[losers], became, reason)
        return losers

    def _contested(self) -> Bools:
        """Living records with a living rival; replicates are no rivals."""
        living = np.bincount(self.group, weights=self.alive, minlength=self.size)
        contested: Bools = self.alive & (living[self.group] > 1) & ~self.of(self.rivals.replicates)
        return contested

    def prefer(self, good: Bools, reason: str) -> Bools:
        good = np.asarray(good, dtype=bool)
        return self._lose(self._contested() & ~good & self.in_group(good), "superseded", reason)

    def lowest(self, number: Floats, reason: str) -> Bools:
        contested = self._contested()
        best = np.full(self.size, np.inf)
        shown = np.where(np.isnan(number), np.inf, number)
        np.minimum.at(best, self.group[contested], shown[contested])
        known = ~np.isnan(number)
        all_known = ~(np.bincount(self.group, weights=contested & ~known, minlength=self.size) > 0)
        return self._lose(contested & known & all_known[self.group] & (number > best[self.group]), "superseded", reason)

    def warn(self, code: str, losers: Bools) -> None:
        if losers.any():
            self.warnings.append((code, self.places[losers]))

    def _same(self) -> Ints:
        """A number for what a record says: group, kind, number and limit, to twelve figures, and basis."""
        r = self.rivals
        figures = [_rounded(self.of(r.number)), _rounded(self.of(r.limit))]
        total = self.group
        for part in (*figures, self.of(r.kind), self.of(r.basis)):
            codes, _ = pd.factorize(part)
            total = pd.factorize(total * (int(codes.max(initial=0)) + 2) + codes + 1)[0].astype(np.int64)
        return total

    def identical(self, became: str) -> None:
        """Of records that say the same one stays, the first that is not set aside: it is no second number."""
        order = np.argsort(self.of(self.rivals.aside), kind="stable")
        _, first, codes = np.unique(self._same()[order], return_index=True, return_inverse=True)
        repeat = np.ones(len(order), dtype=bool)
        repeat[order[first[codes]]] = False
        self.warn("repeated", self._lose(repeat, became, "repeated: the same result again"))

    def primary_column(self) -> None:
        """Of two columns of an instrument the one marked primary counts."""
        rank = self.of(self.rivals.column_rank).astype(float)
        marked = self._contested() & (rank < 9)
        if marked.any():
            self._far_apart(marked & self.in_group(rank == 0) & self.in_group(rank == 1))
        self.warn("two-columns", self.lowest(rank, "confirmation-column: the primary column counts"))

    def higher_of_columns(self) -> None:
        """Two columns of an instrument, none marked primary: the higher counts; far apart is warned of."""
        column = self.of(self.rivals.column)
        contested = self._contested() & (column > 0)
        if not contested.any():
            return
        most = np.full(self.size, -1)
        least = np.full(self.size, np.iinfo(np.int64).max)
        np.maximum.at(most, self.group[contested], column[contested])
        np.minimum.at(least, self.group[contested], column[contested])
        two = contested & (most > least)[self.group]
        number = np.nan_to_num(self.of(self.rivals.number), nan=-np.inf)
        self._far_apart(two)
        self._keep_highest(two, number, "lower-column: the higher of two columns counts", "two-columns")

    def _far_apart(self, among: Bools) -> None:
        """Warn of two columns whose difference is more than the share COLUMNS_DIFFER of their mean."""
        number = self.of(self.rivals.number)
        known = among & np.isfinite(number)
        high, low = np.full(self.size, -np.inf), np.full(self.size, np.inf)
        np.maximum.at(high, self.group[known], number[known])
        np.minimum.at(low, self.group[known], number[known])
        with np.errstate(invalid="ignore"):
            far = (high - low) > COLUMNS_DIFFER * (high + low) / 2
        self.warn("columns-differ", known & far[self.group] & (number == high[self.group]))

    def _keep_highest(self, among: Bools, number: Floats, reason: str, code: str) -> None:
        best = np.full(self.size, -np.inf)
        np.maximum.at(best, self.group[among], number[among])
        self.warn(code, self._lose(among & (number < best[self.group]), "superseded", reason))

    def lowest_limit(self) -> None:
        """Of results that are all not detected the one with the lowest limit counts.

        Two files that report one sample of the laboratory differently are left: one may be the corrected report.
        """
        contested = self._contested() & ~self._in_two_reports()
        detected = self.in_group(self.of(self.rivals.detected))
        number = np.where(contested & ~detected, self.of(self.rivals.limit), np.nan)
        best = np.full(self.size, np.inf)
        shown = np.where(np.isnan(number), np.inf, number)
        np.minimum.at(best, self.group, shown)
        loses = contested & ~detected & (shown > best[self.group])
        self._lose(loses, "superseded", "higher-limit: not detected in either, the lower limit counts")

    def _in_two_reports(self) -> Bools:
        """Living records of a group whose laboratory sample another file reports too."""
        lab, file = self.of(self.rivals.lab_sample), self.of(self.rivals.file)
        codes, _ = pd.factorize(self.group * (int(lab.max(initial=0)) + 1) + lab)
        most = np.full(int(codes.max(initial=0)) + 1, -1)
        least = np.full(len(most), np.iinfo(np.int64).max)
        np.maximum.at(most, codes[self.alive], file[self.alive])
        np.minimum.at(least, codes[self.alive], file[self.alive])
        both: Bools = (lab > 0) & (most > least)[codes]
        return self.in_group(both)

    def conflict(self, conflicts: str) -> None:
        contested = self._contested()
        if not contested.any():
            return
        if conflicts == "higher":
            r = self.rivals
            top = np.where(self.of(r.detected), self.of(r.number), -np.inf)
            self._keep_highest(
                contested,
                np.nan_to_num(top, nan=-np.inf),
                "conflict: the higher of two different results counts",
                "conflict-higher",
            )
            contested = self._contested()
        self.warn(
            "conflict",
            self._lose(contested, "rejected", "conflict: two different results and nothing says which counts"),
        )


def _rounded(values: Floats) -> Floats:
    """Twelve significant figures: what differs only by a unit's rounding is the same."""
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.where(np.isfinite(values) & (values != 0), 11 - np.floor(np.log10(np.abs(values))), 0)
    scale = 10.0 ** np.clip(power, -300, 300)
    return np.round(values * scale) / scale
