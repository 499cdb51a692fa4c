"""Robust regression on order statistics: means of few detected among many. In: figures of one group. Out: all values.

Plotting positions after Hirsch and Stedinger with the constant 0, a straight line through the logarithms of the
detected figures against normal scores, and only the non-detects taken from the line (U.S. EPA 2009, Unified Guidance,
EPA 530/R-09-007, Example 15-2). Each value is brought back from its logarithm before any mean is made.
"""

from __future__ import annotations

import numpy as np

from screen.columns import Flags, Floats
from screen.stages.compare.places.distributions import normal_quantiles

__all__ = ["plotting_positions", "values_by_line"]


def plotting_positions(figure: Floats, detected: Flags) -> Floats:
    """The plotting position of each figure (the value, or the limit where not ``detected``), in the order given."""
    limits = np.unique(figure[~detected])
    edges = np.append(limits, np.inf)
    above = np.zeros(len(edges))  # the probability of lying at or above each limit; 0 above the last
    for place in range(len(limits) - 1, -1, -1):
        inside = detected & (figure >= edges[place]) & (figure < edges[place + 1])
        below = (detected & (figure < edges[place])) | (~detected & (figure <= edges[place]))
        above[place] = above[place + 1] + inside.sum() / (inside.sum() + below.sum()) * (1 - above[place + 1])
    positions = np.empty(len(figure))
    starts = np.append(0.0, limits)
    lower = np.append(1.0, above[:-1])  # the probability of lying at or above the start of each stretch
    for start, top, here, nothing in zip(starts, edges, lower, np.append(1.0, above)[1:], strict=True):
        rows = np.flatnonzero(detected & (figure >= start) & (figure < top))
        ranked = rows[np.argsort(figure[rows], kind="stable")]
        steps = np.arange(1, len(rows) + 1) / (len(rows) + 1)
        positions[ranked] = (1 - here) + (here - nothing) * steps
    for limit, share in zip(limits, above[:-1], strict=True):
        rows = np.flatnonzero(~detected & (figure == limit))
        positions[rows] = (1 - share) * np.arange(1, len(rows) + 1) / (len(rows) + 1)
    return positions


def values_by_line(figure: Floats, detected: Flags) -> Floats:
    """The figures with each non-detect replaced by its value on the line; all must be above 0, two detected differ."""
    score = normal_quantiles(plotting_positions(figure, detected))
    slope, start = np.polyfit(score[detected], np.log(figure[detected]), 1)
    return np.asarray(np.where(detected, figure, np.exp(start + slope * score)), dtype=np.float64)
