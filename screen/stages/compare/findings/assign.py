"""Which guideline sets are compared for which sample: in go samples with their water and the settings, out go pairs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import Texts, texts_of
from screen.model import Problem
from screen.reference.sets import default_sets, load_set, set_outside
from screen.stages.normalise.notices import named

if TYPE_CHECKING:
    from screen.reference.sets import GuidelineSet
    from screen.settings import Settings

__all__ = ["assign_sets"]


def assign_sets(
    samples: pd.DataFrame, settings: Settings
) -> tuple[tuple[GuidelineSet, ...], pd.DataFrame, tuple[Problem, ...]]:
    """The sets in use (the first leads the report), the frame (sample, set), and what a user should know.

    Sets named in the settings are compared for every sample. A set that takes another's place where carbon lies outside
    its range comes last, and no sample is paired with it. Without any, each sample takes the defaults of its water:
    that of the field record, else ``settings.water``; where neither says, those of every water, with a warning. Raises
    SetError (of ``screen.reference.sets``) for a set that does not exist or is not in order.
    """
    names = texts_of(samples["sample"])
    if settings.guidelines:
        sets = tuple(load_set(one) for one in dict.fromkeys(settings.guidelines))
        pairs = [(name, one.id) for one in sets for name in names]
        return _with_those_outside(sets, pairs, names, samples["toc_pct"]), _pairs(pairs), ()
    waters = [water or settings.water or "" for water in texts_of(samples["water"])]
    wanted = {water: [str(one) for one in default_sets(water or None)] for water in dict.fromkeys(waters)}
    # the water of most samples leads the report
    order = sorted(wanted, key=lambda water: -waters.count(water))
    ids = list(dict.fromkeys(one for water in order for one in wanted[water]))
    pairs = [(name, one) for name, water in zip(names, waters, strict=True) for one in wanted[water]]
    unknown = [name for name, water in zip(names, waters, strict=True) if not water]
    problems: tuple[Problem, ...] = ()
    if unknown:
        problems = (
            Problem(
                "water-unknown",
                f"{named(unknown)}: no water type is stated, so the levels for fresh and for salt water are both used.",
                "Give the water in the field record, or with --water fresh, estuarine or marine.",
            ),
        )
    sets = tuple(load_set(one) for one in ids)
    return _with_those_outside(sets, pairs, names, samples["toc_pct"]), _pairs(pairs), problems


def _with_those_outside(
    sets: tuple[GuidelineSet, ...], pairs: list[tuple[str, str]], names: Texts, toc_pct: pd.Series
) -> tuple[GuidelineSet, ...]:
    """``sets``, and those that take their place for a sample whose carbon lies outside their range."""
    carbon = dict(zip(names, toc_pct.to_numpy(dtype=np.float64), strict=True))
    more = {}
    for one in sets:
        another = set_outside(one)
        if another is None:
            continue
        low, high = one.toc_range or (-np.inf, np.inf)
        if any(carbon[name] < low or carbon[name] > high for name, chosen in pairs if chosen == one.id):
            more[another.id] = another
    return (*sets, *(another for name, another in more.items() if name not in {one.id for one in sets}))


def _pairs(pairs: list[tuple[str, str]]) -> pd.DataFrame:
    frame = pd.DataFrame(pairs, columns=["sample", "set"], dtype=object)
    return frame.astype({"sample": "category", "set": "category"})
