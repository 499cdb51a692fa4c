"""Kaplan-Meier estimates of left-censored figures, many groups at once. In: figures, groups. Out: mean, spread, error.

At a detected value a, n results lie at or below a (a limit equal to a counts as below) and d are detected at a: the
mass at a is S d/n, and S becomes S (n - d)/n, from the greatest value downwards. What is left below the smallest
detected value is placed at the smallest limit. These conventions give the mean and the standard deviation of U.S. EPA
2009, Unified Guidance, EPA 530/R-09-007, Example 15-1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats

__all__ = ["KaplanMeier", "kaplan_meier"]


@dataclass(frozen=True, slots=True)
class KaplanMeier:
    """Estimates, one per group (float64). A group without detected values has NaN in all of them.

    ``error`` is the standard error of the mean: the usual variance of the area under the curve, times d/(d - 1) for d
    detected values (NaN for one), which without non-detects is the plain standard error of a mean. ``floor`` is where
    ``rest``, the probability below the smallest detected value, is placed.
    """

    mean: Floats
    deviation: Floats
    error: Floats
    floor: Floats
    rest: Floats


def kaplan_meier(groups: Codes, figures: Floats, detected: Flags, size: int) -> KaplanMeier:
    """Kaplan-Meier estimates of ``figures``: the value where ``detected``, else the limit (both known, none NaN).

    ``groups`` numbers the group of each figure, from 0 to ``size`` - 1. The order of the rows changes nothing.
    """
    group, figure, found = groups, figures, detected
    same = group[1:] == group[:-1]
    if ((group[1:] < group[:-1]) | (same & (figure[1:] < figure[:-1]))).any():
        order = np.lexsort((figures, groups))
        group, figure, found = groups[order], figures[order], detected[order]
    new_group = np.append(True, group[1:] != group[:-1])[: len(group)]
    new_value = new_group | np.append(True, figure[1:] != figure[:-1])[: len(group)]
    starts = np.flatnonzero(new_value)
    ends = np.append(starts[1:], len(group))
    first_row = np.maximum.accumulate(np.where(new_group, np.arange(len(group)), 0))
    at = group[starts]
    value = figure[starts]
    risk = (ends - first_row[starts]).astype(float)
    events = np.add.reduceat(found.astype(float), starts) if len(starts) else np.empty(0)
    left = pd.Series(((risk - events) / risk)[::-1]).groupby(at[::-1]).cumprod().to_numpy()[::-1]
    first = np.append(True, at[1:] != at[:-1])[: len(at)]
    last = np.append(first[1:], True)[: len(at)]
    before = np.where(last, 1.0, np.append(left[1:], 1.0)[: len(at)])
    mass = before * events / risk
    rest = np.zeros(size)
    floor = np.full(size, np.nan)
    rest[at[first]], floor[at[first]] = left[first], value[first]
    mean = np.bincount(at, mass * value, size) + rest * np.nan_to_num(floor)
    spread = np.bincount(at, mass * (value - mean[at]) ** 2, size) + rest * (np.nan_to_num(floor) - mean) ** 2
    width = np.where(first, 0.0, value - np.append(np.nan, value[:-1])[: len(at)])
    below = np.append(0.0, before[:-1])[: len(at)]
    area = pd.Series(np.where(first, 0.0, below * width)).groupby(at).cumsum().to_numpy()
    part = np.where(risk > events, area**2 * events / (risk * np.maximum(risk - events, 1)), 0.0)
    count = np.bincount(at, events, size)
    with np.errstate(divide="ignore", invalid="ignore"):
        error = np.sqrt(np.bincount(at, part, size) * np.where(count > 1, count / (count - 1), np.nan))
    known = count > 0
    return KaplanMeier(
        np.where(known, mean, np.nan),
        np.where(known, np.sqrt(spread), np.nan),
        np.where(known, error, np.nan),
        np.where(known, floor, np.nan),
        np.where(known, rest, np.nan),
    )
