"""What texts around a number mean: its unit and basis in a header, a title or a note.

In: single distinct texts. Out: the unit or the basis that is stated, or none. Nothing here guesses.
"""

from __future__ import annotations

import re
from functools import cache
from typing import NamedTuple

from screen.reference.units import known_as_unit, read_basis, read_unit

__all__ = ["BASES", "StatedBasis", "basis_code", "basis_in_text", "reads_as_unit", "unit_in_text"]

#: Codes of a basis; 0 is none stated, REFUSED one that cannot be brought to dry sediment.
BASES = ("", "dry", "wet", "oc", "refused")

_UNIT_TOKEN = re.compile(
    r"(?<![A-Za-z0-9])(?:[munpfkµμ]?c?g|[munµμ]mol)\s?(?:/|\s)\s?(?:kg|g|t)(?:\s?-1)?(?:oc)?(?![A-Za-z0-9])|(?<![A-Za-z])pp[mb](?![A-Za-z])",
    re.IGNORECASE,
)
#: Ends of a text that is a statement and no sentence: ``mg/kg dry``, ``Basis: wet``, ``PAHs (dry)``, ``Metals - dry``.
_SHORT = r"[\(\[/_]{word}\s*[\)\]]|[\(\[/_:]\s*{word}$|\s[-–]\s*{word}$|\b(?:kg|g|pp[bmt])[\s_,;-]*{word}\b|^{word}$"
_DRY = re.compile(
    r"\bdry[\s-]*(?:weight|wt|basis|mass|matter|sediment|solids)\b|\b(?:basis|weights?)\W{1,3}dry\b|"
    + _SHORT.format(word="dry")
    + r"|\bd\.?\s?w\.?(?=\W|$)|\bmoisture[\s-]free\b|(?<!not )(?<!not been )\bcorrected for (?:percent |% )?moisture|"
    r"\btrocken(?:masse|substanz|gewicht)\w*|\bpoids sec\b|\bmati[eè]re s[eè]che\b|\bmasse s[eè]che\b|"
    r"\bpeso seco\b|\bmateria seca\b|\bdroge stof\b|\bdrooggewicht\b",
    re.IGNORECASE,
)
_WET = re.compile(
    r"\bwet[\s-]*(?:weight|wt|basis|mass)\b|\b(?:basis|weights?)\W{1,3}wet\b|"
    + _SHORT.format(word="wet")
    + r"|\bw\.?\s?w\.?(?=\W|$)|\bnot (?:been )?corrected for (?:percent |% )?moisture|"
    r"\bfresh (?:weight|mass)\b|"
    r"\bfrisch(?:masse|substanz|gewicht)\w*|\bpoids (?:humide|frais)\b|\bpeso (?:h[uú]medo|fresco)\b|\bnat gewicht\b|"
    # how a sample came in is no basis; how results are stated is
    r"\bas[\s-]received (?:basis|weight)\b|\b(?:reported|given|stated|expressed|calculated|results?|concentrations?|"
    r"values|basis|on an?|kg|g)\W{1,3}as[\s-]received\b|\b(?:reported|given|stated|expressed|calculated)\b.{0,20}"
    r"\bas[\s-]received\b|^\W*as[\s-]received\W*$|[\(\[]as[\s-]received[\)\]]",
    re.IGNORECASE,
)
_DEFAULT = re.compile(
    r"\b(?:unless|except|otherwise|where not|sauf|sofern nicht|wenn nicht|salvo|tenzij)\b", re.IGNORECASE
)
#: A line of a glossary, which explains a mark and states nothing: ``dw = dry weight``.
_GLOSSARY = re.compile(r"^\W*(?:d\.?\s?w\.?t?\.?|w\.?\s?w\.?t?\.?|dm|ts|fw|ar|[dw])\s*[=:–-]+\s*\w", re.IGNORECASE)
_OF_WATER = re.compile(
    r"moisture (?:is|was|as|on|by)|(?:moisture|solids|water content).{0,20}(?:wet|dry) (?:basis|weight|mass)",
    re.IGNORECASE,
)


class StatedBasis(NamedTuple):
    """``basis``: "", ``dry``, ``wet`` or ``both``; ``default`` is true for a sentence that lets rows differ."""

    basis: str
    default: bool = False


@cache
def reads_as_unit(text: str) -> bool:
    """Whether the whole text is a unit, also one that sediment cannot have."""
    return bool(text) and len(text) < 40 and known_as_unit(text)


@cache
def basis_in_text(text: str) -> StatedBasis:
    """The basis that a title or note states in words, with ``both`` where it speaks of the two."""
    plain = text.strip()
    if not plain or _OF_WATER.search(plain) or _GLOSSARY.match(plain):
        return StatedBasis("")
    dry, wet = bool(_DRY.search(plain)), bool(_WET.search(plain))
    basis = "both" if dry and wet else "dry" if dry else "wet" if wet else ""
    if not basis and reads_as_unit(plain):
        basis = read_unit(plain).basis if read_unit(plain).basis in ("dry", "wet") else ""
    return StatedBasis(basis, bool(_DEFAULT.search(plain)))


@cache
def unit_in_text(text: str) -> str:
    """The one unit that a title states, as written there; empty for none or for several different ones."""
    if reads_as_unit(text.strip()):
        return text.strip()
    found: dict[str, str] = {}
    for match in _UNIT_TOKEN.finditer(text):
        unit = read_unit(match.group()).unit
        if unit:
            found.setdefault(unit, match.group())
    return next(iter(found.values())) if len(found) == 1 else ""


@cache
def basis_code(text: str) -> int:
    """The place in BASES of the basis that a cell of a basis column or label names."""
    if not text.strip():
        return 0
    said = read_basis(text)
    if said is None:
        stated = basis_in_text(text).basis
        return BASES.index(stated if stated in ("dry", "wet") else "refused")
    return BASES.index(said)
