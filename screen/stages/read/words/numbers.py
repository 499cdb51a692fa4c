"""Numbers as laboratories write them: texts in, floats or a refusal code out, by a strict pattern of our own."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Literal, NamedTuple

__all__ = ["NUMBER_PATTERN", "Decimal", "Number", "decimal_evidence", "decimal_proofs", "parse_number", "plain_signs"]

Decimal = Literal["point", "comma", "mixed"]

#: What may be a number inside a longer text, once blanks and minus signs are plain. What points, commas and blanks in
#: it mean is for ``parse_number`` to decide.
NUMBER_PATTERN = (
    r"[-+]?(?:[0-9]{1,3}(?:[ ][0-9]{3})+(?:[.,][0-9]*)?(?![0-9])|[0-9.,]*[0-9][.,]?)"
    r"(?:[eE][-+]?[0-9]+(?![0-9A-Za-z])|[ ]?[x×*][ ]?10(?:\^[-+]?[0-9]+|[⁰¹²³⁴⁵⁶⁷⁸⁹⁻]+))?"
)
_PARTS = re.compile(
    r"(?P<sign>[-+]?)(?P<body>[0-9.,]+|[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]*)?)"
    r"(?:[eE](?P<e>[-+]?[0-9]{1,4})| ?[x×*] ?10(?:\^(?P<caret>[-+]?[0-9]{1,4})|(?P<raised>[-+]?[⁰¹²³⁴⁵⁶⁷⁸⁹⁻]{1,5})))?"
)
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_SIGNS = str.maketrans(
    {
        **dict.fromkeys("\u00a0\u2009\u202f\u2007\u2002\u2003\t", " "),
        **dict.fromkeys("\u2212\u2013\u2012\ufe63\uff0d", "-"),
    }
)
_GROUPED_BY_COMMA = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+")
_GROUPED_BY_POINT = re.compile(r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+")


def _proof(mark: str, group: str) -> re.Pattern[str]:
    """Numbers in which ``mark`` can only be the decimal mark: by its place, by a group mark, by a power of ten."""
    alternatives = (
        rf"0?{mark}[0-9]+",
        rf"[0-9]+{mark}(?:[0-9]{{1,2}}|[0-9]{{4,}})",
        rf"(?:0[0-9]*|[0-9]{{4,}}){mark}[0-9]{{3}}",
        rf"[0-9]+{mark}[0-9]+[eE][-+]?[0-9]+",
        rf"[0-9]{{1,3}}(?:{group}[0-9]{{3}})+{mark}[0-9]+",
        rf"[1-9][0-9]{{0,2}}(?:{group}[0-9]{{3}}){{2,}}",
    )
    return re.compile(rf"(?<![0-9.,/:-])(?:{'|'.join(alternatives)})(?![0-9.,/:]|-[0-9])")


_TWO_POINTS = re.compile(r"\.[0-9]{3}\.")
_PROOF_OF_POINT = _proof(r"\.", ",")
_PROOF_OF_COMMA = _proof(",", r"\.")


class Number(NamedTuple):
    """``value`` (NaN if refused), ``code`` of the refusal or "", ``notice`` code or ""."""

    value: float
    code: str = ""
    notice: str = ""


def plain_signs(text: str) -> str:
    """The text with all sorts of blanks as one plain blank, and all sorts of minus signs as a hyphen."""
    return " ".join(text.translate(_SIGNS).split(" ")).strip()


def decimal_evidence(texts: Iterable[str]) -> Decimal | None:
    """Which decimal mark the texts prove; ``mixed`` for both, None for neither.

    Proofs are texts that can only be one thing: ``12.3``, ``0.05``, ``1,234.5`` and ``1,234,567`` for the point,
    their mirror images for the comma; ``1,234`` and ``1.234`` prove nothing. One or a few strays against ten times as
    many of the other kind are typing errors, not a proof.
    """
    text = "\n".join(texts)
    if "," not in text and not _TWO_POINTS.search(text):  # nothing here can prove a comma
        return "point" if _PROOF_OF_POINT.search(text) else None
    points = _PROOF_OF_POINT.findall(text)
    commas = _PROOF_OF_COMMA.findall(text)
    few, many = sorted((len(points), len(commas)))
    if not many:
        return None
    if few * 10 > many and not (few == 1 and many > 2):
        return "mixed"
    return "point" if len(points) > len(commas) else "comma"


def decimal_proofs(texts: Iterable[str]) -> tuple[str, str]:
    """The first text that proves a decimal point and the first that proves a comma, "" where there is none."""
    point = comma = ""
    for text in texts:
        point = point or (text if _PROOF_OF_POINT.search(text) else "")
        comma = comma or (text if _PROOF_OF_COMMA.search(text) else "")
        if point and comma:
            break
    return point, comma


def parse_number(text: str, decimal: Decimal | None) -> Number:
    """One number from one text, or why not.

    ``decimal`` is what the file (or, if that is mixed, the column) proves. Without proof, and in a mixed column, a
    text is read only if it can be one thing alone. Codes: ``decimal-unclear`` (a factor of 1000 is at stake, or the
    mark is not the file's), ``not-a-number``, ``number-range`` (too large or too small for a finite number).
    Notices: ``thousands-mark``, ``apostrophe``.
    """
    plain = plain_signs(text)
    notice = ""
    if plain[:1] in ("'", "\u2019") and plain[1:2].isascii() and plain[1:2].isdigit():
        plain, notice = plain[1:], "apostrophe"
    parts = _PARTS.fullmatch(plain)
    if parts is None or not any(mark.isdigit() for mark in parts["body"]):
        return Number(math.nan, "not-a-number")
    power = parts["e"] or parts["caret"] or (parts["raised"] or "").translate(_RAISED)
    body, grouped, code = _without_groups(parts["body"], decimal, bool(power))
    if code:
        return Number(math.nan, code)
    try:
        value = float(f"{parts['sign']}{body}e{int(power or 0)}")
    except ValueError:
        return Number(math.nan, "not-a-number")
    if math.isinf(value) or (value == 0 and any(mark in "123456789" for mark in body)):
        return Number(math.nan, "number-range")
    return Number(value + 0.0, "", notice or ("thousands-mark" if grouped else ""))


def _without_groups(body: str, decimal: Decimal | None, powered: bool) -> tuple[str, bool, str]:
    """The digits with a decimal point at most; whether a group mark was taken out; a refusal code.

    A number with a power of ten has no group marks.
    """
    blanks = " " in body
    body = body.replace(" ", "")
    points, commas = body.count("."), body.count(",")
    if not points and not commas:
        return body, blanks, ""
    if points and commas:
        comma_last = body.rfind(",") > body.rfind(".")
        mark, group = (",", ".") if comma_last else (".", ",")
        whole, _, rest = body.rpartition(mark)
        pattern = _GROUPED_BY_POINT if comma_last else _GROUPED_BY_COMMA
        if (
            mark in whole
            or blanks
            or not pattern.fullmatch(whole)
            or (decimal in ("point", "comma") and (decimal == "comma") != comma_last)
        ):
            return "", False, "not-a-number" if mark in whole or blanks else "decimal-unclear"
        return f"{whole.replace(group, '')}.{rest}", True, ""
    mark, own = (",", "comma") if commas else (".", "point")
    pattern = _GROUPED_BY_COMMA if commas else _GROUPED_BY_POINT
    may_be_groups = bool(pattern.fullmatch(body)) and not blanks and not powered
    if max(points, commas) > 1:
        if not may_be_groups:
            return "", False, "not-a-number"
        return (body.replace(mark, ""), True, "") if decimal != own else ("", False, "decimal-unclear")
    if decimal == own:
        return body.replace(mark, "."), blanks, ""
    if decimal in ("point", "comma"):
        return (body.replace(mark, ""), True, "") if may_be_groups else ("", False, "decimal-unclear")
    if may_be_groups:
        return "", False, "decimal-unclear"
    return body.replace(mark, "."), blanks, ""
