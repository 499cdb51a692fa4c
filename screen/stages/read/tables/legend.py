"""Legends: the notes of a sheet in, the flags that they explain out."""

from __future__ import annotations

import re
from collections.abc import Iterable

from screen.stages.read.words.qualifiers import Legend

__all__ = ["read_legend"]

_ENTRY = re.compile(
    r"""^\W{0,2}(?i:(?:qualifier|flag|code)s?\s*[:=]?\s*)?["'(\[]?
    (?P<flag>[A-Z]{1,4}[+-]?|\*{1,3}|[#†‡§]|\(\s*\)|(?i:(?:values?|numbers?|results?)\s+in\s+(?:brackets|parentheses)))["')\]]?
    \s*(?:=|:|\u2013|\u2014|\s-\s|->|\bmeans\b|\bdenotes\b|\bindicates\b|\bare\b)\s*(?P<meaning>.{3,})$""",
    re.VERBOSE,
)
#: Where one line holds several entries: ``U = not detected, J = estimated``.
_NEXT = re.compile(
    r"[,;.]\s*(?=[\"'(\[]?(?:[A-Z]{1,4}[+-]?|\*{1,3}|[#†‡§])[\"')\]]?\s*(?:=|:|\u2013|\u2014|\s-\s))|[\n;]"
)
_LIMIT = r"(?:detection|mdl|\bdl\b|lod|reporting|quantit|quantif|\brl\b|pql|loq|\bql\b)"
_BELOW = r"(?:\b(?:below|under|less\s+than|lower\s+than|smaller\s+than)\s|[<≤])"
_ABOVE = r"(?:\b(?:above|over|greater\s+than|more\s+than|higher\s+than|exceed\w*|equal\s+to)\s|[>≥])"
#: What a meaning says, in this order; the first that is found decides, with a remark that it is estimated on top.
_MEANINGS: tuple[tuple[str, str], ...] = (
    (r"not\s+detected|non-?\s?detect|undetected|but\s+not\s+(?:found|present)|not\s+present", "nondetect"),
    (r"reject|unusable", "rejected"),
    (r"tentativ|presumptive", "tentative"),
    (r"maximum\s+possible|empc", "emp_max"),
    (
        r"(?:exceed|above|over|outside|beyond)\w*\s.*(?:calibration|linear|instrument|working)|over\s?range",
        "over_range_any",
    ),
    (r"interferen", "estimated"),
    (rf"estimat|approximat|between\s.*{_LIMIT}|{_ABOVE}.*{_LIMIT}.*{_BELOW}|{_BELOW}.*{_LIMIT}.*{_ABOVE}", "estimated"),
    (rf"(?:\bdetect(?:ed|ion)?\b|\bpresent\b|\bpositive\w*)\s.*{_BELOW}.*{_LIMIT}", "estimated"),
    (rf"{_BELOW}.*{_LIMIT}", "nondetect"),
    (r"not\s+(?:analy[sz]ed|reported|tested|measured|sampled)|not\s+applicable", "not_analysed"),
    (r"\btrace\b", "trace"),
    (r"dilut", "diluted"),
    (r"blank", "blank"),
)


def read_legend(notes: Iterable[str]) -> Legend:
    """Flags explained on the sheet, from lines such as ``U = not detected``, ``J: estimated``, ``E - interference``.

    A flag whose meaning does nothing to a result maps to an empty set: explained, no effect. Numbers in brackets are
    the flag ``()``. A C that stands for coelution, as it does without a legend, is left out.
    """
    found: dict[str, frozenset[str]] = {}
    for note in notes:
        for line in _NEXT.split(note):
            entry = _ENTRY.match(line.strip())
            if entry and not (entry["flag"] == "C" and re.search(r"\bco-?elut", entry["meaning"], re.IGNORECASE)):
                flag = entry["flag"]
                key = "()" if not re.fullmatch(r"[A-Z]{1,4}[+-]?|\W{1,3}", flag) or "(" in flag else flag
                found.setdefault(key, _effects(entry["meaning"].casefold()))
    return found


def _effects(meaning: str) -> frozenset[str]:
    for pattern, effect in _MEANINGS:
        if re.search(pattern, meaning):
            extra = {"estimated"} if re.search(r"estimat|approximat", meaning) else set()
            return frozenset({effect, *extra})
    return frozenset()
