"""From the name and registry number that a sheet prints to one substance of the table, or a refusal that says why.

In: names, CAS numbers and bands (the group that the sheet puts the row in). Out: a `Resolution` each. A name resolves
exactly after folding, by its notation (congeners, coeluting peaks) or after words that say nothing of the substance are
taken off its end; never by likeness. The words are data: `guidelines/substances/synonyms.csv` and
`guidelines/vocabulary/name_words.csv`, `bands.csv`.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from screen.reference.congeners import RENUMBERED, Structure, read_numbers, read_structure
from screen.reference.folding import cas_check_digit_holds, fold, plain, read_cas
from screen.reference.locate import read_table
from screen.reference.name_words import guard_in, read_band, split_unit, without_tail
from screen.reference.substances import HIGHEST_CONGENER, describe, peak_name, table

__all__ = ["NameBook", "NamesFileError", "Resolution", "fold", "name_book", "read_band", "split_unit"]

_ROLES = {"lab-total": "lab-total", "surrogate": "surrogate", "derived": "derived", "attribute": "derived"}
_MAY_COELUTE = ("single", "mixture", "peak", "taken-as-one")
_ORGANIC = ("pah", "pcb-congener", "pcb-aroclor", "pesticide", "dioxin", "other")
_FOOTNOTE = re.compile(r"(?<=\S)(?:[\s]*[*†‡§¶#]+|[⁰¹²³⁴-⁹]+)$")
_LABELLED = re.compile(
    r"(?:(?<=[a-z)\d])-|(?<=[a-z)\d])\(|(?<=ene|nol|nyl|ine|ate) ?)d\d{1,2}(?![\da-z])"
    r"|(?<![a-z\d])(?:13c|c13|37cl)(?![a-z])"
    r"|(?<![a-z])(?:surr|surrogate|surrogates|internal standard|labell?ed)(?![a-z])"
)
_LAST_BRACKET = re.compile(r"(?P<base>.*\S) ?\((?P<inner>[^()]*(?:\([^()]*\)[^()]*)*)\)")
_TOTAL_FIRST = re.compile(r"(?:total|t-)[ -]?(?P<rest>.+)")
_DEEPEST = 5


class NamesFileError(ValueError):
    """A file of the user's own names that cannot be used as it is. The text names the line and the mend."""


@dataclass(frozen=True, slots=True)
class Resolution:
    """What a name stands for.

    ``substance`` is canonical, or None where the row is refused or the table has no such substance. ``role`` is
    ``analyte``, ``lab-total``, ``surrogate``, ``derived`` (read, and no result of its own) or ``none`` (refused).
    ``code`` is "" or one of ``unknown-substance``, ``ambiguous-name``, ``cas-against-name``; ``message`` says it in
    words; ``suggestion`` is a known name that looks alike, to be printed and never applied. ``notice`` is something to
    tell although the name resolved. ``coelution`` is the flag in the name (``C`` or ``C20``), ``points_to`` the
    congener that carries the group's value.
    """

    substance: str | None
    role: str
    code: str = ""
    message: str = ""
    suggestion: str = ""
    notice: str = ""
    coelution: str = ""
    points_to: str = ""


@dataclass(frozen=True, slots=True)
class _Found:
    substance: str
    coelution: str = ""
    surrogate: bool = False
    wrong: str = ""  # why a name of a known form is no substance
    code: str = "unknown-substance"


