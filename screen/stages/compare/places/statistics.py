"""Means, medians and upper limits of groups of results, non-detects and all. In: observations by group. Out: a summary.

An observation has a point ``value`` or only bounds: a non-detect lies between 0 and its limit, a trace between its
limits, a result above the range has no upper bound. What the bounds leave open is left open, with the reason in words.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, by_code, flagged, joined
from screen.kaplan_meier import kaplan_meier
from screen.stages.compare.places.distributions import student_quantile
from screen.stages.compare.places.order_statistics import values_by_line

__all__ = ["DETECTS_FOR_LIMIT", "DETECTS_FOR_MEAN", "RESULTS_FOR_LIMIT", "Observed", "summarise", "t_limit"]

#: Under 8 results no upper limit of a mean is given (contract, stations.csv; methods handbook 3.3).
RESULTS_FOR_LIMIT = 8
#: Detected values for a Kaplan-Meier mean (as for a Kaplan-Meier sum) and for its upper limit (methods handbook 3.3).
DETECTS_FOR_MEAN = 3
DETECTS_FOR_LIMIT = 5
#: A Kaplan-Meier mean needs at least half of the results detected (Helsel 2012, from memory; methods handbook 3.3).
MOST_CENSORED = 0.5
#: Robust regression on order statistics where 50 to 80 % are not detected, of at least 30 results (Helsel 2012, from
#: memory; methods handbook 3.3).
RESULTS_FOR_LINE = 30
LEAST_SHARE_FOR_LINE = 0.2
_CONFIDENCE = 0.95
#: Standard normal deviate of a two-sided test at the 5 % level.
_SKEWED = NormalDist().inv_cdf(1 - 0.05 / 2)


@dataclass(frozen=True, slots=True)
class Observed:
    """Observations on one scale, one row each. ``group`` counts from 0 to ``size`` - 1.

    ``value`` is NaN without a point value; ``low`` and ``high`` are its bounds, ``high`` NaN where there is none or it
    is not known. ``unit_of`` numbers what is independent of each other: intervals of one core share a number.
    """

    group: Codes
    value: Floats
    low: Floats
    high: Floats
    detected: Flags
    unit_of: Codes
    size: int


def summarise(rows: Observed) -> pd.DataFrame:
    """One row per group: n, detects, mean, mean_low, mean_high, median, max, upper95, method, note.

    ``mean`` is arithmetic where every result has a value, else Kaplan-Meier where at least half is detected, else, of
    30 results or more with at least a fifth detected, by robust regression on order statistics, else empty.
    ``mean_low`` and ``mean_high`` take non-detects as 0 and at the limit. ``median`` is empty where it lies among
    non-detects. ``upper95`` is the one-sided 95 % limit of the mean: Student t, or Chebyshev where the values are
    skewed (D'Agostino's test, p < 0.05) or too few to tell.
    """
    rows = _in_order(rows)
    has_value, has_high = ~np.isnan(rows.value), ~np.isnan(rows.high)
    n = np.bincount(rows.group, minlength=rows.size).astype(np.int64)
    counted = np.bincount(rows.group, has_value, rows.size).astype(np.int64)
    open_above = np.bincount(rows.group, ~has_high, rows.size) > 0
    low_mean, high_mean = _mean(rows, rows.low, n), _mean(rows, rows.high, n)
    least_known = np.where(~has_high & (rows.low > 0), rows.low, -np.inf)  # a result above the range is at least that
    greatest = _greatest(rows, np.where(has_value, rows.value, least_known))
    greatest_limit = _greatest(rows, np.where(has_value | ~has_high, -np.inf, rows.high))
    least_value = -_greatest(rows, np.where(has_value, -rows.value, -np.inf))
    censored = n - counted
    full = (censored == 0) & ~open_above
    estimated = ~full & ~open_above & (counted >= DETECTS_FOR_MEAN) & (censored <= MOST_CENSORED * n)
    usable = estimated[rows.group]
    found = kaplan_meier(
        rows.group[usable], np.where(has_value, rows.value, rows.high)[usable], has_value[usable], rows.size
    )
    mean = np.where(full, _mean(rows, rows.value, n), np.where(estimated, found.mean, np.nan))
    lined = ~full & ~open_above & ~estimated & (n >= RESULTS_FOR_LINE) & (counted >= LEAST_SHARE_FOR_LINE * n)
    mean = _by_line(rows, lined, mean)
    lined &= ~np.isnan(mean)
    upper, kinds, independent = _upper_limits(rows, full, estimated, mean, found.error, n, counted)
    middle = _median(rows, np.where(has_value, rows.value, rows.low), _upmost(rows.value, rows.high), n)
    bounded, many = ~full & ~open_above, n >= RESULTS_FOR_LIMIT
    reasons = [
        (open_above, "a result has no known upper bound: no mean"),
        (bounded & (counted == 0), "no detected value: no mean"),
        (bounded & (counted > 0) & (counted < DETECTS_FOR_MEAN), "fewer than 3 detected values: no mean"),
        (bounded & (counted >= DETECTS_FOR_MEAN) & ~estimated & ~lined, "more than half not detected: no mean"),
        (estimated & (found.floor < least_value) & _one_limit(rows, has_value), _ONE_LIMIT),
        (np.isnan(middle) & (n > 0), "the median lies among non-detects"),
        (greatest_limit > greatest, "a limit is above the greatest detected value"),
        (n < RESULTS_FOR_LIMIT, "fewer than 8 results: no upper limit"),
        (many & (independent < RESULTS_FOR_LIMIT), "fewer than 8 independent results: no upper limit"),
        (many & (independent < n), "intervals of one core are not independent"),
        (lined, "more than half not detected: no upper limit"),
        (many & estimated & (counted < DETECTS_FOR_LIMIT), "fewer than 5 detected values: no upper limit"),
    ]
    note = joined([flagged(flags, text) for flags, text in reasons], rows.size)
    return pd.DataFrame(
        {
            "n": n,
            "detects": np.bincount(rows.group, rows.detected, rows.size).astype(np.int64),
            "mean": mean,
            "mean_low": low_mean,
            "mean_high": high_mean,
            "median": middle,
            "max": np.where(np.isinf(greatest), np.nan, greatest),
            "upper95": upper,
            "method": _methods(full, estimated, lined, n, kinds),
            "note": note,
        }
    )


_MEANS = (
    "one result",
    "arithmetic mean",
    "Kaplan-Meier mean",
    "mean by robust regression on order statistics, lognormal",
)
_LIMITS = ("upper limit by Student t", "upper limit by Chebyshev")
_ONE_LIMIT = "one limit below all detected values: the mean takes non-detects at that limit"


def _by_line(rows: Observed, lined: Flags, mean: Floats) -> Floats:
    """``mean`` with those of the groups ``lined``, by the line through their detected values; the rows are by group."""
    made = mean.copy()
    edges = np.searchsorted(rows.group, np.arange(rows.size + 1))
    for one in np.flatnonzero(lined):
        here = slice(edges[one], edges[one + 1])
        detected = ~np.isnan(rows.value[here])
        figure = np.where(detected, rows.value[here], rows.high[here])
        if (figure > 0).all() and np.ptp(figure[detected]) > 0:
            made[one] = values_by_line(figure, detected).mean()
    return made


def t_limit(mean: Floats, error: Floats, n: Codes) -> Floats:
    """One-sided 95 % upper limits of means by Student t: mean + t(0.95, n - 1) times its standard error."""
    distinct, place = np.unique(n, return_inverse=True)
    deviate = np.array([student_quantile(_CONFIDENCE, int(one) - 1) for one in distinct])
    return np.asarray(mean + deviate[place] * error, dtype=np.float64)


def _chebyshev_limit(mean: Floats, error: Floats) -> Floats:
    """The same without any assumption on the distribution, by the one-sided inequality of Chebyshev (Cantelli)."""
    return np.asarray(mean + math.sqrt(1 / (1 - _CONFIDENCE) - 1) * error, dtype=np.float64)


def _upper_limits(
    rows: Observed, full: Flags, estimated: Flags, mean: Floats, km_error: Floats, n: Codes, counted: Codes
) -> tuple[Floats, Codes, Codes]:
    """Upper limits, how each was made (0 by Student t, 1 by Chebyshev, -1 none), and the independent results."""
    independent = _independent(rows, n)
    wanted = (independent >= RESULTS_FOR_LIMIT) & (full | (estimated & (counted >= DETECTS_FOR_LIMIT)))
    error, symmetric = np.where(full, np.nan, km_error), np.zeros(rows.size, dtype=bool)
    valued = rows.value[~np.isnan(rows.value)]
    for groups, places in _by_length(counted, wanted):
        values = valued[places]
        spread = np.std(values, axis=1, ddof=1) / math.sqrt(values.shape[1])
        error[groups] = np.where(full[groups], spread, error[groups])
        symmetric[groups] = _symmetric(values)
    by_t = wanted & symmetric
    by_chebyshev = wanted & ~symmetric
    upper = np.full(rows.size, np.nan)
    upper[by_t] = t_limit(mean[by_t], error[by_t], n[by_t])
    upper[by_chebyshev] = _chebyshev_limit(mean[by_chebyshev], error[by_chebyshev])
    return upper, np.select([by_t, by_chebyshev], [0, 1], -1).astype(np.int64), independent


def _by_length(counts: Codes, wanted: Flags) -> Iterator[tuple[Codes, Codes]]:
    """The wanted groups of one length at a time, and the places of their rows, one group a line.

    ``counts``: how many rows each group has, the groups one after another.
    """
    starts = np.cumsum(counts) - counts
    groups = np.flatnonzero(wanted)
    groups = groups[by_code(counts[groups])]
    for block in np.split(groups, np.flatnonzero(np.diff(counts[groups])) + 1):
        if len(block):
            yield block, starts[block][:, None] + np.arange(counts[block[0]])


def _symmetric(values: Floats) -> Flags:
    """Rows that the skewness test of D'Agostino (1970) does not find skewed; it needs 8 values, fewer show nothing."""
    same = np.asarray(np.ptp(values, axis=1) == 0, dtype=bool)
    n = values.shape[1]
    if n < RESULTS_FOR_LIMIT:
        return same
    away = values - values.mean(axis=1, keepdims=True)
    squares = away * away
    with np.errstate(all="ignore"):
        skewness = (squares * away).mean(axis=1) / squares.mean(axis=1) ** 1.5
    scaled = skewness * math.sqrt((n + 1) * (n + 3) / (6 * (n - 2)))
    kurtosis = 3 * (n * n + 27 * n - 70) * (n + 1) * (n + 3) / ((n - 2) * (n + 5) * (n + 7) * (n + 9))
    square = math.sqrt(2 * (kurtosis - 1)) - 1
    deviate = np.arcsinh(scaled / math.sqrt(2 / (square - 1))) / math.sqrt(0.5 * math.log(square))
    return np.asarray(same | (np.abs(deviate) <= _SKEWED), dtype=bool)


