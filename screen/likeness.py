"""Which of the known words a word is a likely slip for. For messages only (``Did you mean``): nothing is read so."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

__all__ = ["nearest"]

#: How alike two words must be, as the share of letters that match in order (the ratio of ``difflib``).
ALIKE = 0.5


def nearest(word: str, known: Iterable[str], most: int = 1, alike: float = ALIKE) -> list[str]:
    """The known words that ``word`` looks like, the likest first, at most ``most``; small and capital letters are one.

    ``alike`` above the usual is for words that differ by a stroke from others that are right, such as substances.
    """
    folded: dict[str, str] = {}
    for one in known:
        folded.setdefault(one.casefold(), one)
    return [folded[one] for one in get_close_matches(word.casefold(), list(folded), n=most, cutoff=alike)]