class NameBook:
    """All names that are known, those of the user's own file first. Build it with :func:`name_book`."""

    def __init__(self, own: dict[str, str] | None = None) -> None:
        """``own`` maps folded names to canonical substances and goes before the built-in names."""
        frame = table()
        known = [str(name) for name in frame.index]
        self._kind: dict[str, str] = dict(zip(known, frame["kind"], strict=True))
        self._group: dict[str, str] = dict(zip(known, frame["group"], strict=True))
        self._cas: dict[str, str] = dict(zip(known, frame["cas"], strict=True))
        self._notes: dict[str, str] = dict(zip(known, frame["note"], strict=True))
        self._members: dict[str, tuple[str, ...]] = dict(zip(known, frame["members"], strict=True))
        self._numbers = {
            name: {cas for cas in (row_cas, *others.split(";")) if cas}
            for name, row_cas, others in zip(frame.index, frame["cas"], frame["other_cas"], strict=True)
        }
        self._by_cas: dict[str, str] = {}
        for name, others in frame["other_cas"].items():
            self._by_cas.update({cas: str(name) for cas in others.split(";") if cas})
        self._by_cas.update({cas: name for name, cas in self._cas.items() if cas})
        self._aroclors = frozenset(int(n[8:]) for n in frame.index if re.fullmatch(r"Aroclor \d{4}", n))
        self._names: dict[str, dict[str, str]] = {}
        self._structures: dict[Structure, str] = {}
        self._own = dict(own or {})
        self._fill()

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

    # ---- one name

    def resolve(self, name: str, cas: str = "", band: str = "") -> Resolution:
        """What ``name`` stands for, given the registry number and the band (:func:`read_band`) beside it.

        A registry number with a right check digit goes before the name; where the two say different things the row is
        refused, except for the congeners that two published lists number differently (107-109, 199-201), where the
        registry number decides. Text in the CAS cell that is no registry number is ignored; a wrong check digit is a
        notice.
        """
        name = name.strip()
        number, holds = read_cas(cas)
        notice = ""
        if number and not holds:
            notice = f"The CAS number {number} fails its check digit and was not used."
            number = ""
        by_cas = self._by_cas.get(number, "")
        found = self._find(name, band) if name else None
        if found is None:
            return self._unnamed(name, number, by_cas, notice)
        if found.wrong:
            return Resolution(None, "none", found.code, found.wrong, notice=notice)
        if found.surrogate:
            return Resolution(found.substance or None, "surrogate", notice=notice)
        substance = found.substance
        if number:
            settled = self._settle(substance, number, by_cas, name)
            if isinstance(settled, Resolution):
                return settled
            substance, told = settled
            notice = told or notice
        elif substance in RENUMBERED:
            notice = notice or f"The number of {substance} depends on the laboratory's list; the usual one was taken."
        if self._kind_of(substance) == "ambiguous":
            return self._ambiguous(name, substance)
        points_to = f"PCB-{found.coelution[1:]}" if found.coelution[1:] else ""
        role = _ROLES.get(self._kind_of(substance), "analyte")
        return Resolution(substance, role, notice=notice, coelution=found.coelution, points_to=points_to)

    def _unnamed(self, name: str, number: str, by_cas: str, notice: str) -> Resolution:
        """The answer where the name alone says nothing: the registry number's, unless the name forbids it."""
        guard = guard_in(name)
        if by_cas and guard:
            message = f"{name!r} is not known, and {guard!r} in it may change what CAS {number} ({by_cas}) stands for."
            return Resolution(None, "none", "unknown-substance", message, notice=notice)
        if by_cas:
            role = _ROLES.get(self._kind_of(by_cas), "analyte")
            told = f"{name!r} is not a known name; read by its CAS number {number} as {by_cas}." if name else notice
            return Resolution(by_cas, role, notice=told)
        if not name:
            return Resolution(None, "none", "unknown-substance", "The row names no substance.", notice=notice)
        near = self._nearest(name)
        hint = f" Did you mean {near}?" if near else ""
        return Resolution(None, "none", "unknown-substance", f"{name!r} is not a known substance.{hint}", near, notice)

    def _settle(self, substance: str, number: str, by_cas: str, name: str) -> Resolution | tuple[str, str]:
        """``substance`` (from the name) against the registry number: what stands, with a notice, or a refusal."""
        kind = self._kind_of(substance)
        members = self._members.get(substance, ()) or _peak(substance)[2]
        if by_cas == substance or number in self._numbers.get(substance, ()):
            renamed = self._cas.get(substance, "") not in ("", number) and by_cas == substance
            return substance, f"CAS {number} is read as {substance}." if renamed else ""
        if kind in ("ambiguous", "lab-total") and by_cas in members:
            return by_cas, ""
        if {substance, by_cas} <= RENUMBERED:
            return by_cas, f"CAS {number} is {by_cas} in the usual list, {name!r} in the laboratory's; the CAS decides."
        own = self._cas.get(substance, "")
        foreign_to_peak = kind in ("peak", "mixed-peak", "taken-as-one") and by_cas and by_cas not in members
        if not own and kind != "ambiguous" and not foreign_to_peak:
            return substance, ""
        if kind == "ambiguous" and not (by_cas and members):
            return self._ambiguous(name, substance)
        is_of = by_cas or "no substance of the table"
        own_text = f" (CAS {own})" if own else ""
        says = f"may be {' or '.join(members)}" if kind == "ambiguous" else f"is {substance}{own_text}"
        message = f"CAS {number} is {is_of}, but the name {name!r} {says}. Correct one of the two."
        return Resolution(None, "none", "cas-against-name", message)

    def _ambiguous(self, name: str, substance: str) -> Resolution:
        return Resolution(None, "none", "ambiguous-name", f"{name!r} is ambiguous. {self._notes[substance]}")

    # ---- finding a name

    def _find(self, name: str, band: str, depth: int = 0) -> _Found | None:
        if depth > _DEEPEST or not name:
            return None
        key = fold(name)
        exact = self._exact(key, band)
        if exact:
            return _Found(exact)
        bare = _FOOTNOTE.sub("", name)
        if bare != name:
            return self._find(bare, band, depth + 1)
        text = plain(name)
        if cas_check_digit_holds(text) and text in self._by_cas:
            return _Found(self._by_cas[text])
        if _LABELLED.search(text):
            return _Found("", surrogate=True)
        found = self._numbered(key, band)
        if found is None and (structure := read_structure(key)):
            congener = self._structures.get(structure, "")
            found = _Found(congener) if congener else None
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

    def _numbered(self, key: str, band: str) -> _Found | None:
        listed = read_numbers(key, self._aroclors)
        if listed is None:
            return None
        if listed.labelled:
            return _Found("", surrogate=True)
        if not listed.prefixed and not band.startswith("pcb"):
            if "," in key or ";" in key:
                return None
            group = self._exact("/".join(member.removeprefix("PCB-") for member in listed.members), "")
            return _Found(group) if group else None
        if listed.wrong:
            numbers = ", ".join(map(str, listed.wrong))
            wrong = f"No PCB has the number {numbers}: congeners run from 1 to {HIGHEST_CONGENER}."
            return _Found("", wrong=wrong)
        return _Found(peak_name(listed.members), listed.flag)

    def _turned_round(self, text: str, band: str, depth: int) -> _Found | None:
        """``naphthalene, 2-methyl-`` and ``ddd, p,p'-``: the part after the comma belongs in front."""
        stem, _, front = text.removesuffix("-").partition(", " if ", " in text else ",")
        if not text.endswith("-") or not stem or not front:
            return None
        return self._find(front + stem, band, depth + 1) or self._find(f"{front}-{stem}", band, depth + 1)

    def _said_twice(self, text: str, band: str, depth: int) -> _Found | None:
        """``lead (pb)``: two names of one substance. Two names of different substances are no name."""
        found = _LAST_BRACKET.fullmatch(text)
        if not found:
            return None
        outer, inner = self._find(found["base"], band, depth + 1), self._find(found["inner"], band, depth + 1)
        if (outer is None) != (inner is None) and self._is_pcb(outer or inner):
            outer = outer or self._find(found["base"], "pcb", depth + 1)
            inner = inner or self._find(found["inner"], "pcb", depth + 1)
        if outer is None or inner is None or outer.wrong or inner.wrong:
            return None
        if outer.substance == inner.substance:
            return outer
        for one, other in ((outer, inner), (inner, outer)):
            if self._kind_of(one.substance) == "ambiguous" and other.substance in self._members[one.substance]:
                return other
        both = f"{text!r} names two substances, {outer.substance} and {inner.substance}. Write one of the two."
        return _Found("", wrong=both, code="ambiguous-name")

    def _joined(self, text: str, band: str, depth: int) -> _Found | None:
        """``pcb-85 + 4,4'-dde``: substances that leave the instrument as one peak."""
        parts = _split_outside_brackets(text)
        if len(parts) < 2:
            return None
        members: list[str] = []
        for part in parts:
            after_pcb = bool(members) and members[-1].startswith("PCB-") and part.isdigit()
            found = self._find(part, "pcb" if after_pcb else band, depth + 1)
            if found is None or found.wrong or found.surrogate or found.coelution:
                return None
            kind, group, inside = _peak(found.substance)
            if kind not in _MAY_COELUTE or group not in _ORGANIC:
                return None
            members.extend(inside)
        return _Found(peak_name(members)) if len(set(members)) > 1 else None

    def _shortened(self, text: str, name: str, band: str, depth: int) -> _Found | None:
        """The name without what stands at its end or front and says nothing of the substance."""
        shorter = without_tail(text)
        if shorter:
            return self._find(shorter, band, depth + 1)
        bare, unit = split_unit(name)
        if unit and bare != name:
            return self._find(bare, band, depth + 1)
        first = _TOTAL_FIRST.fullmatch(text)
        if first:
            found = self._find(first["rest"], band, depth + 1)
            if found and self._group.get(found.substance) == "metal":
                return found
        return None

    # ---- small questions

    def _kind_of(self, substance: str) -> str:
        return self._kind.get(substance) or _peak(substance)[0]

    def _is_pcb(self, found: _Found | None) -> bool:
        return found is not None and found.substance.startswith("PCB-")

    def _nearest(self, name: str) -> str:
        """A known name that looks like ``name`` and has the same digits, for the eye only."""
        key = fold(name)
        like = [other for other in self._by_digits.get(_digits(key), ()) if 3 < len(other) <= len(key) + 3]
        near = difflib.get_close_matches(key, like, n=1, cutoff=0.8)
        return self._printed[near[0]] if near else ""

    # ---- many names

    def resolve_many(self, names: Sequence[str], cass: Sequence[str], bands: Sequence[str]) -> pd.DataFrame:
        """:meth:`resolve` for whole columns of equal length: one row each, in order, every triple resolved once.

        The columns are the fields of :class:`Resolution`, as categoricals; "" and None are missing.
        """
        coded = [
            pd.factorize(np.asarray(column, dtype=object), use_na_sentinel=True) for column in (names, cass, bands)
        ]
        codes = np.stack([part[0] for part in coded], axis=1)
        unique, place = np.unique(codes, axis=0, return_inverse=True) if len(codes) else (codes, np.zeros(0, dtype=int))
        answers = [
            self.resolve(*(str(part[1][code]) if code >= 0 else "" for part, code in zip(coded, triple, strict=True)))
            for triple in unique
        ]
        columns = {}
        for field in fields(Resolution):
            texts = pd.Categorical([getattr(answer, field.name) or None for answer in answers])
            columns[field.name] = pd.Categorical.from_codes(texts.codes[place.ravel()], dtype=texts.dtype)
        return pd.DataFrame(columns)


