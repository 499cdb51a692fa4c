"""Results beside the laboratory's blanks: in go results and quality-control rows as read, out come results as judged.

The older habit of data review, asked for with ``blanks = "five-ten"``: a result of up to five times its blank, ten
times for common laboratory contaminants, counts as not detected at its own figure (methods handbook 7.1).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, coded, recoded, spread, texts_of
from screen.reference.locate import read_table
from screen.reference.substances import describe
from screen.stages.normalise.notices import Notice, notice_of

__all__ = ["five_ten"]

_METHOD_BLANK = "method-blank"


def five_ten(results: pd.DataFrame, qc: pd.DataFrame) -> tuple[pd.DataFrame, list[Notice]]:
    """``results`` (RESULTS + RESULTS_INNER, as read) in which those near their blank are nondetects at their figure.

    The blank of a result is the highest detected method blank of the substance in its file, else in any file of the
    batch, in the same unit, and on the same basis unless it states none. Water, carbon and other conventionals stay.
    """
    names = coded(results["substance"])[1]
    blank = _blanks(results, qc, names)
    if np.isnan(blank).all():
        return results, []
    substance = recoded(results["substance"], names)
    factors = read_table("coefficients/blank_factors.csv").set_index("substance")["factor"].astype(float)
    times = factors.reindex(names).fillna(factors[""]).to_numpy(dtype=np.float64)
    of_chemistry = describe(list(names))["group"].ne("conventional").to_numpy()
    figure = results["read_value"].to_numpy(dtype=np.float64) * results["factor"].to_numpy(dtype=np.float64)
    near: Flags = (
        np.append(of_chemistry, False)[substance]
        & results["used"].to_numpy(dtype=bool)
        & results["kind"].isin(("exact", "estimated-maximum")).to_numpy()
        & (figure <= blank * np.append(times, np.nan)[substance] * (1 + 1e-9))
    )
    told = notice_of(
        results[near],
        "blank-five-ten",
        "up to 5 times the method blank (10 times for common laboratory contaminants), read as not detected, as"
        ' blanks = "five-ten" asks',
        counted=True,
    )
    return _as_nondetects(results, near) if near.any() else results, told


def _blanks(results: pd.DataFrame, qc: pd.DataFrame, names: np.ndarray) -> Floats:
    """The blank of each result in its substance's standard unit, NaN where there is none to compare with."""
    if qc.empty:
        return np.full(len(results), np.nan)
    own = qc[(texts_of(qc["qc_kind"]) == _METHOD_BLANK) & qc["detected"].to_numpy(dtype=bool)]
    figure = own["read_value"].to_numpy(dtype=np.float64) * own["factor"].to_numpy(dtype=np.float64)
    known = recoded(own["substance"], names)
    keep = ~np.isnan(figure) & (known >= 0)
    own, figure, known = own[keep], figure[keep], known[keep]
    out = np.full(len(results), np.nan)
    if not len(own):
        return out
    files, bases = coded(results["file"])[1], coded(results["reported_basis"])[1]
    substance, file = recoded(results["substance"], names), recoded(results["file"], files)
    basis = recoded(results["reported_basis"], bases)
    of_file, of_basis = recoded(own["file"], files), recoded(own["reported_basis"], bases)
    stated = own["reported_basis"].notna().to_numpy()
    for here in (False, True):
        for said in [-1, *range(len(bases))] if len(bases) else [-1]:
            fits = ~stated | (of_basis == said)
            table = _highest(figure[fits], known[fits], of_file[fits] if here else None, (len(names), len(files)))
            rows = np.flatnonzero((basis == said) & (substance >= 0))
            found = table[substance[rows], file[rows] if here else 0]
            out[rows] = np.where(np.isnan(found), out[rows], found)
    return out


def _highest(figure: Floats, known: Codes, file: Codes | None, shape: tuple[int, int]) -> Floats:
    """The highest figure by substance and file (all files in the first column where ``file`` is None)."""
    table = np.full(shape, -np.inf)
    column = np.zeros(len(known), dtype=np.int64) if file is None else file
    inside = column >= 0
    np.maximum.at(table, (known[inside], column[inside]), figure[inside])
    return np.where(np.isinf(table), np.nan, table)


def _as_nondetects(results: pd.DataFrame, near: Flags) -> pd.DataFrame:
    """``results`` with those rows as nondetects at their figure, or at the limit that the sheet gives where higher."""
    value = results["read_value"].to_numpy(dtype=np.float64)
    limit = np.fmax(value, results["read_limit"].to_numpy(dtype=np.float64))
    figures = {
        "read_value": np.where(near, np.nan, value),
        "read_limit": np.where(near, limit, results["read_limit"].to_numpy(dtype=np.float64)),
        "read_low": np.where(near, 0.0, results["read_low"].to_numpy(dtype=np.float64)),
        "read_high": np.where(near, limit, results["read_high"].to_numpy(dtype=np.float64)),
    }
    kinds, texts = coded(results["kind"])
    limits, words = coded(results["limit_kind"])
    return results.assign(
        **figures,
        detected=results["detected"].to_numpy(dtype=bool) & ~near,
        kind=spread(np.where(near, len(texts), kinds), [*texts, "nondetect"]),
        limit_kind=spread(np.where(near, len(words), limits), [*words, "blank"]),
    )
