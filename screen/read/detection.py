"""From what a cell says, its flags and its limits to one reading: detected or not, the number, the bounds, or why not."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.read.qualifiers import Marks

__all__ = ["REASONS", "combine"]

#: Stable code -> (what is the matter, how to mend it), for refusals and for notices.
REASONS: dict[str, tuple[str, str]] = {}


def combine(
    values: pd.DataFrame,
    value_codes: npt.NDArray[np.int32],
    marks: Marks,
    mdl: npt.NDArray[np.float64],
    rl: npt.NDArray[np.float64],
    group: pd.Categorical,
    limits: str = "reporting",
    zeros: str = "refuse",
) -> pd.DataFrame:
    """One reading per record, vectorised.

    ``values`` is the frame of ``parse_values`` and ``value_codes`` points into it, one per record (so are ``mdl``,
    ``rl``, in the unit of the value, NaN where the row has none, and ``group``, missing where the substance is not
    known). ``limits`` and ``zeros`` are the settings of those names.

    Returned, default index, one row per record:

    - ``outcome`` categorical: ``result``, ``refused``, ``not-analysed``.
    - ``code`` categorical: why refused or not analysed (missing for a result), a key of REASONS.
    - ``notice`` categorical: something to say about a result that is used (missing for nothing), a key of REASONS.
    - ``kind`` categorical (model.KINDS), ``detected`` bool, ``estimated`` bool (J and the like).
    - ``read_value``, ``read_limit``, ``read_low``, ``read_high`` float64 in the reported unit, by the rules for value,
      limit, low, high of results.csv.
    - ``limit_kind`` categorical: ``stated`` (the number in the cell), ``reporting``, ``detection``; missing without limit.
    - ``why_not`` categorical: ``rejected-by-lab``, ``tentative``; missing otherwise.
    - ``diluted``, ``over_range`` bool, for the choice among several results.
    """
    raise NotImplementedError
