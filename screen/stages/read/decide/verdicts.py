"""What becomes of each record: one of BECAME and a reason, given once and never changed; arrays, one per record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.model import BECAME

__all__ = ["Verdicts"]

Bools = npt.NDArray[np.bool_]


class Verdicts:
    """``became`` (index into BECAME, -1 while open) and ``reason`` (index into ``reasons``) of each record."""

    def __init__(self, length: int) -> None:
        self.became = np.full(length, -1, dtype=np.int8)
        self.reason = np.zeros(length, dtype=np.int32)
        self.reasons: list[str] = [""]
        self._codes: dict[str, int] = {"": 0}

    def code(self, reason: str) -> int:
        """The code of a reason text."""
        if reason not in self._codes:
            self._codes[reason] = len(self.reasons)
            self.reasons.append(reason)
        return self._codes[reason]

    @property
    def open(self) -> Bools:
        """Which records are still undecided."""
        return self.became < 0

    def give(self, which: Bools | npt.NDArray[np.integer], became: str, reason: str) -> Bools:
        """Decide the open ones of ``which``; returns those that were decided now."""
        now = self.open & _mask(which, len(self.became))
        self.became[now] = BECAME.index(became)
        self.reason[now] = self.code(reason)
        return now

    def give_each(self, which: Bools, became: str, codes: npt.NDArray[np.integer], reasons: Sequence[str]) -> Bools:
        """Decide the open ones of ``which``, each for the reason that its code points to."""
        now = self.open & which
        own = np.array([self.code(reason) for reason in reasons], dtype=np.int32)
        self.became[now] = BECAME.index(became)
        self.reason[now] = own[codes[now]] if len(own) else 0
        return now

    def remark(self, which: Bools, reason: str) -> None:
        """Say something of records without deciding them; what was said before stays in front."""
        places = np.flatnonzero(which)
        for before in np.unique(self.reason[places]):
            text = f"{self.reasons[before]}; {reason}" if before else reason
            self.reason[places[self.reason[places] == before]] = self.code(text)

    def is_(self, became: str) -> Bools:
        """Which records became this."""
        which: Bools = self.became == BECAME.index(became)
        return which

    def at(self, rows: npt.NDArray[np.integer]) -> Verdicts:
        """The verdicts of the records at ``rows``."""
        few = Verdicts(0)
        few.became, few.reason = self.became[rows], self.reason[rows]
        few.reasons, few._codes = self.reasons, self._codes
        return few

    def as_categoricals(self) -> tuple[pd.Categorical[Any], pd.Categorical[Any]]:
        """``became`` and ``reason`` as columns of the ledger."""
        became = pd.Categorical.from_codes(self.became, pd.Index(BECAME))
        return became, pd.Categorical.from_codes(self.reason - 1, pd.Index(self.reasons[1:], dtype=object))


def _mask(which: Bools | npt.NDArray[np.integer], length: int) -> Bools:
    if which.dtype == bool:
        return which.astype(bool, copy=False)
    mask = np.zeros(length, dtype=bool)
    mask[which] = True
    return mask
