"""Qualifiers: the flag and detection texts of the records in, what they do to a result out.

A sheet's legend goes before the vocabulary file; a flag that neither explains is kept as text and does nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = ["EFFECTS", "Legend", "Marks", "read_legend", "resolve_marks", "split_flags"]

#: The effects that a flag can have, each a bool column of ``Marks.table``.
EFFECTS = (
    "nondetect",
    "estimated",
    "rejected",
    "tentative",
    "over_range",  # E: only organics (``combine`` looks at the group), unless a legend says so
    "over_range_any",
    "interference",
    "diluted",
    "blank",
    "emp_max",  # EMPC: any group
    "emp_max_dioxin",  # K: dioxins and furans only
    "trace",
    "detected",
    "more_than",
    "not_analysed",
)

#: Legend: flag in capitals -> effects (a subset of EFFECTS, maybe empty), plus "()" for numbers in brackets.
Legend = Mapping[str, frozenset[str]]


@dataclass(frozen=True, slots=True)
class Marks:
    """The marks of the records, coded: ``codes`` (int32, one per record) points into ``table``.

    ``table`` has one row per distinct combination of texts: ``text`` (as shown in results.csv ``qualifier``: the
    laboratory's flags, then the validator's, joined by one blank; detection texts only if they are flags), the EFFECTS
    as bool, ``coelutes_with`` (congener number as text, ``C`` without a number gives ``?``, else ""), ``limit_named``
    ("", ``reporting``, ``detection``) and ``unexplained`` (flags that nothing explains, joined by one blank).
    """

    codes: npt.NDArray[np.int32]
    table: pd.DataFrame


def split_flags(text: str, legend: Legend | None = None) -> list[str]:
    """The single flags of a qualifier text: ``JB`` -> J, B; ``J,D`` -> J, D; ``UJ`` and ``NJ`` stay whole."""
    raise NotImplementedError


def read_legend(notes: Iterable[str]) -> Legend:
    """Flags explained on the sheet, from lines such as ``U = not detected``, ``J: estimated``, ``E - interference``."""
    raise NotImplementedError


def resolve_marks(
    value_flags: pd.Categorical,
    qualifier: pd.Categorical | None = None,
    validator: pd.Categorical | None = None,
    detection: pd.Categorical | None = None,
    legend: Legend | None = None,
) -> Marks:
    """What the flags of each record do, resolved once per distinct combination.

    ``value_flags`` are the ``flags`` of ``parse_values``. All have one entry per record; missing means no text. The
    validator goes before the laboratory. ``Y``/``N``, ``1``/``0`` mean detected or not in ``detection`` only.
    """
    raise NotImplementedError