def _independent(rows: Observed, n: Codes) -> Codes:
    """How many independent units each group has; only groups that are large enough are looked at closely."""
    large = n[rows.group] >= RESULTS_FOR_LIMIT
    several = pd.DataFrame({"group": rows.group[large], "unit": rows.unit_of[large]}).drop_duplicates()
    counts = np.bincount(several["group"].to_numpy(), minlength=rows.size)
    return np.where(n >= RESULTS_FOR_LIMIT, counts, n)


def _in_order(rows: Observed) -> Observed:
    """The rows by group and size, so that no order of rows changes a digit of a sum."""
    upmost = _upmost(rows.value, rows.high)
    tie = upmost[1:] == upmost[:-1]
    by_size = not ((upmost[1:] < upmost[:-1]) | (tie & (rows.low[1:] < rows.low[:-1]))).any()
    order = by_code(rows.group) if by_size else np.lexsort((rows.low, upmost, rows.group))
    return Observed(
        rows.group[order],
        rows.value[order],
        rows.low[order],
        rows.high[order],
        rows.detected[order],
        rows.unit_of[order],
        rows.size,
    )


def _upmost(value: Floats, high: Floats) -> Floats:
    """The greatest that each result can be."""
    return np.where(np.isnan(value), np.where(np.isnan(high), np.inf, high), value)


