"""Holding times: days from sampling to extraction and analysis against usual limits. In: results. Out: QUALITY rows.

The limits are data (`guidelines/coefficients/holding_times.csv`), for samples that were cooled and not frozen. Nothing
is rejected by them.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd

from screen.columns import Codes, Floats, Texts, coded, first_rows, spread
from screen.reference.holding_times import Analysis, analysis_of
from screen.stages.compare.quality.quality_control import place

__all__ = ["holding_times"]

_DATES = ("collected", "extracted", "analysed")
#: From which date to which, the field of Analysis with the most days, and the leg in words.
_LEGS = (
    ("collected", "extracted", "to_extraction", "from sampling to extraction"),
    ("extracted", "analysed", "after_extraction", "from extraction to analysis"),
    ("collected", "analysed", "to_analysis", "from sampling to analysis"),
)


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
    here, kind = rows.iloc[first], kind[first]
    kinds_met = [by_name[name] for name in names]
    parts = [_leg(here, kind, kinds_met, *leg) for leg in _LEGS]
    return pd.concat(parts, ignore_index=True) if any(map(len, parts)) else pd.DataFrame()


def _leg(
    rows: pd.DataFrame, kind: Codes, kinds: Sequence[Analysis], start: str, end: str, field: str, words: str
) -> pd.DataFrame:
    """One leg of each row's way that has both dates and a limit; ``kind`` numbers the analysis of each row."""
    limits = np.array([float(getattr(one, field)) for one in kinds])
    (starts, first), (ends, last) = coded(rows[start]), coded(rows[end])
    days = _days(last)[ends] - _days(first)[starts]
    known = np.flatnonzero((kind >= 0) & ~np.isnan(days) & ~np.isnan(limits[kind]))
    days, kind, starts, ends = days[known], kind[known], starts[known], ends[known]
    late = days > limits[kind]
    key, distinct = pd.factorize((kind * (len(first) + 1) + starts) * (len(last) + 1) + ends)
    told = first_rows(key.astype(np.int64))
    notes = [
        _note(
            kinds[kind[at]],
            f"{start} {str(first[starts[at]])[:10]}",
            f"{end} {str(last[ends[at]])[:10]}",
            days[at],
            late[at],
        )
        for at in told
    ]
    return place(rows.iloc[known]).assign(
        check="holding-time",
        substance=None,
        value=days,
        criterion=spread(kind, [f"at most {limit:g} days {words}" for limit in limits]).astype(object),
        outcome=np.where(late | (days < 0), "outside", "within"),
        note=np.array(notes, dtype=object)[key] if len(distinct) else None,
    )


def _days(texts: Texts) -> Floats:
    """Dates as days, NaN for the text behind code -1."""
    return np.array([*(float(date.fromisoformat(str(one)[:10]).toordinal()) for one in texts), np.nan])


def _note(analysis: Analysis, start: str, end: str, days: float, late: bool) -> str:
    note = f"{analysis.name}: {start}, {end}"
    if days < 0:
        note += "; the second date is before the first"
    elif late and analysis.frozen:
        note += f"; frozen samples may be kept {analysis.frozen} ({analysis.frozen_evidence.replace('_', ' ')})"
    if analysis.evidence != "seen":
        note += f"; evidence of the limit: {analysis.evidence.replace('_', ' ')}"
    return note
