"""Identifiers of samples, stations and cores: kept as text, cleaned, and compared for slips of typing.

In: texts. Out: texts trimmed and in NFKC; groups of ids that differ only by case, spaces, hyphen or zero padding. Such
ids are never merged.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

__all__ = ["clean_id", "near_ids"]

_GAPS = re.compile(r"[\s\-‐‑‒–—_]+")


def clean_id(text: object) -> str:
    """An id as it is matched: NFKC, without outer spaces, control and direction characters."""
    text = str(text)
    if text.isascii() and text.isprintable():
        return text.strip()
    plain = unicodedata.normalize("NFKC", text)
    return "".join(one for one in plain if unicodedata.category(one) not in ("Cc", "Cf")).strip()


def near_ids(ids: Iterable[str]) -> list[list[str]]:
    """Groups of two or more distinct ids that may be meant as one, in the order met."""
    groups: dict[str, list[str]] = {}
    for one in dict.fromkeys(ids):
        groups.setdefault(_key(one), []).append(one)
    return [group for group in groups.values() if len(group) > 1]


def _key(text: str) -> str:
    unpadded = re.sub(r"\d+", lambda digits: digits[0].lstrip("0") or "0", text.casefold())
    return _GAPS.sub("", unpadded)