def _mean(rows: Observed, figures: Floats, n: Codes) -> Floats:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.bincount(rows.group, figures, rows.size) / n, dtype=np.float64)


def _greatest(rows: Observed, figures: Floats) -> Floats:
    """The greatest figure of each group; the rows are by group."""
    starts = np.flatnonzero(np.append(True, rows.group[1:] != rows.group[:-1])[: len(rows.group)])
    greatest = np.full(rows.size, -np.inf)
    if len(starts):
        greatest[rows.group[starts]] = np.maximum.reduceat(figures, starts)
    return greatest


def _median(rows: Observed, low: Floats, high: Floats, n: Codes) -> Floats:
    """The median where the bounds of the results leave only one; the rows are by group and ``high``."""
    unsorted = np.zeros(rows.size, dtype=bool)
    unsorted[rows.group[1:][(rows.group[1:] == rows.group[:-1]) & ~(low[1:] >= low[:-1])]] = True
    for _, places in _by_length(n, unsorted):
        low[places] = np.sort(low[places], axis=1)
    some = n > 0
    starts = np.cumsum(n) - n
    first, second = (starts + (n - 1) // 2)[some], (starts + n // 2)[some]
    least, most = (low[first] + low[second]) / 2, (high[first] + high[second]) / 2
    middle = np.full(rows.size, np.nan)
    middle[some] = np.where(least == most, least, np.nan)
    return middle


def _one_limit(rows: Observed, has_value: Flags) -> Flags:
    """Groups whose non-detects all have the same limit."""
    limits = np.where(has_value, np.nan, rows.high)
    above = _greatest(rows, np.where(np.isnan(limits), -np.inf, limits))
    below = -_greatest(rows, np.where(np.isnan(limits), -np.inf, -limits))
    return np.asarray(above == below, dtype=bool)


def _methods(full: Flags, estimated: Flags, lined: Flags, n: Codes, limit: Codes) -> pd.Categorical:
    mean = np.where(full, np.where(n == 1, 0, 1), np.where(estimated, 2, np.where(lined, 3, -1))).astype(np.int64)
    return joined([(mean, _MEANS), (limit, _LIMITS)], len(n))
