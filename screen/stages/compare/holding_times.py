"""Holding times: days from sampling to extraction and analysis against usual limits. In: results. Out: QUALITY rows.

The limits are data (`guidelines/coefficients/holding_times.csv`), for samples that were cooled and not frozen. Nothing
is rejected by them.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from screen.columns import Codes, coded, first_rows, texts_of
from screen.reference.holding_times import Analysis, analysis_of

__all__ = ["holding_times"]

_DATES = ("collected", "extracted", "analysed")


def holding_times(results: pd.DataFrame) -> pd.DataFrame:
    """One row per sample, kind of analysis, dates and limit: days as ``value``, the limit as ``criterion``.

    ``outcome`` is ``within`` or ``outside``; the place is that of the first such result. Results without a date of
    sampling, or without a date of extraction or analysis, are not judged.
    """
    dated = results["collected"].notna() & (results["extracted"].notna() | results["analysed"].notna())
    rows = results[dated.to_numpy(dtype=bool)]
    if rows.empty:
        return pd.DataFrame()
    codes, substances = coded(rows["substance"])
    kinds = analysis_of([str(one) for one in substances])
    by_name = {one.name: one for one in kinds if one is not None}
    names = list(by_name)
    kind_of = np.array([names.index(kind.name) if kind is not None else -1 for kind in kinds] or [-1], dtype=np.int64)
    kind = kind_of[codes]
    key: Codes = kind.copy()
    for name in ("sample", *_DATES):
        own, texts = coded(rows[name])
        key = np.where(key < 0, -1, key * (len(texts) + 1) + own + 1)
        key = np.where(key < 0, -1, pd.factorize(key)[0].astype(np.int64))
    first = first_rows(key)
    here = rows.iloc[first]
    told = [
        judged for row, at in zip(_plain(here), kind[first], strict=True) for judged in _judged(row, by_name[names[at]])
    ]
    return pd.DataFrame(told)


def _plain(rows: pd.DataFrame) -> list[dict[str, Any]]:
    texts = {name: texts_of(rows[name]) for name in ("sample", "file", "sheet", *_DATES)}
    frame = pd.DataFrame(texts | {"row": rows["row"].to_numpy(dtype=np.float64)})
    return [dict(zip(frame.columns, values, strict=True)) for values in frame.itertuples(index=False, name=None)]


def _judged(row: dict[str, Any], analysis: Analysis) -> list[dict[str, Any]]:
    """The legs of one sample's analysis that have both dates and a limit."""
    legs = [("collected", "extracted", analysis.to_extraction, "from sampling to extraction")]
    if row["extracted"]:
        legs.append(("extracted", "analysed", analysis.after_extraction, "from extraction to analysis"))
    legs.append(("collected", "analysed", analysis.to_analysis, "from sampling to analysis"))
    made = []
    for start, end, limit, words in legs:
        if not row[start] or not row[end] or np.isnan(limit):
            continue
        days = float((date.fromisoformat(row[end][:10]) - date.fromisoformat(row[start][:10])).days)
        note = f"{analysis.name}: {start} {row[start][:10]}, {end} {row[end][:10]}"
        if days < 0:
            note += "; the second date is before the first"
        elif days > limit and analysis.frozen:
            note += f"; frozen samples may be kept {analysis.frozen} ({analysis.frozen_evidence.replace('_', ' ')})"
        if analysis.evidence != "seen":
            note += f"; evidence of the limit: {analysis.evidence.replace('_', ' ')}"
        made.append(
            {
                "check": "holding-time",
                "sample": row["sample"],
                "value": days,
                "criterion": f"at most {limit:g} days {words}",
                "outcome": "within" if 0 <= days <= limit else "outside",
                "note": note,
                "file": row["file"],
                "sheet": row["sheet"],
                "row": row["row"],
            }
        )
    return made
