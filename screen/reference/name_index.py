"""What a printed name says by itself, before any registry number is looked at.

In: a name and its band. Out: the canonical substance that it says, exactly after folding, by its notation (congeners,
coeluting peaks, labelled standards) or without the words at its end that say nothing of the substance.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise

from screen.likeness import nearest
from screen.reference.congeners import Structure, homolog_of, read_numbers, read_structure
from screen.reference.folding import cas_check_digit_holds, fold, plain
from screen.reference.grain_sizes import read_grain_size
from screen.reference.locate import read_table
from screen.reference.name_words import LONGEST_NAME, split_unit, without_tail
from screen.reference.substances import HIGHEST_CONGENER, describe, peak_name, table

__all__ = ["Found", "NameIndex"]

_TOGETHER = ("peak", "mixed-peak", "taken-as-one")
_MAY_COELUTE = ("single", "mixture", "peak", "taken-as-one")
_ORGANIC = ("pah", "pcb-congener", "pcb-aroclor", "pesticide", "dioxin", "other")
_FOOTNOTE = re.compile(r"(?<=\S)(?:[\s]*[*†‡§¶#]+|[⁰¹²³⁴-⁹]+)$")
_LABELLED = re.compile(
    r"(?:(?<=[a-z)\d])-|(?<=[a-z)\d])\(|(?<=ene|nol|nyl|ine|ate) ?)d\d{1,2}(?![\da-z])"
    r"|(?<![a-z\d])(?:13c|37cl)(?![a-z])|(?<![a-z\d])c13(?![a-z\d])"
    r"|(?<![a-z])(?:surr|surrogate|surrogates|internal standard|labell?ed)(?![a-z])"
)
_LAST_BRACKET = re.compile(r"(?P<base>.*\S) ?\((?P<inner>[^()]*(?:\([^()]*\)[^()]*)*)\)")
_TOTAL_FIRST = re.compile(r"(?:total|t-)[ -]?(?P<rest>.+)")
_DEEPEST = 5
#: Signs that join what is measured as one; others may mean something else.
_PLUS = frozenset(("+", "&", " and "))
_ISOMER = re.compile(r"(?P<stem>[^()]*)\((?P<letters>[a-z](?:(?: ?[+/&,] ?| and |)[a-z])*)\)(?P<tail>[^()]*)")
_BETWEEN_LETTERS = re.compile(r" ?([+/&,]) ?|( and )|(?<=[a-z])()(?=[a-z])")
#: Many substances differ by a stroke: a slip is only proposed for what is very like.
_SUBSTANCES_ALIKE = 0.74


@dataclass(frozen=True, slots=True)
class Found:
    """What a name says: a canonical substance with its coelution flag, a surrogate, or why it can be neither.

    ``wrong`` goes on after the name: ``names two substances ...``.
    """

    substance: str
    coelution: str = ""
    surrogate: bool = False
    wrong: str = ""
    code: str = "unknown-substance"


class NameIndex:
    """All known names by their folded spelling and scope, all congeners by structure, all substances by CAS number."""

    def __init__(self, own: dict[str, str]) -> None:
        """``own`` maps folded names to canonical substances and goes before the built-in names."""
        frame = table()
        known = [str(name) for name in frame.index]
        self._kind: dict[str, str] = dict(zip(known, frame["kind"], strict=True))
        self._group: dict[str, str] = dict(zip(known, frame["group"], strict=True))
        self._members: dict[str, tuple[str, ...]] = dict(zip(known, frame["members"], strict=True))
        self.by_cas: dict[str, str] = {}
        for column in ("other_cas", "cas"):
            for name, numbers in zip(known, frame[column], strict=True):
                self.by_cas.update({cas: name for cas in numbers.split(";") if cas})
        self._peaks = {
            frozenset(members): name
            for name, members in self._members.items()
            if self._kind[name] in _TOGETHER and len(members) > 1
        }
        self._aroclors = frozenset(int(name[8:]) for name in known if re.fullmatch(r"Aroclor \d{4}", name))
        self._names: dict[str, dict[str, str]] = {}
        self._structures: dict[Structure, str] = {}
        #: The class by number of chlorines that each congener belongs to.
        self._homologs: dict[str, str] = {}
        self._own = own
        #: A known name that looks like the given one and has the same digits, for the eye only; "" for none.
        self.nearest = lru_cache(maxsize=1024)(self._nearest)
        self._fill()

    def kind(self, substance: str) -> str:
        """The kind of a canonical name, peaks of no row of the table included."""
        return self._kind.get(substance) or _peak(substance)[0]

    def members(self, substance: str) -> tuple[str, ...]:
        """The members of a canonical name; of an ambiguous one what it may be."""
        return self._members[substance] if substance in self._members else _peak(substance)[2]

    def elsewhere(self, name: str) -> dict[str, str]:
        """What ``name`` says in other bands than that of the sheet: substances by band."""
        return self._names.get(fold(name), {})

    def near_cas(self, number: str) -> list[tuple[str, str]]:
        """Known registry numbers that differ from ``number`` by one digit or by the order of two neighbours.

        With the substance of each, in order.
        """
        places = [place for place, sign in enumerate(number) if sign != "-"]
        typed = {number[:place] + digit + number[place + 1 :] for place in places for digit in "0123456789"}
        for first, second in pairwise(places):
            swapped = list(number)
            swapped[first], swapped[second] = swapped[second], swapped[first]
            typed.add("".join(swapped))
        return [(cas, self.by_cas[cas]) for cas in sorted(typed) if cas in self.by_cas]

    def _nearest(self, name: str) -> str:
        """A known name that looks like ``name`` and has the same digits, for the eye only."""
        key = fold(name)
        if len(key) > LONGEST_NAME:
            return ""
        like = [other for other in self._by_digits.get(_digits(key), ()) if 3 < len(other) <= len(key) + 3]
        near = nearest(key, like, alike=_SUBSTANCES_ALIKE)
        return self._printed[near[0]] if near else ""

    def _fill(self) -> None:
        synonyms = read_table("substances/synonyms.csv")
        rows = [(name, name, "") for name, kind in self._kind.items() if kind != "ambiguous"]
        rows += list(zip(synonyms["name"], synonyms["substance"], synonyms["scope"], strict=True))
        self._printed: dict[str, str] = {}
        self._by_digits: dict[str, list[str]] = {}
        for name, substance, scope in rows:
            key = fold(name)
            if key not in self._printed:
                self._printed[key] = name
                self._by_digits.setdefault(_digits(key), []).append(key)
            for spelling in dict.fromkeys((key, _without_hyphens(key))):
                self._names.setdefault(spelling, {}).setdefault(scope, substance)
            if substance.startswith("PCB-") and (structure := read_structure(key)):
                self._structures[structure] = substance
                self._homologs[substance] = homolog_of(structure)

    def find(self, name: str, band: str, depth: int = 0) -> Found | None:
        """What ``name`` says under ``band``: exact, by its notation, or without its empty words; None for nothing."""
        if depth > _DEEPEST or not name or len(name) > LONGEST_NAME:
            return None
        key = fold(name)
        exact = self._exact(key, band)
        if exact:
            return Found(exact)
        bare = _FOOTNOTE.sub("", name)
        if bare != name:
            return self.find(bare, band, depth + 1)
        text = plain(name)
        if cas_check_digit_holds(text) and text in self.by_cas:
            return Found(self.by_cas[text])
        if _LABELLED.search(text):
            return Found("", surrogate=True)
        if size := read_grain_size(text):
            return Found(size)
        found = self._numbered(key, band)
        if found is None and (structure := read_structure(key)):
            congener = self._structures.get(structure, "")
            found = Found(congener) if congener else None
        return (
            found
            or self._turned_round(text, band, depth)
            or self._said_twice(text, band, depth)
            or self._joined(text, band, depth)
            or self._shortened(text, name, band, depth)
        )

    def _exact(self, key: str, band: str) -> str:
        if key in self._own:
            return self._own[key]
        for spelling in (key, _without_hyphens(key)):
            scopes = self._names.get(spelling)
            if scopes:
                for scope in _scopes(band):
                    if scope in scopes:
                        return scopes[scope]
        return ""

    def _numbered(self, key: str, band: str) -> Found | None:
        listed = read_numbers(key, self._aroclors)
        if listed is None:
            return None
        if listed.labelled:
            return Found("", surrogate=True)
        if not listed.prefixed and not band.startswith("pcb"):
            if "," in key or ";" in key:
                return None
            group = self._exact("/".join(member.removeprefix("PCB-") for member in listed.members), "")
            return Found(group) if group else None
        if listed.wrong:
            numbers = ", ".join(map(str, listed.wrong))
            wrong = f"names PCB {numbers}, which is none: congeners run from 1 to {HIGHEST_CONGENER}."
            return Found("", wrong=wrong)
        return Found(peak_name(listed.members), listed.flag)

    def _turned_round(self, text: str, band: str, depth: int) -> Found | None:
        """``naphthalene, 2-methyl-`` and ``ddd, p,p'-``: the part after the comma belongs in front."""
        stem, _, front = text.removesuffix("-").partition(", " if ", " in text else ",")
        if not text.endswith("-") or not stem or not front:
            return None
        return self.find(front + stem, band, depth + 1) or self.find(f"{front}-{stem}", band, depth + 1)

    def _said_twice(self, text: str, band: str, depth: int) -> Found | None:
        """``lead (pb)``: two names of one substance. Two names of different substances are no name.

        ``pentachlorobiphenyl (pcb 105)`` is the congener, where that is one of the class.
        """
        found = _LAST_BRACKET.fullmatch(text)
        if not found:
            return None
        outer, inner = self.find(found["base"], band, depth + 1), self.find(found["inner"], band, depth + 1)
        if (outer is None) != (inner is None) and self._is_pcb(outer or inner):
            outer = outer or self.find(found["base"], "pcb", depth + 1)
            inner = inner or self.find(found["inner"], "pcb", depth + 1)
        if outer is None or inner is None or outer.wrong or inner.wrong:
            return None
        if outer.substance == inner.substance:
            return outer
        for one, other in ((outer, inner), (inner, outer)):
            if self.kind(one.substance) == "ambiguous" and other.substance in self.members(one.substance):
                return other
            classes = {self._homologs.get(member) for member in self.members(other.substance)}
            if classes == {one.substance} and not _TOTAL_FIRST.fullmatch(text):
                return other
        both = f"names two substances, {outer.substance} and {inner.substance}. Write one of the two."
        return Found("", wrong=both, code="ambiguous-name")

    def _joined(self, text: str, band: str, depth: int) -> Found | None:
        """``pcb-85 + 4,4'-dde``, ``benzo(b + k)fluoranthene``: substances that leave the instrument as one peak.

        A stroke, a comma or nothing between others than PCBs may mean something else: only a peak of the table is read
        so.
        """
        parts, signs = _split_outside_brackets(text)
        isomers, between = _isomers(parts)
        if isomers:
            parts, signs = isomers, signs | between
        if len(parts) < 2:
            return None
        members: list[str] = []
        for part in parts:
            after_pcb = bool(members) and members[-1].startswith("PCB-") and part.isdigit()
            found = self.find(part, "pcb" if after_pcb else band, depth + 1)
            if found is None or found.wrong or found.surrogate or found.coelution:
                return None
            kind, group, inside = _peak(found.substance)
            if kind not in _MAY_COELUTE or group not in _ORGANIC:
                return None
            members.extend(inside)
        if len(set(members)) < 2:
            return None
        if peak := self._peaks.get(frozenset(members)):
            return Found(peak)
        if signs - _PLUS and not any(name.startswith("PCB-") for name in members):
            if isomers:
                return None
            wrong = "may be a ratio or one peak of two substances. Write them with + if they are one peak."
            return Found("", wrong=wrong, code="ambiguous-name")
        return Found(peak_name(members))

    def _shortened(self, text: str, name: str, band: str, depth: int) -> Found | None:
        """The name without what stands at its end or front and says nothing of the substance."""
        shorter = without_tail(text)
        if shorter:
            return self.find(shorter, band, depth + 1)
        bare, unit = split_unit(name)
        if unit and bare != name:
            return self.find(bare, band, depth + 1)
        first = _TOTAL_FIRST.fullmatch(text)
        if first:
            found = self.find(first["rest"], band, depth + 1)
            if found and self._group.get(found.substance) == "metal":
                return found
        return None

    def _is_pcb(self, found: Found | None) -> bool:
        if found is None:
            return False
        return found.substance.startswith("PCB-") or self._group.get(found.substance) == "pcb-homolog"


