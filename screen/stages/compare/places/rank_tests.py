"""Tests of whether groups differ, non-detects and all. In: figures and groups. Out: statistic and p-value.

Non-detects are left-censored: each is somewhere below its limit. Subtracting every figure from a constant turns them
into right-censored ones, for which the linear rank tests of survival times hold (U.S. EPA 2009, Unified Guidance, EPA
530/R-09-007, chapter 16). Without non-detects, or with one limit that all of them share, ranks do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from screen.columns import Codes, Flags, Floats
from screen.stages.compare.places.distributions import chi_squared_tail, two_normal_tails
from screen.stages.compare.places.kendall import mid_ranks

__all__ = ["SIGNIFICANT", "WEIGHTS", "Tested", "censored_test", "holm", "linear_rank", "rank_test"]

#: A difference or a trend is told where the adjusted p lies below this.
SIGNIFICANT = 0.05

#: The weight of each detected figure in a linear rank test: 1, the results at or below, its root, the share above.
WEIGHTS = ("logrank", "Gehan", "Tarone-Ware", "Peto-Peto")


@dataclass(frozen=True, slots=True)
class Tested:
    """The name of a test, its statistic and its two-sided p-value."""

    name: str
    statistic: float
    p: float


def linear_rank(figure: Floats, detected: Flags, group: Codes, weight: str) -> tuple[Floats, Floats]:
    """The scores of the groups of a linear rank test, and their covariances (hypergeometric).

    ``figure`` is the value, or the limit where not ``detected``; ``group`` counts from 0. A group with a score above 0
    has the lower figures. ``weight`` is one of WEIGHTS; that of Peto-Peto is Prentice's estimate of the survival.
    """
    groups = int(group.max(initial=-1)) + 1
    times, at = np.unique(figure, return_inverse=True)
    cell, size = at.ravel() * groups + group, len(times) * groups
    risk = np.cumsum(np.bincount(cell, minlength=size).reshape(-1, groups), axis=0).astype(float)
    events = np.bincount(cell, detected, size).reshape(-1, groups)
    met = events.sum(axis=1) > 0
    risk, events = risk[met][::-1], events[met][::-1]  # from the greatest downwards, as times run upwards
    n, d = risk.sum(axis=1), events.sum(axis=1)
    share = risk / n[:, None]
    weights = {
        "logrank": np.ones(len(n)),
        "Gehan": n,
        "Tarone-Ware": np.sqrt(n),
        "Peto-Peto": np.cumprod((n + 1 - d) / (n + 1)),
    }[weight]
    scores = weights @ (d[:, None] * share - events)
    each = weights**2 * d * (n - d) / np.maximum(n - 1, 1)
    return scores, np.diag(each @ share) - (share * each[:, None]).T @ share


def censored_test(figure: Floats, detected: Flags, group: Codes) -> Tested:
    """The Peto-Peto test of two or more groups: the square of the scores over their spread, by chi-squared."""
    scores, spread = linear_rank(figure, detected, group, "Peto-Peto")
    kept = len(scores) - 1  # the scores add up to 0
    square = float(scores[:kept] @ np.linalg.pinv(spread[:kept, :kept]) @ scores[:kept])
    return Tested("Peto-Peto", square, chi_squared_tail(kept, square))


def rank_test(figure: Floats, group: Codes) -> Tested:
    """Mann-Whitney of two groups (by the normal deviate, corrected for ties and continuity), Kruskal-Wallis of more.

    Equal figures share the mean of their ranks. Not all figures may be equal.
    """
    rank, counts = mid_ranks(figure)
    sizes = np.bincount(group).astype(float)
    sums = np.bincount(group, rank)
    n = float(len(figure))
    ties = 1 - float((counts.astype(float) ** 3 - counts).sum()) / (n**3 - n)
    if len(sizes) == 2:
        u = float(sums[0] - sizes[0] * (sizes[0] + 1) / 2)
        middle = float(sizes.prod()) / 2
        deviate = max(abs(u - middle) - 0.5, 0.0) / np.sqrt(sizes.prod() * (n + 1) / 12 * ties)
        return Tested("Mann-Whitney", u, two_normal_tails(float(deviate)))
    h = float(12 / (n * (n + 1)) * (sums**2 / sizes).sum() - 3 * (n + 1)) / ties
    return Tested("Kruskal-Wallis", h, chi_squared_tail(len(sizes) - 1, h))


def holm(p: Floats) -> Floats:
    """p-values adjusted for their number, step by step (Holm 1979, from memory); NaN stands for no test and stays."""
    tested = np.flatnonzero(~np.isnan(p))
    ranked = tested[np.argsort(p[tested], kind="stable")]
    adjusted = np.full(len(p), np.nan)
    adjusted[ranked] = np.minimum(1.0, np.maximum.accumulate(p[ranked] * np.arange(len(ranked), 0, -1)))
    return adjusted
