"""Rules for members that were not detected: in go bounds of the members, out comes each one's share in the sum.

``zero``, ``half``, ``root2`` and ``full`` put a share of the limit in the member's place. ``km`` takes the Kaplan-Meier
mean of the members times their number (Helsel 2012, Statistics for Censored Environmental Data; from memory).
"""

from __future__ import annotations

import math

import numpy as np

from screen.columns import Codes, Flags, Floats

__all__ = ["KM_DETECTS", "SHARES", "km_means", "substituted"]

#: The part of the limit that stands for a member that was not detected.
SHARES = {"zero": 0.0, "half": 0.5, "root2": 1.0 / math.sqrt(2.0), "full": 1.0}
#: A Kaplan-Meier sum needs at least this many detected members, and fewer than half not detected (handbook 3.2).
KM_DETECTS = 3
_CHUNK = 4_000_000


def substituted(value: Floats, low: Floats, high: Floats, rule: str) -> Floats:
    """Each member's share under ``rule``: its value, else that part of its upper bound, never below its lower bound.

    A member of unknown upper bound gives its lower bound.
    """
    part = np.clip(SHARES[rule] * high, low, high)
    return np.where(np.isnan(value), np.where(np.isnan(high), low, part), value)


def km_means(figure: Floats, censored: Flags, starts: Codes) -> Floats:
    """Kaplan-Meier mean of left-censored figures, one per group.

    ``figure`` is the value or, where ``censored``, the limit; groups are contiguous and begin at ``starts``. At a
    detected value a: n results lie at or below a (a limit equal to a counts as below), mass at a is S/n for each, S
    becomes S (n - 1)/n. What is left below the smallest detected value is placed at the smallest limit, as in U.S. EPA
    2009, Unified Guidance, EPA 530/R-09-007, Example 15-1.
    """
    ends = np.append(starts[1:], len(figure))
    sizes = ends - starts
    out = np.full(len(starts), np.nan)
    if not len(starts):
        return out
    group = np.repeat(np.arange(len(starts)), sizes)
    order = np.lexsort((censored, -figure, group))
    figure, censored = figure[order], censored[order]
    position = np.arange(len(figure)) - np.repeat(starts, sizes)
    widest = int(sizes.max())
    step = max(1, _CHUNK // widest)
    for first in range(0, len(starts), step):
        last = min(first + step, len(starts))
        rows = slice(int(starts[first]), int(ends[last - 1]))
        place = (group[rows] - first, position[rows])
        at = np.zeros((last - first, widest))
        at[place] = figure[rows]
        detected = np.zeros((last - first, widest), dtype=bool)
        detected[place] = ~censored[rows]
        left = np.maximum(sizes[first:last, None] - np.arange(widest)[None, :], 1)
        after = np.cumprod(np.where(detected, (left - 1) / left, 1.0), axis=1)
        before = np.column_stack([np.ones(last - first), after[:, :-1]])
        mass = np.where(detected, before / left, 0.0)
        limits = np.where(detected | (np.arange(widest)[None, :] >= sizes[first:last, None]), np.inf, at)
        floor = limits.min(axis=1)
        rest = np.where(np.isinf(floor), 0.0, after[:, -1])
        out[first:last] = (mass * at).sum(axis=1) + rest * np.where(np.isinf(floor), 0.0, floor)
    return out
