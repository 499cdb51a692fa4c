"""Means, medians and upper limits of groups of results, non-detects and all. In: observations by group. Out: a summary.

An observation has a point ``value`` or only bounds: a non-detect lies between 0 and its limit, a trace between its
limits, a result above the range has no upper bound. What the bounds leave open is left open, with the reason in words.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, joined
from screen.kaplan_meier import kaplan_meier

__all__ = ["DETECTS_FOR_LIMIT", "DETECTS_FOR_MEAN", "RESULTS_FOR_LIMIT", "Observed", "summarise", "t_limit"]

#: Under 8 results no upper limit of a mean is given (contract, stations.csv; methods handbook 3.3).
RESULTS_FOR_LIMIT = 8
#: Detected values for a Kaplan-Meier mean (as for a Kaplan-Meier sum, methods handbook 3.2) and for its upper limit (3.3).
DETECTS_FOR_MEAN = 3
DETECTS_FOR_LIMIT = 5
#: A Kaplan-Meier mean needs at least half of the results detected (Helsel 2012, from memory; methods handbook 3.3).
MOST_CENSORED = 0.5
_CONFIDENCE = 0.95
_NORMAL = 0.05
_SHAPIRO_MOST = 5000


@dataclass(frozen=True, slots=True)
class Observed:
    """Observations on one scale, one row each. ``group`` counts from 0 to ``size`` - 1.

    ``value`` is NaN without a point value; ``low`` and ``high`` are its bounds, ``high`` NaN where there is none or it is
    not known. ``unit_of`` numbers what is independent of each other: intervals of one core share a number.
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

    ``mean`` is arithmetic where every result has a value, else Kaplan-Meier where its conditions hold, else empty.
    ``mean_low`` and ``mean_high`` take non-detects as 0 and at the limit. ``median`` is empty where it lies among
    non-detects. ``upper95`` is the one-sided 95 % limit of the mean: Student t, or Chebyshev where the values are not
    near normal (Shapiro-Wilk p < 0.05).
    """
    has_value, has_high = ~np.isnan(rows.value), ~np.isnan(rows.high)
    n = np.bincount(rows.group, minlength=rows.size)
    counted = np.bincount(rows.group, has_value, rows.size)
    open_above = np.bincount(rows.group, ~has_high, rows.size) > 0
    low_mean, high_mean = _mean(rows, rows.low, n), _mean(rows, rows.high, n)
    greatest = _greatest(rows, np.where(has_value, rows.value, -np.inf))
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
    upper, kinds, independent = _upper_limits(rows, full, estimated, mean, found.error, n, counted)
    middle = _median(rows, np.where(has_value, rows.value, rows.low), np.where(has_value, rows.value, rows.high), n)
    note = joined(
        [
            (open_above, "a result has no known upper bound"),
            (~full & ~open_above & (counted == 0), "no detected value"),
            (
                ~full & ~open_above & (counted > 0) & (counted < DETECTS_FOR_MEAN),
                "fewer than 3 detected values: no mean",
            ),
            (
                ~full & ~open_above & (counted >= DETECTS_FOR_MEAN) & ~estimated,
                "more than half not detected: no mean",
            ),
            (estimated & (found.floor < least_value) & _one_limit(rows, has_value), _ONE_LIMIT),
            (np.isnan(middle) & (n > 0), "the median lies among non-detects"),
            (greatest_limit > greatest, "a limit is above the greatest detected value"),
            (n < RESULTS_FOR_LIMIT, "fewer than 8 results: no upper limit"),
            ((n >= RESULTS_FOR_LIMIT) & (independent < RESULTS_FOR_LIMIT), _NOT_INDEPENDENT),
            (independent < n, "intervals of one core are not independent"),
            (
                (independent >= RESULTS_FOR_LIMIT) & estimated & (counted < DETECTS_FOR_LIMIT),
                "fewer than 5 detected values: no upper limit",
            ),
        ]
    )
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
            "method": _methods(full, estimated, n, kinds),
            "note": note,
        }
    )


_ONE_LIMIT = "one limit below all detected values: the mean takes non-detects at that limit"
_NOT_INDEPENDENT = "fewer than 8 independent results: no upper limit"


def t_limit(mean: float, error: float, n: int) -> float:
    """The one-sided 95 % upper limit of a mean by Student t: mean + t(0.95, n - 1) times its standard error."""
    from scipy import stats

    return float(mean + stats.t.ppf(_CONFIDENCE, n - 1) * error)


def _chebyshev_limit(mean: float, error: float) -> float:
    """The same without any assumption on the distribution, by the one-sided inequality of Chebyshev (Cantelli)."""
    return mean + math.sqrt(1 / (1 - _CONFIDENCE) - 1) * error


def _upper_limits(
    rows: Observed, full: Flags, estimated: Flags, mean: Floats, km_error: Floats, n: Codes, counted: Floats
) -> tuple[Floats, list[str], Codes]:
    upper = np.full(rows.size, np.nan)
    kinds = [""] * rows.size
    independent = _independent(rows, n)
    wanted = (independent >= RESULTS_FOR_LIMIT) & (full | (estimated & (counted >= DETECTS_FOR_LIMIT)))
    if not wanted.any():
        return upper, kinds, independent
    member = np.flatnonzero(wanted[rows.group])
    member = member[np.lexsort((rows.value[member], rows.group[member]))]
    groups, starts = np.unique(rows.group[member], return_index=True)
    for group, here in zip(groups.tolist(), np.split(member, starts[1:]), strict=True):
        values = rows.value[here][~np.isnan(rows.value[here])]
        error = float(np.std(values, ddof=1) / math.sqrt(len(values))) if full[group] else float(km_error[group])
        if _near_normal(values):
            upper[group], kinds[group] = t_limit(float(mean[group]), error, int(n[group])), "Student t"
        else:
            upper[group], kinds[group] = _chebyshev_limit(float(mean[group]), error), "Chebyshev"
    return upper, kinds, independent


def _near_normal(values: Floats) -> bool:
    from scipy import stats

    if len(values) > _SHAPIRO_MOST or np.ptp(values) == 0:
        return True  # so many that the mean itself is near normal; or all the same
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return bool(stats.shapiro(values).pvalue >= _NORMAL)


def _independent(rows: Observed, n: Codes) -> Codes:
    """How many independent units each group has; only groups that are large enough are looked at closely."""
    large = n[rows.group] >= RESULTS_FOR_LIMIT
    several = pd.DataFrame({"group": rows.group[large], "unit": rows.unit_of[large]}).drop_duplicates()
    counts = np.bincount(several["group"].to_numpy(), minlength=rows.size)
    return np.where(n >= RESULTS_FOR_LIMIT, counts, n)


def _mean(rows: Observed, figures: Floats, n: Codes) -> Floats:
    """Plain means, summed in order of size so that no order of rows changes a digit."""
    order = np.argsort(figures, kind="stable")
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.bincount(rows.group[order], figures[order], rows.size) / n, dtype=np.float64)


def _greatest(rows: Observed, figures: Floats) -> Floats:
    greatest = np.full(rows.size, -np.inf)
    np.maximum.at(greatest, rows.group, figures)
    return greatest


def _median(rows: Observed, low: Floats, high: Floats, n: Codes) -> Floats:
    """The median where the bounds of the results leave only one."""
    ends = np.cumsum(n)
    first, second = ends - n + (n - 1) // 2, ends - n + n // 2
    middles = []
    for figures in (low, np.where(np.isnan(high), np.inf, high)):
        ordered = figures[np.lexsort((figures, rows.group))]
        some = n > 0
        middle = np.full(rows.size, np.nan)
        middle[some] = (ordered[first[some]] + ordered[second[some]]) / 2
        middles.append(middle)
    return np.where(middles[0] == middles[1], middles[0], np.nan)


def _one_limit(rows: Observed, has_value: Flags) -> Flags:
    """Groups whose non-detects all have the same limit."""
    limits = np.where(has_value, np.nan, rows.high)
    above = _greatest(rows, np.where(np.isnan(limits), -np.inf, limits))
    below = -_greatest(rows, np.where(np.isnan(limits), -np.inf, -limits))
    return above == below


def _methods(full: Flags, estimated: Flags, n: Codes, kinds: list[str]) -> pd.Categorical:
    mean = np.where(
        full, np.where(n == 1, "one result", "arithmetic mean"), np.where(estimated, "Kaplan-Meier mean", "")
    )
    limit = np.array([f"; upper limit by {kind}" if kind else "" for kind in kinds], dtype=object)
    texts = mean.astype(object) + limit
    return pd.Categorical(np.where(texts == "", None, texts))
