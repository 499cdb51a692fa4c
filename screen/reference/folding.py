"""One spelling for a substance's name, and registry numbers.

In: names and CAS numbers as sheets print them. Out: `plain` (characters made equal, spaces kept), `fold` (the key under
which names are compared) and CAS numbers whose check digit is known.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from functools import lru_cache

__all__ = ["cas_check_digit_holds", "fold", "plain", "read_cas"]

_UNSEEN = ("Cf", "Cc")
_GREEK = str.maketrans(
    {"α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ε": "epsilon", "ω": "omega", "λ": "lambda", "μ": "u"}
)
_CHARACTERS = str.maketrans(
    {
        **dict.fromkeys("’‘′`´ʹʼ＇‛", "'"),
        **dict.fromkeys("‐‑‒–—―−﹣－", "-"),
        **dict.fromkeys("Σ∑", "∑"),
        "[": "(",
        "]": ")",
        "{": "(",
        "}": ")",
        "_": " ",
        "⁄": "/",
    }
)
_SPELLED_GREEK = re.compile(r"\.(alpha|beta|gamma|delta|lambda)\.")
_DOTTED_LOCANTS = re.compile(r"(?<![\d.,])\d'?(?:\.\d'?)+(?![\d.])")
_SPACE_BESIDE_SIGN = re.compile(r"(?<![^\W\d_]) | (?![^\W\d_])")
_HYPHEN_BESIDE_SIGN = re.compile(r"(?<=[\d'),%])-(?=[^\d-])|(?<=[^\d-])-(?=[\d'(])")
_CAS = re.compile(r"0*(\d{2,7})-(\d{2})-(\d)")


@lru_cache(maxsize=4096)
def plain(name: str) -> str:
    """``name`` with characters made equal: NFKC, lower case, brackets round, apostrophes and dashes of one kind.

    Greek letters are written out, single spaces are kept. Σ and ∑ become one sign and stay.
    """
    return _until_unchanged(_plain_once, str(name))


def _plain_once(name: str) -> str:
    text = unicodedata.normalize("NFKC", name.translate(_CHARACTERS))
    if not text.isprintable():
        seen = (" " if char.isspace() else char for char in text)
        text = "".join(char for char in seen if unicodedata.category(char) not in _UNSEEN)
    text = text.replace("ß", "beta").casefold().translate(_CHARACTERS).replace("σ", "∑").translate(_GREEK)
    return " ".join(_SPELLED_GREEK.sub(r"\1", text).split())


def _until_unchanged(step: Callable[[str], str], text: str) -> str:
    before = None
    while before != text:
        before, text = text, step(text)
    return text


@lru_cache(maxsize=4096)
def fold(name: str) -> str:
    """The key under which two spellings of one name are equal.

    After :func:`plain`, spaces and hyphens beside digits, commas, brackets and apostrophes fall away, and dots between
    locants become commas. Kept are ∑, ``+``, ``/``, ``:`` and the hyphen between words, without which ∑DDT would be
    DDT, TBT+ be TBT, and SEM-AVS be SEM/AVS.
    """
    return _until_unchanged(lambda text: _compact(plain(text)), str(name))


def _compact(text: str) -> str:
    text = _DOTTED_LOCANTS.sub(_dots_to_commas, text)
    return _HYPHEN_BESIDE_SIGN.sub("", _SPACE_BESIDE_SIGN.sub("", text))


def _dots_to_commas(found: re.Match[str]) -> str:
    locants = found.group()
    following = found.string[found.end() : found.end() + 1]
    return locants.replace(".", ",") if locants.count(".") > 1 or following == "-" or "'" in locants else locants


def cas_check_digit_holds(cas: str) -> bool:
    """Whether ``cas`` (``7439-92-1``) has the form of a registry number and its last digit is the check digit.

    The check digit is the sum of the other digits, each times its place counted from the right, modulo 10
    (Chemical Abstracts Service, check digit verification of registry numbers).
    """
    found = _CAS.fullmatch(cas)
    if not found:
        return False
    digits = (found[1] + found[2])[::-1]
    return sum(place * int(digit) for place, digit in enumerate(digits, 1)) % 10 == int(found[3])


def read_cas(text: str) -> tuple[str, bool]:
    """The registry number in ``text`` without leading zeros, and whether its check digit holds.

    ``("", False)`` where there is none.
    A cell that says anything else (a laboratory's own code, several numbers, a number and letters) holds none.
    Seven digits without hyphens are taken only where the check digit holds.
    """
    bare = unicodedata.normalize("NFKC", str(text)).translate(_CHARACTERS).strip(" ()'\u00a0").replace(" ", "")
    bare = re.sub(r"^cas(?:rn|no\.?)?[:#]?", "", bare, flags=re.IGNORECASE)
    if bare.isascii() and bare.isdigit() and 5 <= len(bare) <= 10:
        joined = f"{bare[:-3]}-{bare[-3:-1]}-{bare[-1]}"
        return (joined, True) if cas_check_digit_holds(joined) else ("", False)
    found = _CAS.fullmatch(bare)
    if not found:
        return "", False
    cas = f"{found[1].lstrip('0') or '0'}-{found[2]}-{found[3]}"
    return cas, cas_check_digit_holds(cas)
