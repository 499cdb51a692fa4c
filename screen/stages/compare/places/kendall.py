"""Rank correlation with results of which only bounds are known. In: places and figures. Out: tau, its test, Spearman.

Two figures are in order only where their bounds leave no doubt; else the pair counts as tied. Scores of pairs make the
generalised Kendall coefficient (Brown, Hollander and Korwar 1974, from memory), whose spread over all orders of the
places is exact for any scores (Daniels 1944, from memory) and that of Kendall's tau-b where nothing is censored.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from screen.columns import Codes, Floats

__all__ = ["Correlated", "kendall", "mid_ranks", "spearman"]

_BLOCK = 256


@dataclass(frozen=True, slots=True)
class Correlated:
    """``score``: pairs in the same order less pairs in the other; ``tau`` (tau-b); two-sided ``p`` by the deviate.

    The normal deviate is corrected for continuity; ``tau`` and ``p`` are NaN where no two can be told apart.
    """

    score: float
    variance: float
    tau: float
    p: float


def kendall(place: Floats, low: Floats, high: Floats) -> Correlated:
    """``high`` itself is not reached where it is above ``low`` (a limit); NaN stands for no upper bound."""
    top = np.where(np.isnan(high), np.inf, np.where(high > low, np.nextafter(high, -np.inf), high))
    score = _score(place, low, top)
    by_place, by_figure = _net(place, place), _net(low, top)
    pairs = [_ordered(place, place), _ordered(low, top)]
    if not all(pairs):
        return Correlated(score, 0.0, math.nan, math.nan)
    n = float(len(place))
    variance = float(np.prod(pairs)) / (2 * n * (n - 1))
    if n > 2:
        sums = [
            float((net.astype(float) ** 2).sum()) - count
            for net, count in zip((by_place, by_figure), pairs, strict=True)
        ]
        variance += float(np.prod(sums)) / (n * (n - 1) * (n - 2))
    deviate = max(abs(score) - 1.0, 0.0) / math.sqrt(variance)
    return Correlated(score, variance, 2 * score / math.sqrt(float(np.prod(pairs))), math.erfc(deviate / math.sqrt(2)))


def _net(low: Floats, top: Floats) -> Codes:
    """Of each figure: how many lie surely below it, less how many surely above."""
    below = np.searchsorted(np.sort(top), low, "left")
    return np.asarray(below - (len(low) - np.searchsorted(np.sort(low), top, "right")), dtype=np.int64)


def _ordered(low: Floats, top: Floats) -> float:
    """How many pairs can be told apart, each counted from both sides."""
    return 2.0 * float(np.searchsorted(np.sort(top), low, "left").sum())


def _score(place: Floats, low: Floats, top: Floats) -> float:
    order = np.argsort(place, kind="stable")
    place, low, top = place[order], low[order], top[order]
    total, start = 0, 0
    while start < len(place):
        stop = int(np.searchsorted(place, place[min(start + _BLOCK, len(place)) - 1], "right"))
        here = slice(start, stop)
        farther = place[here][None, :] > place[here][:, None]
        total += int(np.count_nonzero(farther & (top[here][:, None] < low[here][None, :])))
        total -= int(np.count_nonzero(farther & (low[here][:, None] > top[here][None, :])))
        if start:
            total += int(np.searchsorted(np.sort(top[:start]), low[here], "left").sum())
            total -= int((start - np.searchsorted(np.sort(low[:start]), top[here], "right")).sum())
        start = stop
    return float(total)


def mid_ranks(figure: Floats) -> tuple[Floats, Codes]:
    """The ranks of the figures, equal ones sharing the mean of theirs; and how many figures each distinct one has."""
    _, at, counts = np.unique(figure, return_inverse=True, return_counts=True)
    return (np.cumsum(counts) - (counts - 1) / 2)[at.ravel()], counts


def spearman(place: Floats, low: Floats, high: Floats) -> float:
    """Spearman's rho where each figure has a rank: values, and non-detects tied below all at one limit; else NaN."""
    none = ~(low == high)
    limit = float(np.max(high[none], initial=-np.inf)) if not np.isnan(high[none]).any() else math.inf
    ranked = bool((low[none] == 0).all() and (high[none] == limit).all() and (low[~none] >= limit).all())
    first, second = mid_ranks(place)[0], mid_ranks(np.where(none, -np.inf, low))[0]
    if not ranked or np.ptp(first) == 0 or np.ptp(second) == 0:
        return math.nan
    return float(np.corrcoef(first, second)[0, 1])
