"""From the name and registry number that a sheet prints to one substance of the table, or a refusal that says why.

In: names, CAS numbers and bands (the group that the sheet puts the row in). Out: a `Resolution` each. A name resolves
exactly after folding, by its notation (congeners, coeluting peaks) or after words that say nothing of the substance are
taken off its end; never by likeness. The words are data: `guidelines/substances/synonyms.csv` and
`guidelines/vocabulary/name_words.csv`, `bands.csv`.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from screen.reference.congeners import RENUMBERED
from screen.reference.folding import cas_check_digit_holds, fold, read_cas
from screen.reference.name_index import NameIndex
from screen.reference.name_words import guard_in, read_band, said_in_name, split_unit
from screen.reference.substances import table

__all__ = [
    "NameBook",
    "NamesFileError",
    "Resolution",
    "fold",
    "name_book",
    "read_band",
    "said_in_name",
    "split_unit",
]

#: A sheet of unknown names must not take minutes: likenesses are looked for only this many of them.
MOST_SUGGESTIONS = 200
_ROLES = {"lab-total": "lab-total", "surrogate": "surrogate", "derived": "derived", "attribute": "derived"}


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


class NameBook:
    """All names that are known, those of the user's own file first. Build it with :func:`name_book`."""

    def __init__(self, own: dict[str, str] | None = None) -> None:
        """``own`` maps folded names to canonical substances and goes before the built-in names."""
        self._own = dict(own or {})
        frame = table()
        known = [str(name) for name in frame.index]
        self._index = NameIndex(self._own)
        self._cas: dict[str, str] = dict(zip(known, frame["cas"], strict=True))
        self._notes: dict[str, str] = dict(zip(known, frame["note"], strict=True))
        self._numbers = {
            name: {cas, *others.split(";")} - {""}
            for name, cas, others in zip(known, frame["cas"], frame["other_cas"], strict=True)
        }

    def __reduce__(self) -> tuple[type[NameBook], tuple[dict[str, str]]]:
        """What another process makes of it."""
        return NameBook, (self._own,)

    def resolve(self, name: str, cas: str = "", band: str = "", suggest: bool = True) -> Resolution:
        """What ``name`` stands for, given the registry number and the band (:func:`read_band`) beside it.

        A registry number with a right check digit goes before the name; where the two say different things the row is
        refused, except for the congeners that two published lists number differently (107-109, 199-201), where the
        registry number decides. Text in the CAS cell that is no registry number is ignored; a wrong check digit is a
        notice. ``suggest`` is whether a known name that looks like an unknown one is looked for, which takes long.
        """
        name = name.strip()
        number, holds = read_cas(cas)
        notice = ""
        if number and not holds:
            notice = f"{self._mistyped(number)} It was not used."
            number = ""
        by_cas = self._index.by_cas.get(number, "")
        found = self._index.find(name, band) if name else None
        if found is None:
            return self._unnamed(name, number, by_cas, notice, suggest)
        if found.wrong:
            return Resolution(None, "none", found.code, f"{name!r} {found.wrong}", notice=notice)
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
        if self._index.kind(substance) == "ambiguous":
            return self._ambiguous(name, substance)
        points_to = f"PCB-{found.coelution[1:]}" if found.coelution[1:] else ""
        role = _ROLES.get(self._index.kind(substance), "analyte")
        return Resolution(substance, role, notice=notice, coelution=found.coelution, points_to=points_to)

    def _unnamed(self, name: str, number: str, by_cas: str, notice: str, suggest: bool) -> Resolution:
        """The answer where the name alone says nothing: the registry number's, unless the name forbids it."""
        guard = guard_in(name) if by_cas else ""
        if guard:
            message = f"{name!r} is not known, and {guard!r} in it may change what CAS {number} ({by_cas}) stands for."
            return Resolution(None, "none", "unknown-substance", message, notice=notice)
        if by_cas:
            role = _ROLES.get(self._index.kind(by_cas), "analyte")
            told = f"{name!r} is not a known name; read by its CAS number {number} as {by_cas}." if name else notice
            return Resolution(by_cas, role, notice=told)
        if not name:
            return Resolution(None, "none", "unknown-substance", notice or "The row names no substance.")
        typed, holds = read_cas(name)
        if typed and not holds:
            known = self._index.near_cas(typed)
            meant = known[0][1] if len(known) == 1 else ""
            return Resolution(None, "none", "unknown-substance", self._mistyped(typed), meant, notice)
        elsewhere = self._index.elsewhere(name)
        if elsewhere:
            places = " and ".join(f"{substance} ({where})" for where, substance in elsewhere.items())
            message = f"{name!r} is a name only within a group: {places}. Name the group, or write it in full."
            return Resolution(None, "none", "ambiguous-name", message, notice=notice)
        if not suggest:
            message = f"{name!r} is not a known substance. So many names are unknown that no likeness was looked for."
            return Resolution(None, "none", "unknown-substance", message, notice=notice)
        near = self._index.nearest(name)
        hint = f" Did you mean {near}?" if near else ""
        return Resolution(None, "none", "unknown-substance", f"{name!r} is not a known substance.{hint}", near, notice)

    def _mistyped(self, number: str) -> str:
        """What is said of a registry number whose check digit does not hold, with the known ones it may have been."""
        near = self._index.near_cas(number)
        meant = " or ".join(f"{cas} ({substance})" for cas, substance in near)
        hint = f" With one digit changed, or two swapped, it would be {meant}." if near else ""
        return f"The CAS number {number} fails its check digit.{hint}"

    def _settle(self, substance: str, number: str, by_cas: str, name: str) -> Resolution | tuple[str, str]:
        """``substance`` (from the name) against the registry number: what stands, with a notice, or a refusal."""
        kind = self._index.kind(substance)
        members = self._index.members(substance)
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
        message = f"CAS {number} is {is_of}, but the name {name!r} {says}."
        return Resolution(None, "none", "cas-against-name", message)

    def _ambiguous(self, name: str, substance: str) -> Resolution:
        return Resolution(None, "none", "ambiguous-name", f"{name!r} is ambiguous. {self._notes[substance]}")

    def resolve_many(
        self, names: Sequence[str], cass: Sequence[str], bands: Sequence[str], suggest: bool = True
    ) -> pd.DataFrame:
        """:meth:`resolve` for whole columns of equal length: one row each, in order, every triple resolved once.

        The columns are the fields of :class:`Resolution`, as categoricals; "" and None are missing. A likeness is
        looked for the first :data:`MOST_SUGGESTIONS` unknown names only, by the alphabet, so that their order does not
        matter; the message of the others says so. Without ``suggest`` none is.
        """
        triples = np.zeros(len(names), dtype=np.int64)
        texts: list[list[str]] = []
        for column in (names, cass, bands):
            codes, found = pd.factorize(np.asarray(column, dtype=object), use_na_sentinel=True)
            texts.append([*map(str, found), ""])
            triples = triples * len(texts[-1]) + codes % len(texts[-1])
        unique, place = np.unique(triples, return_inverse=True)
        parts = np.unravel_index(unique, [len(known) for known in texts])
        asked: set[str] = set()
        triples_met = [
            tuple(known[code] for known, code in zip(texts, triple, strict=True)) for triple in zip(*parts, strict=True)
        ]
        answer_to: dict[tuple[str, ...], Resolution] = {}
        for name, cas, band in sorted(triples_met):
            looked_for = suggest and (name in asked or len(asked) < MOST_SUGGESTIONS)
            one = answer_to[name, cas, band] = self.resolve(name, cas, band, looked_for)
            if one.code == "unknown-substance":
                asked.add(name)
        answers = [answer_to[triple] for triple in triples_met]
        columns = {}
        for field in fields(Resolution):
            given = pd.Categorical([getattr(answer, field.name) or None for answer in answers])
            columns[field.name] = pd.Categorical.from_codes(given.codes[place.ravel()], dtype=given.dtype)
        return pd.DataFrame(columns)


def name_book(extra: Path | None = None) -> NameBook:
    """The built-in names, with those of the user's own file ``extra`` in front.

    The file is a CSV with the headers ``name, substance`` or ``name, cas`` (both may be there). The substance may be
    given by any known name. Raises NamesFileError with the line for one that is not known, a wrong check digit, a
    missing column or the same name for two substances.
    """
    return NameBook(_read_own_names(extra)) if extra is not None else _built_in()


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
