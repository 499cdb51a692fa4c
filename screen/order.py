"""The order of rows in the tables: by place and depth, then by what was measured, whatever order the sheets had.

In: a table, and the samples that tell where each row belongs. Out: the same rows, sorted; missing comes last.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import coded, recoded, texts_of

__all__ = ["by_place", "by_sample"]

_Codes = npt.NDArray[np.int64]
_Keys = npt.NDArray[np.float64] | _Codes


def by_sample(frame: pd.DataFrame, samples: pd.DataFrame, then: Sequence[str]) -> pd.DataFrame:
    """``frame`` (with a column ``sample``) by river km, station, depth and sample, and then by the columns ``then``.

    ``samples`` has one row per sample (SAMPLES); rows of a sample that it does not know come last.
    """
    place = recoded(frame["sample"], texts_of(samples["sample"]))
    keys: list[_Keys] = []
    for name in ("river_km", "station", "depth_top_cm", "depth_bottom_cm"):
        key = _key(samples[name])
        last = np.inf if key.dtype.kind == "f" else np.iinfo(np.int64).max
        keys.append(np.append(key, last)[place])
    return _sorted(frame, [*keys, *(_key(frame[name]) for name in ("sample", *then))])


def by_place(frame: pd.DataFrame, stations: pd.DataFrame, then: Sequence[str]) -> pd.DataFrame:
    """``frame`` (with a column ``station``) by river km and station, and then by the columns ``then``."""
    known = texts_of(stations["station"])
    place = recoded(frame["station"], known)
    km = np.append(stations["river_km"].to_numpy(dtype=np.float64), np.nan)[place]
    return _sorted(frame, [np.where(np.isnan(km), np.inf, km), *(_key(frame[name]) for name in ("station", *then))])


def _key(column: pd.Series) -> _Keys:
    """Numbers as they are, texts by their rank; missing last."""
    if pd.api.types.is_numeric_dtype(column.dtype):
        number = column.to_numpy(dtype=np.float64, na_value=np.nan)
        return np.where(np.isnan(number), np.inf, number)
    codes, texts = coded(column)
    rank = np.empty(len(texts) + 1, dtype=np.int64)
    rank[np.argsort(np.asarray(texts, dtype=str), kind="stable")] = np.arange(len(texts))
    rank[-1] = np.iinfo(np.int64).max
    return rank[codes]


def _sorted(frame: pd.DataFrame, keys: Sequence[_Keys]) -> pd.DataFrame:
    order = np.lexsort(tuple(reversed(keys)))
    return frame.take(order).reset_index(drop=True)
