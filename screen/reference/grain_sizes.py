"""Grain-size classes and sieves: a substance of its own for each limit that a sheet prints.

In: a name as printed. Out: the canonical name, which keeps the printed limit in its own unit (``Grain size 75 um``,
``Coarse sand (0.425 mm)``, ``Passing 0.075 mm``), so that no two classes are mixed and a cumulative figure never
passes for a class. A sieve number stands only where no length is printed beside it. The words are data:
`guidelines/vocabulary/grain_words.csv`.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache

from screen.reference.folding import plain
from screen.reference.locate import read_table

__all__ = ["BARE", "read_grain_size"]

#: What a canonical name starts with where the sheet names no class and no side of the sieve.
BARE = "Grain size"
_NUMBER = r"(?:\d+(?:\.\d+)?|\.\d+|0,\d+)"
_SIEVE = r"(?:(?<![a-z])(?:number|no)\b\.? ?#?|#) ?(?P<sieve>\d{1,3})(?!\d|[.,]\d)"
_TO = r" ?(?:-|to(?![a-z])) ?"


def read_grain_size(name: str) -> str:
    """The canonical name of the class, sieve or cumulative figure that ``name`` states, or "" for any other name.

    Every word of ``name`` must be one of the vocabulary, and it must print exactly one limit: a length in mm or um, a
    phi value, a range of these, or else a sieve number beside a word of grain size. Lengths stay in the unit printed,
    without zeros at the end. A side (passing, retained) beside a class other than fines is refused: it may mean either.
    """
    text = plain(name)
    if not any(sign.isdigit() for sign in text):
        return ""
    found = list(_pattern().finditer(text))
    if "".join(part.group() for part in found) != text:
        return ""
    limits = {_limit(part) for part in found if part.lastgroup == "limit"}
    sieves = {int(part["sieve"]) for part in found if part.lastgroup == "number"}
    words = [_words()[part.group()] for part in found if part.lastgroup == "word"]
    classes, grades, sides = ([meaning for use, meaning in words if use == kind] for kind in ("class", "grade", "side"))
    if len(limits) > 1 or len(sieves) > 1 or max(len(classes), len(grades), len(sides)) > 1:
        return ""
    if any(limit.startswith("-") and not limit.endswith("phi") for limit in limits):
        return ""
    if not limits and not (sieves and words):
        return ""
    limit = limits.pop() if limits else f"No. {sieves.pop()}"
    if sides:
        return f"{sides[0]} {limit}" if not grades and classes in ([], ["fines"]) else ""
    if not classes:
        return f"{BARE} {limit}" if not grades else ""
    kind = " ".join([*grades, *classes])
    return f"{kind[0].upper()}{kind[1:]} ({limit})"


def _limit(found: re.Match[str]) -> str:
    """The limit as printed, in one spelling: ``0.075 mm``, ``<63 um``, ``0.0625-2 mm``, ``2-4 phi``."""
    unit = _words()[found["unit"]][1]
    low, high = _number(found["low"]), found["high"]
    first = _words()[found["sign"]][1] if found["sign"] else ""
    if not high:
        return f"{first}{low} {unit}"
    second = _words()[found["sign2"]][1] if found["sign2"] else ""
    inner = _words()[found["unit1"]][1] if found["unit1"] else unit
    between = " to " if first or second or inner != unit or "-" in (low[0], high[0]) else "-"
    return f"{first}{low}{f' {inner}' if inner != unit else ''}{between}{second}{_number(high)} {unit}"


def _number(text: str) -> str:
    return f"{Decimal(text.replace(',', '.')).normalize():f}"


@cache
def _pattern() -> re.Pattern[str]:
    unit, sign, others = (_any(*uses) for uses in (("unit",), ("sign",), ("class", "grade", "side", "filler")))
    signed = rf"(?:(?<![\w.)])-)?{_NUMBER}"
    limit = (
        rf"(?:(?P<sign>{sign}) ?|(?<![\w.,]))(?P<low>{signed})"
        rf"(?: ?(?P<unit1>{unit})?{_TO}(?:(?P<sign2>{sign}) ?)?(?P<high>-?{_NUMBER}))? ?(?P<unit>{unit})"
    )
    return re.compile(
        rf"(?P<limit>{limit}(?![a-z\d]))|(?P<number>{_SIEVE})"
        rf"|(?P<word>(?<![a-z\d])(?:{others})(?![a-z\d]))|(?P<joint>[ ,;:()-]+)"
    )


def _any(*uses: str) -> str:
    words = [word for word, (use, _) in _words().items() if use in uses]
    return "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True))


@cache
def _words() -> dict[str, tuple[str, str]]:
    frame = read_table("vocabulary/grain_words.csv")
    return {
        plain(text): (use, meaning)
        for text, use, meaning in zip(frame["text"], frame["use"], frame["meaning"], strict=True)
    }
