"""Words of laboratory sheets: the tables in ``guidelines/vocabulary/`` as look-ups by folded text."""

from __future__ import annotations

import re
import unicodedata
from functools import cache

from screen.reference.locate import read_table

__all__ = ["fold", "look_up", "words"]

_DROPPED = re.compile(r"[\s_.\-#:()*]+")


def fold(text: str) -> str:
    """The text as words are matched: NFKC, one case, no blanks, no ``_ . - # : ( ) *`` and no line breaks."""
    return _DROPPED.sub("", unicodedata.normalize("NFKC", text).casefold())


@cache
def words(table: str, answer: str) -> dict[str, str]:
    """Folded text -> the column ``answer`` of the vocabulary file ``table``; the first of equal texts stands."""
    frame = read_table(f"vocabulary/{table}.csv")
    found: dict[str, str] = {}
    for text, said in zip(frame["text"], frame[answer], strict=True):
        found.setdefault(fold(text) or text, said)
    return found


def look_up(table: str, answer: str, text: str) -> str:
    """What the vocabulary says of ``text``, or an empty text."""
    return words(table, answer).get(fold(text) or text, "")
