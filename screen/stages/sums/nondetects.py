"""Rules for members that were not detected: in go bounds of the members, out comes each one's share in the sum.

``zero``, ``half``, ``root2`` and ``full`` put a share of the limit in the member's place. ``km`` takes the Kaplan-Meier
mean of the members times their number (Helsel 2012, Statistics for Censored Environmental Data; from memory).
"""

from __future__ import annotations

import math

import numpy as np

from screen.columns import Floats

__all__ = ["KM_DETECTS", "SHARES", "substituted"]

#: The part of the limit that stands for a member that was not detected.
SHARES = {"zero": 0.0, "half": 0.5, "root2": 1.0 / math.sqrt(2.0), "full": 1.0}
#: A Kaplan-Meier sum needs at least this many detected members, and fewer than half not detected (handbook 3.2).
KM_DETECTS = 3


def substituted(value: Floats, low: Floats, high: Floats, rule: str) -> Floats:
    """Each member's share under ``rule``: its value, else that part of its upper bound, never below its lower bound.

    A member of unknown upper bound gives its lower bound.
    """
    part = np.clip(SHARES[rule] * high, low, high)
    return np.where(np.isnan(value), np.where(np.isnan(high), low, part), value)
