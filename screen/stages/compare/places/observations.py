"""What was measured where: results and totals as one set of observations, field duplicates made one. In: batch, totals.

Means per place, cores and change all start from here, so that a pair counts once everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, coded, first_rows, recoded, texts_of
from screen.model import GROUPS, Batch
from screen.reference.rules import sum_rules
from screen.reference.substances import describe
from screen.stages.compare.findings.duplicates import roots
from screen.stages.compare.findings.half_limits import at_half_limit

__all__ = ["Observations", "observe", "together"]


@dataclass(frozen=True, slots=True)
class Observations:
    """One row per sample (a pair of field duplicates is one) and measure, by the greatest that the figure can be.

    ``sample`` numbers the rows of ``samples`` and ``measure`` those of ``measures`` (substance, group, unit, rule of a
    sum; in the order of the tables). ``value`` is NaN without a point value: then the figure lies between ``low`` and
    ``high``, and ``high`` is NaN where there is no bound or none is known. ``partial``: a total that lacks members.
    """

    sample: Codes
    measure: Codes
    value: Floats
    low: Floats
    high: Floats
    detected: Flags
    partial: Flags
    samples: pd.DataFrame
    measures: pd.DataFrame

    def take(self, rows: Codes | Flags) -> Observations:
        """Only these rows."""
        return Observations(
            self.sample[rows],
            self.measure[rows],
            self.value[rows],
            self.low[rows],
            self.high[rows],
            self.detected[rows],
            self.partial[rows],
            self.samples,
            self.measures,
        )


def observe(batch: Batch, totals: pd.DataFrame) -> Observations:
    """The used results of ``batch`` (on dry weight) and its ``totals``, with field duplicates averaged.

    Of a pair, a non-detect counts as half its limit beside a value; two non-detects are one at the lower limit.
    """
    names = texts_of(batch.samples["sample"])
    root = roots(names, texts_of(batch.samples["parent"]))
    measures = _measures(batch.results, totals)
    parts = [_of_results(batch.results, names, measures), _of_totals(totals, names, measures)]
    sample, measure, value, low, high, detected, partial = (
        np.concatenate(column) for column in zip(*parts, strict=True)
    )
    known = (sample >= 0) & (measure >= 0)
    every = Observations(root[sample], measure, value, low, high, detected, partial, batch.samples, measures)
    return _by_size(_pairs_averaged(every if known.all() else every.take(known)))


def together(
    own_samples: Sequence[pd.DataFrame],
    own_measures: Sequence[pd.DataFrame],
    figures: Callable[[str], Sequence[np.ndarray]],
    samples: pd.DataFrame,
) -> Observations:
    """The observations of a batch from those of its parts.

    ``own_samples`` (sample) and ``own_measures`` are those that each part numbers, ``figures`` gives a column of every
    part by its name; ``samples`` are all of the batch.
    """
    texts = ("substance", "rule", "group", "unit")
    plain = [part.assign(**{name: texts_of(part[name]) for name in texts}) for part in own_measures]
    measures = _ordered(pd.concat(plain, ignore_index=True))
    place = pd.MultiIndex.from_frame(measures[["substance", "rule"]])
    names = texts_of(samples["sample"])

    def column(name: str) -> np.ndarray:
        return np.concatenate(figures(name))

    order = _order_by_size(*(column(name) for name in ("value", "low", "high", "detected")))
    met = [place.get_indexer(pd.MultiIndex.from_frame(part[["substance", "rule"]])) for part in plain]
    own = [recoded(part["sample"], names) for part in own_samples]
    sample = np.concatenate([places[codes] for places, codes in zip(own, figures("sample"), strict=True)])[order]
    measure = np.concatenate([places[codes] for places, codes in zip(met, figures("measure"), strict=True)])[order]
    value, low, high = (column(name)[order] for name in ("value", "low", "high"))
    detected, partial = (column(name)[order] for name in ("detected", "partial"))
    return Observations(sample, measure, value, low, high, detected, partial, samples, measures)


_Part = tuple[Codes, Codes, Floats, Floats, Floats, Flags, Flags]


def _measures(results: pd.DataFrame, totals: pd.DataFrame) -> pd.DataFrame:
    """All substances and totals, in the order of the tables: by group, substances before totals."""
    codes, _ = coded(results["substance"])
    first = results.iloc[first_rows(np.where(_counted(results), codes, -1))]
    substances = pd.DataFrame(
        {"substance": texts_of(first["substance"]), "group": texts_of(first["group"]), "unit": texts_of(first["unit"])}
    ).assign(rule="", place=0, order=lambda frame: describe(frame["substance"].tolist())["order"].to_numpy(dtype=float))
    kinds = totals.drop_duplicates(["total", "rule"])
    rules = sum_rules().totals
    ids = texts_of(kinds["total"])
    known = pd.Index([str(one).removesuffix("-lab") for one in ids])
    groups = rules["group"].reindex(known).fillna("other").to_numpy(dtype=object)
    sums = pd.DataFrame({"substance": ids, "group": groups, "unit": texts_of(kinds["unit"])}).assign(
        rule=texts_of(kinds["rule"]), place=1, order=rules.index.get_indexer(known).astype(float)
    )
    return _ordered(pd.concat([substances, sums], ignore_index=True))


def _ordered(every: pd.DataFrame) -> pd.DataFrame:
    """Each measure once, in the order of the tables."""
    every = every.drop_duplicates(["substance", "rule"], ignore_index=True)
    every["_group"] = every["group"].map({group: at for at, group in enumerate(GROUPS)}).fillna(len(GROUPS))
    ordered = every.sort_values(["_group", "place", "order", "substance", "rule"], kind="stable", ignore_index=True)
    return ordered[["substance", "rule", "group", "unit", "place", "order"]]


def _counted(results: pd.DataFrame) -> Flags:
    """The results that say something of their sample: used, and with a number of some kind."""
    return np.asarray(results["used"].to_numpy(dtype=bool) & results["kind"].notna().to_numpy(), dtype=bool)


def _of_results(results: pd.DataFrame, names: np.ndarray, measures: pd.DataFrame) -> _Part:
    plain = np.flatnonzero((measures["rule"] == "").to_numpy())
    measure = _numbered(recoded(results["substance"], measures["substance"].to_numpy()[plain]), plain)
    over = (results["kind"] == "more-than").to_numpy(dtype=bool)
    value, low = results["value"].to_numpy(dtype=float), results["low"].to_numpy(dtype=float)
    detected = results["detected"].to_numpy(dtype=bool)
    return (
        np.where(_counted(results), recoded(results["sample"], names), -1),
        measure,
        np.where(over, np.nan, value),
        np.where(np.isnan(low) & ~detected, 0.0, low),  # a non-detect of unknown limit is not below 0
        results["high"].to_numpy(dtype=float),
        detected,
        np.zeros(len(results), dtype=bool),
    )


def _of_totals(totals: pd.DataFrame, names: np.ndarray, measures: pd.DataFrame) -> _Part:
    ids, rules = (coded(totals[name]) for name in ("total", "rule"))
    width = len(rules[1]) + 1
    pairs, keys = pd.factorize(ids[0] * width + rules[0] + 1)
    texts = [f"{ids[1][one // width]}\n{np.append('', rules[1])[one % width]}" for one in keys]
    known = pd.Index(measures["substance"] + "\n" + measures["rule"], dtype=object)
    measure = known.get_indexer(pd.Index(texts, dtype=object)).astype(np.int64)[pairs]
    return (
        recoded(totals["sample"], names),
        measure,
        totals["value"].to_numpy(dtype=float),
        totals["low"].to_numpy(dtype=float),
        totals["high"].to_numpy(dtype=float),
        totals["detected"].eq(True).fillna(False).to_numpy(dtype=bool),
        ~totals["complete"].eq(True).fillna(False).to_numpy(dtype=bool),
    )


def _numbered(codes: Codes, places: np.ndarray) -> Codes:
    if not len(places):
        return np.full(len(codes), -1, dtype=np.int64)
    return np.where(codes < 0, -1, places[codes])


def _by_size(rows: Observations) -> Observations:
    """Sorted once, so that what sums up groups of them need not sort each anew.

    Rows that stand level differ in nothing that is summed: a sum does not depend on the order in which they were read.
    """
    return rows.take(_order_by_size(rows.value, rows.low, rows.high, rows.detected))


def _order_by_size(value: Floats, low: Floats, high: Floats, detected: Flags) -> Codes:
    upmost = np.where(np.isnan(value), np.where(np.isnan(high), np.inf, high), value)
    return np.lexsort((np.isnan(value) * np.int8(2) + detected, high, low, upmost))


def _pairs_averaged(rows: Observations) -> Observations:
    key = rows.sample * max(len(rows.measures), 1) + rows.measure
    together = pd.Series(key).duplicated(keep=False).to_numpy()
    if not together.any():
        return rows
    pairs = rows.take(together)
    group, first = pd.factorize(key[together])
    count = len(first)
    leading = np.zeros(count, dtype=np.int64)
    leading[group[::-1]] = np.arange(len(group))[::-1]
    number = np.bincount(group, minlength=count)

    def mean(figures: Floats) -> Floats:
        order = np.argsort(figures, kind="stable")
        return np.asarray(np.bincount(group[order], figures[order], count) / number, dtype=np.float64)

    def any_of(flags: Flags) -> Flags:
        return np.asarray(np.bincount(group, flags, count) > 0, dtype=bool)

    share = at_half_limit(pairs.value, pairs.low, pairs.high)
    none = ~any_of(~np.isnan(pairs.value))
    least = np.full(count, np.inf)
    np.fmin.at(least, group, pairs.high)
    made = Observations(
        pairs.sample[leading],
        pairs.measure[leading],
        np.where(none, np.nan, mean(share)),
        mean(pairs.low),
        np.where(none, np.where(np.isinf(least), np.nan, least), mean(pairs.high)),
        any_of(pairs.detected),
        any_of(pairs.partial),
        rows.samples,
        rows.measures,
    )
    alone = rows.take(~together)
    return Observations(
        np.concatenate([alone.sample, made.sample]),
        np.concatenate([alone.measure, made.measure]),
        np.concatenate([alone.value, made.value]),
        np.concatenate([alone.low, made.low]),
        np.concatenate([alone.high, made.high]),
        np.concatenate([alone.detected, made.detected]),
        np.concatenate([alone.partial, made.partial]),
        rows.samples,
        rows.measures,
    )
