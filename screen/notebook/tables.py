"""Totals and samples as a person made them: in go frames with what is known, out come those with all columns."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from screen.columns import coded, spread, texts_of
from screen.model import SAMPLES, TOTALS
from screen.notebook.results import DEPTHS, flags, need, numbers, texts
from screen.reference.rules import sum_rules
from screen.stages import sums
from screen.stages.normalise.carbon import carbon_of
from screen.stages.sums.lab_totals import LAB_SUFFIX

__all__ = ["samples_of", "totals_of"]


def totals_of(rows: pd.DataFrame, given: pd.DataFrame | None, wanted: Iterable[str]) -> pd.DataFrame:
    """``given`` with all columns of TOTALS, and the sums by the ``wanted`` rules that it lacks."""
    if given is None:
        return sums.total(rows, nondetects=list(wanted))
    if given.empty:
        return sums.total(rows.iloc[:0])
    need(given, "totals", ("sample", "total"), ("value", "limit"))
    frame = given.reset_index(drop=True)
    known = numbers(frame, "value")
    ids, names = coded(frame["total"])
    plain = [str(one).removesuffix(LAB_SUFFIX) for one in names]
    units = np.array([*sum_rules().totals["unit"].reindex(plain), None], dtype=object)
    stands_for = [own if one.endswith(LAB_SUFFIX) else "" for own, one in zip(plain, names, strict=True)]
    limit, count = numbers(frame, "limit"), len(frame)
    low, high = numbers(frame, "low"), numbers(frame, "high")
    columns: dict[str, Any] = {
        "value": known,
        "limit": limit,
        "low": low if "low" in frame else np.nan_to_num(known),
        "high": high if "high" in frame else np.where(np.isnan(known), limit, known),
        "detected": flags(frame, "detected", ~np.isnan(known)),
        "complete": flags(frame, "complete", np.ones(count, dtype=bool)),
        "unit": texts(frame, "unit", units[ids]),
        "rule": texts(frame, "rule", np.full(count, "zero", dtype=object)),
    }
    if "stands_for" not in frame and any(stands_for):
        columns["stands_for"] = spread(ids, stands_for)
    none = pd.Categorical(np.full(count, None, dtype=object))
    columns |= {name: none for name in TOTALS if name not in frame and name not in columns}
    frame = frame.assign(**columns)
    lacking = [one for one in wanted if one not in set(texts_of(frame["rule"]))]
    if not lacking:
        return frame
    more = sums.total(rows, nondetects=lacking)
    apart = [name for name in more if isinstance(more[name].dtype, pd.CategoricalDtype)]
    both = pd.concat([frame.astype(dict.fromkeys(apart, object)), more.astype(dict.fromkeys(apart, object))])
    return both.reset_index(drop=True)


def samples_of(given: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """``given`` with all columns of SAMPLES; station and carbon by the results where they are not told."""
    need(given, "samples", ("sample",), ("sample",))
    frame = given.reset_index(drop=True)
    carbon, _ = carbon_of(rows)
    told = numbers(frame, "toc_pct")
    known = {name: numbers(frame, name) for name in (*DEPTHS, "latitude", "longitude", "solids_pct", "fines_pct")}
    none = np.full(len(frame), None, dtype=object)
    said = {name: texts(frame, name, none) for name in SAMPLES if name not in (*known, "toc_pct", "sample")}
    said["station"] = texts(frame, "station", texts_of(frame["sample"]))
    measured = frame["sample"].astype(object).map(carbon).to_numpy(dtype=np.float64)
    return frame.assign(**known, **said, toc_pct=np.where(np.isnan(told), measured, told))