@cache
def _peak(substance: str) -> tuple[str, str, tuple[str, ...]]:
    """Kind, group and members of a canonical name that may be a peak of no row of the table."""
    row = describe([substance]).iloc[0]
    return str(row["kind"]), str(row["group"]), tuple(row["members"])


def _digits(key: str) -> str:
    return re.sub(r"\D", "", key)


def _without_hyphens(key: str) -> str:
    """A key for names that differ by a hyphen or a space between words: tried after the exact one."""
    return re.sub(r"(?<=[^\W\d_])[- ](?=[^\W\d_])", " ", key)


@cache
def _scopes(band: str) -> tuple[str, ...]:
    """The scopes in which a name is looked up under ``band``, the closest first, always the general one last."""
    broad = {"pcb-congener": "pcb", "pcb-homolog": "pcb", "pcb-aroclor": "pcb", "solids": "conventional"}.get(band)
    return tuple(scope for scope in dict.fromkeys((band, broad, "")) if scope is not None)


def _isomers(parts: Sequence[str]) -> tuple[list[str], set[str]]:
    """The full names where what isomers share stands once: ``benzo(b)/(k)fluoranthene``, ``benzo(b + k)fluoranthenes``.

    With the signs between the letters; nothing where each part is a name of its own.
    """
    found = [_ISOMER.fullmatch(part) for part in parts]
    if not all(found):
        return [], set()
    stems = {one["stem"].strip() for one in found if one} - {""}
    tails = [one["tail"].strip() for one in found if one]
    letters: list[str] = []
    signs: set[str] = set()
    for one in found:
        pieces = _BETWEEN_LETTERS.split(one["letters"] if one else "")
        letters += pieces[::4]
        signs.update(sign for place in (1, 2, 3) for sign in pieces[place::4] if sign is not None)
    if len(letters) < 2 or len(stems) != 1 or not tails[-1] or (len(parts) > 1 and any(tails[:-1])):
        return [], set()
    stem, tail = stems.pop(), tails[-1].removesuffix("s")
    return [f"{stem}({letter}){tail}" for letter in letters], signs


def _split_outside_brackets(text: str) -> tuple[list[str], set[str]]:
    """The parts of ``text`` between the signs that join substances, and these signs."""
    parts, signs, depth, start = [], set(), 0, 0
    for found in re.finditer(r"[()]| and |[/+&]", text):
        sign = found.group()
        if sign in "()":
            depth += 1 if sign == "(" else -1
        elif depth == 0:
            parts.append(text[start : found.start()].strip())
            signs.add(sign)
            start = found.end()
    return [*parts, text[start:].strip()], signs
