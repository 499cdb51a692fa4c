"""PCB congeners and Aroclors by number or by structure, alone or as a coeluting group.

In: a folded name. Out: the canonical names that it lists, and the coelution flag that stands in the name.
Numbers are those of the substance table (Ballschmiter and Zell 1980 as revised for 199 to 201 by later lists).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from screen.reference.substances import HIGHEST_CONGENER

__all__ = ["RENUMBERED", "NumberList", "Structure", "homolog_of", "read_numbers", "read_structure"]

#: Congeners whose number depends on the list in use (Mills, Thal and Barney 2007).
RENUMBERED = frozenset(f"PCB-{number}" for number in (107, 108, 109, 199, 200, 201))

_PREFIX = re.compile(
    r"(?<![a-z])(?:pcbs?|cbs?|bz|iupac|congeners?|polychlorinated biphenyls?|arochlors?|aroclors?|ar\.?|ac)(?![a-z])"
    r"(?:[ #-]*no\.?(?![a-z]))?[ #-]*"
)
_JOINS = re.compile(r"and|[+&,;]")
_BODY = re.compile(r"(\d{1,4}(?:/\d{1,4})*)(c\d{0,3}|l)?")
_PREFIXES = ("mono", "di", "tri", "tetra", "penta", "hexa", "hepta", "octa", "nona", "deca")
_SHORT_PREFIXES = ("mo", "di", "tr", "te", "pe", "hx", "hp", "oc", "no", "de")
_MULTIPLES = {word: number for words in (_PREFIXES, _SHORT_PREFIXES) for number, word in enumerate(words, 1)}
_STRUCTURE = re.compile(
    r"(?P<locants>\d'?(?:,\d'?)*)-?"
    r"(?:(?P<long>mono|di|tri|tetra|penta|hexa|hepta|octa|nona|deca)?-?chloro-?(?:1,1'-?)?biphenyl"
    r"|(?P<short>mono|mo|di|tri|tr|tetra|te|penta|pe|hexa|hx|hepta|hp|octa|oc|nona|no|deca|de)cb)"
)
_MIRROR = {2: 6, 3: 5, 4: 4, 5: 3, 6: 2}

Structure = tuple[tuple[int, ...], tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class NumberList:
    """What a name made of numbers says.

    ``members`` are canonical names in ascending order; ``prefixed`` is whether letters such as PCB stood with the
    numbers; ``flag`` is ``C``, ``C20`` or ""; ``labelled`` marks an isotope-labelled standard (``28L``);
    ``wrong`` lists numbers that no congener or Aroclor of the table has.
    """

    members: tuple[str, ...]
    prefixed: bool
    flag: str = ""
    labelled: bool = False
    wrong: tuple[int, ...] = ()


def read_numbers(folded: str, aroclors: frozenset[int]) -> NumberList | None:
    """The congener or Aroclor numbers that a folded name consists of, or None where it says anything else.

    Accepted are the notations of laboratories and methods: ``pcb118``, ``cb118``, ``bz#118``, ``pcb008``,
    ``pcb129/138/163``, ``(129+138+163)``, ``pcb28(+31)``, ``28,31pcb``, ``pcb28 c20``, ``pcb1016/1242``.
    ``aroclors`` are the numbers of the mixtures in the table.
    """
    if folded.count("(") != folded.count(")"):
        return None
    body, prefixes = _PREFIX.subn("", folded)
    body = _JOINS.sub("/", body.replace("(", "").replace(")", "").replace(" ", ""))
    found = _BODY.fullmatch(re.sub("/+", "/", body).strip("/"))
    if not found:
        return None
    numbers = sorted({int(text) for text in found[1].split("/")})
    if numbers[-1] in aroclors:
        members = tuple(f"Aroclor {number}" for number in numbers)
        wrong = tuple(number for number in numbers if number not in aroclors)
    else:
        members = tuple(f"PCB-{number}" for number in numbers)
        wrong = tuple(number for number in numbers if not 1 <= number <= HIGHEST_CONGENER)
    tail = found[2] or ""
    flag = tail.upper() if tail.startswith("c") else ""
    return NumberList(members, prefixes > 0, flag, tail == "l", wrong)


def read_structure(folded: str) -> Structure | None:
    """The chlorine positions of a folded name such as ``2,3',4,4',5pentachlorobiphenyl`` or ``3,3',4,4'tecb``.

    The two rings in a fixed order and numbering, so that ``2',3,4-`` and ``2,3',4'-`` give the same answer.
    None where the name is of another kind, or its chlorines are not as many as its prefix says.
    """
    found = _STRUCTURE.fullmatch(folded)
    if not found:
        return None
    locants = found["locants"].split(",")
    stated = _MULTIPLES[found["short"] or found["long"] or "mono"]
    if len(locants) != stated or len(set(locants)) != stated or any(not 2 <= int(text[0]) <= 6 for text in locants):
        return None
    rings = (
        tuple(sorted(int(text) for text in locants if not text.endswith("'"))),
        tuple(sorted(int(text[0]) for text in locants if text.endswith("'"))),
    )
    first, second = sorted(min(ring, tuple(sorted(_MIRROR[place] for place in ring))) for ring in rings)
    return first, second


def homolog_of(structure: Structure) -> str:
    """The canonical name of the class that has as many chlorines as the structure."""
    return f"Total {_PREFIXES[sum(map(len, structure)) - 1].capitalize()}chlorobiphenyls"
