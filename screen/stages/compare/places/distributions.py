"""Tails and quantiles of the normal, chi-squared and Student's distributions, by their closed forms.

The degrees of freedom are whole numbers, for which the chi-squared and Student's distributions are finite sums
(Abramowitz and Stegun 1964, Handbook of Mathematical Functions, 26.4.4, 26.4.5, 26.7.3, 26.7.4; from memory, checked
against a general library). Loading a library of special functions would take a tenth of a laboratory's batch.
"""

from __future__ import annotations

import math
from functools import cache
from statistics import NormalDist

import numpy as np

from screen.columns import Floats

__all__ = ["chi_squared_tail", "normal_quantiles", "student_quantile", "two_normal_tails"]

_NORMAL = NormalDist()


def two_normal_tails(deviate: float) -> float:
    """The probability that a standard normal deviate lies at least ``deviate`` (0 or more) from 0."""
    return math.erfc(deviate / math.sqrt(2))


def normal_quantiles(probability: Floats) -> Floats:
    """The standard normal deviate below which each probability (between 0 and 1) lies."""
    return np.array([_NORMAL.inv_cdf(one) for one in probability.tolist()])


def chi_squared_tail(freedom: int, square: float) -> float:
    """The probability of at least ``square``, of ``freedom`` (1 or more) degrees of freedom."""
    half, odd = square / 2, freedom % 2
    if not half > 0:
        return math.nan if math.isnan(square) else 1.0
    steps = [one + odd / 2 for one in range(freedom // 2)]
    parts = [math.exp(step * math.log(half) - half - math.lgamma(step + 1)) for step in steps]
    return math.fsum([math.erfc(math.sqrt(half)) if odd else 0.0, *parts])


@cache
def student_quantile(probability: float, freedom: int) -> float:
    """The deviate below which ``probability`` (at least one half) lies, of ``freedom`` (1 or more) degrees of freedom.

    Newton's steps from the normal deviate, which is the smaller one: they rise to the quantile and never pass it.
    """
    deviate = _NORMAL.inv_cdf(probability)
    scale = math.exp(math.lgamma((freedom + 1) / 2) - math.lgamma(freedom / 2)) / math.sqrt(freedom * math.pi)
    for _ in range(_STEPS):
        density = scale * (1 + deviate * deviate / freedom) ** (-(freedom + 1) / 2)
        step = (2 * probability - 1 - _student_within(deviate, freedom)) / (2 * density)
        deviate += step
        if abs(step) <= _CLOSE * deviate:
            break
    return deviate


_STEPS, _CLOSE = 60, 1e-15


def _student_within(deviate: float, freedom: int) -> float:
    """The probability of lying within ``deviate`` of 0."""
    angle = math.atan(deviate / math.sqrt(freedom))
    place = np.arange(1 + freedom % 2, freedom - 2, 2)
    terms = np.cumprod(math.cos(angle) ** 2 * place / (place + 1.0))
    series = 1 + float(terms.sum()) if freedom > 1 else 0.0
    if freedom % 2:
        return 2 / math.pi * (angle + math.sin(angle) * math.cos(angle) * series)
    return math.sin(angle) * series
