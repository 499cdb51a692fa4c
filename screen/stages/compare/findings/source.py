"""Results, totals and refused rows of a batch prepared once for all sets: in go frames, out come arrays and codes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts, by_code, coded, recoded, texts_of
from screen.reference.rules import SumRules
from screen.stages.sums.peaks import Names, look_up

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["WHY", "Measured", "Source", "Words", "source_of"]

#: Plain words for a ``why_not`` of results.
WHY = {
    "no-basis": "no basis stated (wet or dry weight)",
    "no-moisture": "reported on wet weight, no solids or moisture known",
    "moisture-conflict": "reported on wet weight, solids and moisture contradict each other",
    "no-carbon": "reported per organic carbon, no organic carbon known",
    "rejected-by-lab": "rejected by the laboratory",
    "tentative": "identity only tentative",
    "fraction": "measured in a fraction, not in the whole sediment",
    "in-a-group": "stands in a coeluting group",
    "mixed-peak": "peak shared with a substance of another group",
}


class Words:
    """Texts met, each once."""

    def __init__(self) -> None:
        self.texts: list[str] = []
        self._places: dict[str, int] = {}

    def code(self, text: str) -> int:
        """The number of ``text``, a new one where it was not met."""
        if text not in self._places:
            self._places[text] = len(self.texts)
            self.texts.append(text)
        return self._places[text]

    def codes(self, texts: Texts) -> Codes:
        """The numbers of ``texts``, -1 for none."""
        return np.array([self.code(str(text)) if text else -1 for text in texts], dtype=np.int64)

    def added(self, codes: Codes, on: Flags, text: str) -> Codes:
        """``codes`` with ``text`` after their own, where ``on``."""
        out = codes.copy()
        for code in np.unique(codes[on]):
            own = f"{self.texts[code]}; {text}" if code >= 0 and self.texts[code] else text
            out[on & (codes == code)] = self.code(own)
        return out


@dataclass(frozen=True, slots=True)
class Measured:
    """Columns of results or of totals as arrays, and the rows of each substance or total.

    ``name`` numbers the substance or total, ``sample`` the sample (-1: not known), ``qualifier`` the qualifier.
    """

    name: Codes
    sample: Codes
    value: Floats
    low: Floats
    high: Floats
    limit: Floats
    detected: Flags
    qualifier: Codes
    order: Codes
    bounds: Codes

    @classmethod
    def of(cls, frame: pd.DataFrame, name: Codes, names: int, sample: Codes, qualifier: Codes) -> Measured:
        """Take ``frame``, of which the other arguments say more, row by row; ``names``: how many there may be."""
        value, low, high, limit = (frame[one].to_numpy(dtype=np.float64) for one in ("value", "low", "high", "limit"))
        order = by_code(name)
        bounds = np.searchsorted(name[order], np.arange(names + 1))
        detected = frame["detected"].to_numpy(dtype=bool)
        return cls(name, sample, value, low, high, limit, detected, qualifier, order, bounds)

    def rows(self, name: int) -> Codes:
        """The rows of one substance or total, in the order of the table, without those of no known sample."""
        rows = self.order[self.bounds[name] : self.bounds[name + 1]]
        return rows[self.sample[rows] >= 0]


@dataclass(frozen=True, slots=True)
class Source:
    """Results, totals and refused rows prepared once for all sets. ``samples`` are the texts behind sample codes.

    Of results: ``used``, ``more_than`` (above the range) and ``why`` (code into ``words``). Of totals: ``complete``,
    ``note`` (code into ``words``) and ``rule`` (code into ``rules_met``); ``table`` is their frame.
    """

    samples: Texts
    names: Names
    rules: SumRules
    results: Measured
    used: Flags
    more_than: Flags
    why: Codes
    totals: Measured
    total_ids: dict[str, int]
    complete: Flags
    note: Codes
    rule: Codes
    rules_met: Texts
    table: pd.DataFrame
    refused: tuple[Codes, Texts, Texts]
    words: Words
    qualifiers: Words


def source_of(
    results: pd.DataFrame, totals: pd.DataFrame, refused: pd.DataFrame | None, samples: Texts, rules: SumRules
) -> Source:
    """Prepare ``results``, ``totals`` and ``refused`` (sample, substance, reason; may be None) for ``candidates``."""
    names = look_up(coded(results["substance"])[1])
    words, qualifiers = Words(), Words()
    why_codes, why_texts = coded(results["why_not"])
    why = words.codes(np.array([WHY.get(text, text) for text in why_texts], dtype=object))
    ids = list(dict.fromkeys(coded(totals["total"])[1]))
    rule, rules_met = coded(totals["rule"])
    if refused is None or refused.empty:
        away = (np.array([], dtype=np.int64), np.array([], dtype=object), np.array([], dtype=object))
    else:
        away = (recoded(refused["sample"], samples), texts_of(refused["substance"]), texts_of(refused["reason"]))

    def measured(frame: pd.DataFrame, name: str, known: Sequence[str] | Texts) -> Measured:
        sample, qualifier = recoded(frame["sample"], samples), _recode(qualifiers, frame["qualifier"])
        return Measured.of(frame, recoded(frame[name], known), len(known), sample, qualifier)

    return Source(
        samples,
        names,
        rules,
        measured(results, "substance", names.names),
        results["used"].to_numpy(dtype=bool),
        (results["kind"] == "more-than").to_numpy(dtype=bool),
        np.append(why, -1)[why_codes],
        measured(totals, "total", ids),
        {one: i for i, one in enumerate(ids)},
        totals["complete"].to_numpy(dtype=bool),
        _recode(words, totals["note"]),
        rule,
        rules_met,
        totals,
        away,
        words,
        qualifiers,
    )


def _recode(words: Words, column: pd.Series) -> Codes:
    codes, texts = coded(column)
    return np.append(words.codes(texts), -1)[codes]
