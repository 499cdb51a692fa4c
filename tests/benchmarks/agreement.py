"""Whether two ways agree, before any time counts: in go two tables of findings, out comes nothing, or the run ends."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

__all__ = ["DisagreementError", "must_agree"]

_KEYS = ["sample", "substance"]


class DisagreementError(SystemExit):
    """Two ways of doing the job do not come to the same findings, so their times say nothing."""


def must_agree(ours: Path, theirs: Path, name: str, keys: list[str] | None = None) -> int:
    """Compare the findings (CSV) of two ways row by row: the same samples and substances, values within 1e-9, the same
    findings. Returns how many rows agree; raises DisagreementError.
    """
    by = keys or _KEYS
    one, other = (_table(path, by) for path in (ours, theirs))
    if len(one) != len(other) or not (one[by].to_numpy() == other[by].to_numpy()).all():
        raise DisagreementError(f"{name}: {len(other):,} rows are not about the {len(one):,} samples and substances")
    first, second = one["value"].to_numpy(dtype=float), other["value"].to_numpy(dtype=float)
    apart = ~np.isclose(first, second, rtol=1e-9, atol=0.0, equal_nan=True)
    if "finding" in one:
        apart |= (one["finding"] != other["finding"]).to_numpy()
    if apart.any():
        where = np.flatnonzero(apart)[:3]
        shown = pd.concat([one.iloc[where], other.iloc[where]], keys=["ours", name]).to_string()
        raise DisagreementError(f"{name}: {int(apart.sum()):,} of {len(one):,} rows differ, such as\n{shown}")
    return len(one)


def _table(path: Path, by: list[str]) -> pd.DataFrame:
    columns = [*by, "value", "finding"]
    table = pd.read_csv(path, usecols=lambda name: name in columns, dtype=dict.fromkeys(by, str))
    return table.sort_values(by, kind="stable", ignore_index=True)
