"""Tests of whether groups differ, non-detects and all. In: figures and groups. Out: statistic and p-value.

Non-detects are left-censored: each is somewhere below its limit. Subtracting every figure from a constant turns them
into right-censored ones, for which the linear rank tests of survival times hold (U.S. EPA 2009, Unified Guidance, EPA
530/R-09-007, chapter 16). Without non-detects, or with one limit that all of them share, ranks do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from screen.columns import Codes, Flags, Floats

__all__ = ["WEIGHTS", "Tested", "censored_test", "linear_rank", "rank_test"]

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
    scores, spread = np.zeros(groups), np.zeros((groups, groups))
    survival = 1.0
    for at in np.unique(figure[detected])[::-1]:  # from the greatest downwards, as times run upwards
        risk = np.bincount(group[figure <= at], minlength=groups).astype(float)
        events = np.bincount(group[detected & (figure == at)], minlength=groups).astype(float)
        n, d = risk.sum(), events.sum()
        survival *= (n + 1 - d) / (n + 1)
        w = {"logrank": 1.0, "Gehan": n, "Tarone-Ware": np.sqrt(n), "Peto-Peto": survival}[weight]
        share = risk / n
        scores += w * (d * share - events)
        if n > 1:
            spread += w**2 * d * (n - d) / (n - 1) * (np.diag(share) - np.outer(share, share))
    return scores, spread


def censored_test(figure: Floats, detected: Flags, group: Codes) -> Tested:
    """The Peto-Peto test of two or more groups: the square of the scores over their spread, by chi-squared."""
    from scipy.stats import chi2

    scores, spread = linear_rank(figure, detected, group, "Peto-Peto")
    kept = len(scores) - 1  # the scores add up to 0
    square = float(scores[:kept] @ np.linalg.pinv(spread[:kept, :kept]) @ scores[:kept])
    return Tested("Peto-Peto", square, float(chi2.sf(square, kept)))


def rank_test(figure: Floats, group: Codes) -> Tested:
    """Mann-Whitney of two groups (ties and continuity corrected), Kruskal-Wallis of more; equal figures tie."""
    from scipy.stats import kruskal, mannwhitneyu

    parts = [figure[group == one] for one in range(int(group.max()) + 1)]
    if len(parts) == 2:
        found = mannwhitneyu(*parts, alternative="two-sided", method="asymptotic", use_continuity=True)
        return Tested("Mann-Whitney", float(found.statistic), float(found.pvalue))
    found = kruskal(*parts)
    return Tested("Kruskal-Wallis", float(found.statistic), float(found.pvalue))
