"""Words around a substance's name: units, methods and bands, and those that must not be dropped.

In: a name, header or title as printed. Out: the name without them, the unit, or the group. The words are data:
`guidelines/vocabulary/name_words.csv` and `bands.csv`.
"""

from __future__ import annotations

import re
from functools import cache

from screen.reference.folding import plain
from screen.reference.locate import read_table
from screen.reference.units import read_basis, read_unit, states_unit

__all__ = ["LONGEST_NAME", "guard_in", "read_band", "said_in_name", "split_unit", "without_tail"]

#: No name or unit is longer; a cell of running text must not take long to be told from one.
LONGEST_NAME = 300
_LONGEST_UNIT = 80
_MASSES_ALONE = frozenset(("g", "kg", "mg", "ug", "ng"))
#: What a laboratory took nondetects and estimated maxima for in a total: ``(ND=1/2 DL; EMPC=0)``.
_RULE = re.compile(r"[ ,;:(\[]+(?:(?:nd|u|empc)s? ?= ?[^=;,()]{1,12}[;, ]*){1,2}[)\]]?$")
_LENGTHS = frozenset(("mm", "um", "µm", "μm"))


def read_band(text: str) -> str:
    """The group that the words of a band row, sheet title or method name (``PCB Congeners``, ``8270E SIM``), or "".

    Words of two different groups name none.
    """
    words = plain(text)
    found = {band for word, band in _bands() if re.search(rf"(?<![a-z\d]){re.escape(word)}[a-e]?(?![a-z\d])", words)}
    if "pcb" in found and found <= {"pcb", "pcb-aroclor", "pcb-homolog"}:
        found = found - {"pcb"} or found
    return found.pop() if len(found) == 1 else ""


def split_unit(name: str) -> tuple[str, str]:
    """A wide header's name and the unit at its end: ``Copper, mg/kg dry`` gives ``("Copper", "mg/kg dry")``.

    The unit may stand in brackets, after a comma, space or underscore; a percent sign in front counts too and stays in
    the name. ``(name, "")`` where no unit stands there. A number before the unit (``75 um``) makes it a size, no unit.
    """
    text = name.strip()
    for found in re.compile(r"[\s_,;([\-]+").finditer(text, max(0, len(text) - _LONGEST_UNIT)):
        head, tail = text[: found.start()].rstrip(), text[found.end() :].strip()
        opened = found.group().strip(" _,;-")
        closed = tail[:-1].rstrip() if opened and tail[-1:] in ("]", ")") else tail
        if not head or _unbalanced(head) or _unbalanced(closed):
            continue
        if closed.casefold() in _LENGTHS and head[-1].isdigit() and not opened:
            continue
        if closed.casefold() in _MASSES_ALONE:
            continue
        if states_unit(closed):
            return head, closed
    if text.startswith("%") or plain(text).startswith(("percent ", "pct ")):
        return text, "%"
    return text, ""


def said_in_name(name: str) -> tuple[str, str]:
    """The unit and the basis that stand at the end of a name, as texts for ``read_unit`` and ``read_basis``.

    ``Pyrene, solids, recoverable, dry weight, micrograms per kilogram`` gives ``("micrograms per kilogram", "dry
    weight")`` and ``Copper, mg/kg dry`` gives ``("mg/kg dry", "dry")``; "" for what is not said. Two different bases
    are both given, joined by a semicolon, which ``read_basis`` refuses.
    """
    unit, text = "", name.strip()[-LONGEST_NAME:]
    bases: dict[str, str] = {}
    while text:
        head, said = split_unit(text)
        if said:
            unit = unit or said
            bases.setdefault(read_unit(said).basis, read_unit(said).basis)
        if head == text:
            words = plain(text)
            head = without_tail(words)
            word = words[len(head) :].strip(" ,;-:()") if head else ""
            bases.setdefault(read_basis(word) or "", word)
        text = head
    return unit, "; ".join(words for basis, words in bases.items() if basis)


def _unbalanced(text: str) -> bool:
    return text.count("(") != text.count(")") or text.count("[") != text.count("]")


def without_tail(text: str) -> str:
    """``text`` (plain) without its last word of no meaning or method number, or "" where it ends in none."""
    tails = _words("tail")
    ends_in_one = text.removesuffix(")").endswith(tails)
    for word in tails if ends_in_one else ():
        if not text.endswith((word, word + ")")):
            continue
        head = text[: -len(word) - 1] if text.endswith(word + ")") else text[: -len(word)]
        bracketed = text.endswith(")") and not word.endswith(")")
        joint = head.rstrip(" ")
        if bracketed and joint.endswith("("):
            return joint[:-1].rstrip(" ,;-")
        if not bracketed and joint and (joint != head or joint[-1] in ",;-:"):
            return joint.rstrip(" ,;-:")
    if rule := _RULE.search(text):  # ``Total TEQ (ND=0)``
        return text[: rule.start()]
    method = re.fullmatch(_method_pattern(), text)
    return method["head"].rstrip(" ,;-:(") if method else ""


@cache
def _method_pattern() -> str:
    numbers = "|".join(re.escape(word) for word in _words("method"))
    issuer = r"(?:by |method |epa |usepa |sw-?846 |astm |sm ?|iso )*"
    return rf"(?P<head>.*?\S)[ ,;:(-]+{issuer}(?:{numbers})[ -]?[a-e]?(?:[ -]?sim)?(?:-\d\d)?m?\)?"


@cache
def _words(use: str) -> tuple[str, ...]:
    frame = read_table("vocabulary/name_words.csv")
    words = {plain(text) for text in frame.loc[frame["use"] == use, "text"]}
    return tuple(sorted(words, key=lambda word: (-len(word), word)))


def guard_in(name: str) -> str:
    """The word in ``name`` that changes what was measured (``dissolved``, ``as sn``, ``teq``), or ""."""
    text = plain(name)
    return next((word for word in _words("guard") if _stands_in(word, text)), "")


@cache
def _bands() -> tuple[tuple[str, str], ...]:
    frame = read_table("vocabulary/bands.csv")
    return tuple((plain(text), band) for text, band in zip(frame["text"], frame["band"], strict=True))


def _stands_in(word: str, text: str) -> bool:
    return re.search(rf"(?<![a-z]){re.escape(word)}", text) is not None