def name_book(extra: Path | None = None) -> NameBook:
    """The built-in names, with those of the user's own file ``extra`` in front.

    The file is a CSV with the headers ``name, substance`` or ``name, cas`` (both may be there). The substance may be
    given by any known name. Raises NamesFileError with the line for one that is not known, a wrong check digit, a
    missing column or the same name for two substances.
    """
    return NameBook(_read_own_names(extra)) if extra is not None else _built_in()


@cache
def _peak(substance: str) -> tuple[str, str, tuple[str, ...]]:
    """Kind, group and members of a canonical name that may be a peak of no row of the table."""
    row = describe([substance]).iloc[0]
    return str(row["kind"]), str(row["group"]), tuple(row["members"])


@cache
def _built_in() -> NameBook:
    return NameBook()


def _read_own_names(path: Path) -> dict[str, str]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise NamesFileError(f"{path.name} is not UTF-8 text. Save it as CSV UTF-8.") from error
    reader = csv.reader(io.StringIO(text))
    header = [cell.strip().casefold() for cell in next(reader, [])]
    if "name" not in header or not {"substance", "cas"} & set(header):
        raise NamesFileError(f"{path.name}, line 1: the headers must be name, substance or name, cas.")
    own: dict[str, str] = {}
    for cells in reader:
        row = dict(zip(header, (cell.strip() for cell in cells), strict=False))
        if not any(row.values()) or row.get("name", "").startswith("#"):
            continue
        where = f"{path.name}, line {reader.line_num}"
        key = fold(row.get("name", ""))
        cas = row.get("cas", "")
        if not key:
            raise NamesFileError(f"{where}: the name is empty.")
        if cas and not cas_check_digit_holds(cas):
            raise NamesFileError(f"{where}: the CAS number {cas!r} fails its check digit.")
        answer = _built_in().resolve(row.get("substance", ""), cas)
        if answer.substance is None:
            raise NamesFileError(f"{where}: {answer.message}")
        if own.setdefault(key, answer.substance) != answer.substance:
            raise NamesFileError(f"{where}: {row['name']!r} was given as {own[key]} before. Keep one of the two.")
    return own


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


def _split_outside_brackets(text: str) -> list[str]:
    parts, depth, start = [], 0, 0
    for found in re.finditer(r"[()]| and |[/+&]", text):
        sign = found.group()
        if sign in "()":
            depth += 1 if sign == "(" else -1
        elif depth == 0:
            parts.append(text[start : found.start()].strip())
            start = found.end()
    return [*parts, text[start:].strip()] if parts else [text]
