"""Unit and basis words of result sheets.

In: the text of a cell. Out: the unit's one spelling, its basis, exact factors.

The words are data (`guidelines/vocabulary/units.csv`, `bases.csv`); what is here is how a unit and a basis stand
together in one text (`NG/G_DRY`, `mg/kg (dry)`, `ug Sn/kg dw`).
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.likeness import nearest
from screen.reference.locate import read_table

__all__ = [
    "UnitReading",
    "convert",
    "factor",
    "known_as_unit",
    "molar_factor",
    "read_basis",
    "read_unit",
    "scaled",
    "states_unit",
]

_Values = TypeVar("_Values", float, np.ndarray, pd.Series)
_EMPTY = frozenset(("", "-", "--", "—", "na", "n/a", "none", "notstated", "notapplicable", "unknown"))
_BASIS_BEFORE_MASS = re.compile(r"/\s*(dry|wet)[\s_-]*(kg|g)\b")
_EXPRESSED = re.compile(
    r"(?<=g)[\s_-]*(?P<inside>sn|hg|n|p|s|c)(?=\s*/)|[\s(,;-]+as[\s-]+(?P<after>sn|hg|n|p|s|c)\b\)?"
    r"|(?<=kg|/g)[\s-]+(?P<last>sn|hg|n|p|s|c)$"
)
_EQUIVALENT = re.compile(
    r"[\s_,(-]*\b(?:(?:who|i)[\s-]*(?:19|20)?\d{0,2}[\s-]*)?teqs?\b\)?(?:\s*\(?who[\s-]*\d{4}\)?)?"
)
_GROUND = str.maketrans("", "", " _.·⋅*")
_EDGES = " _-–,;:()[]{}/"
#: Characters of the longest text that is looked into; the longest unit with its basis in words has fewer than 80.
LONGEST = 200


@dataclass(frozen=True, slots=True)
class UnitReading:
    """What a unit text says.

    ``unit`` is the one spelling of the unit, None when it is refused; ``basis`` is ``dry``, ``wet``, ``oc`` or "" for
    none stated; ``expressed`` is the element that the mass is stated as (``Sn``, ``N``) or ""; ``toxic_equivalents``
    is true for TEQ. ``code`` is "" for a unit that was read (then ``message`` may hold a notice), else one of
    ``unit-missing``, ``unit-unknown``, ``unit-ambiguous``, ``unit-not-solid`` and ``basis-refused``.
    """

    unit: str | None
    basis: str = ""
    expressed: str = ""
    toxic_equivalents: bool = False
    code: str = ""
    message: str = ""


@dataclass(frozen=True, slots=True)
class _Word:
    unit: str
    kind: str
    power: int | None


def read_unit(text: str, group: str = "") -> UnitReading:
    """The unit that ``text`` states, with the basis where it is part of the same text.

    ``group`` is the substance's group where it is known: ``ppt`` is parts per trillion only for dioxins, and else
    refused, since it is also written for parts per thousand. Parts per million and billion are read as mass per mass
    with a notice. Nothing is guessed: any other text is refused with the nearest known unit named.
    """
    return _reading(text, group) or _refuse_unknown(text)


def known_as_unit(text: str) -> bool:
    """Whether ``read_unit`` makes anything of ``text`` but a missing or an unknown unit."""
    reading = _reading(text, "")
    return reading is not None and reading.code not in ("unit-missing", "unit-unknown")


def _reading(text: str, group: str) -> UnitReading | None:
    """The same; None for a text that is no unit."""
    if len(text) > LONGEST:
        return UnitReading(None, code="unit-unknown", message=f"The unit {text[:40]!r}... is too long to be one.")
    ground = _ground(text)
    if _key(ground) in _EMPTY:
        return UnitReading(None, code="unit-missing", message="No unit is given.")
    ground = _BASIS_BEFORE_MASS.sub(r"/\2 \1", ground)
    expressed = ""
    if found := _EXPRESSED.search(ground):
        expressed = (found["inside"] or found["after"] or found["last"]).capitalize()
        ground = ground[: found.start()] + ground[found.end() :]
    shorter = _EQUIVALENT.sub("", ground)
    equivalents = shorter != ground
    word, basis = _unit_and_basis(shorter)
    if word is None:
        return None
    if basis is not None and basis[0] == "refused":
        message = f"The unit {text!r} is not per mass of sediment: {basis[1]}"
        return UnitReading(None, code="basis-refused", message=message)
    return _accept(word, basis or ("", ""), text, group, expressed, equivalents)


def _accept(
    word: _Word, basis: tuple[str, str], text: str, group: str, expressed: str, equivalents: bool
) -> UnitReading:
    stated, notice = basis
    if word.kind in ("water", "other-medium"):
        message = f"The unit {text!r} is not a mass in a mass of solid, so the value cannot be used for sediment."
        return UnitReading(None, stated, code="unit-not-solid", message=message)
    unit = word.unit
    if word.kind == "ambiguous":
        if group != "dioxin":
            message = f"{text!r} may be parts per trillion or per thousand. Write ng/kg or g/kg."
            return UnitReading(None, stated, code="unit-ambiguous", message=message)
        unit, notice = "ng/kg", f"{text!r} is read as parts per trillion by mass, ng/kg."
    elif _key(_ground(text)).startswith("pp") and not notice:
        notice = f"{text!r} is read as parts by mass, {unit}."
    return UnitReading(unit, stated, expressed, equivalents, message=notice)


@lru_cache(maxsize=4096)
def states_unit(text: str) -> bool:
    """Whether ``text`` is a unit that :func:`read_unit` knows, used for sediment or not."""
    if len(text) > LONGEST:
        return False
    ground = _ground(text)
    return _key(ground) not in _EMPTY and _unit_and_basis(_EQUIVALENT.sub("", ground))[0] is not None


def _refuse_unknown(text: str) -> UnitReading:
    near = nearest(_key(_ground(text)), _words(), alike=0.6)
    hint = f" Did you mean {_words()[near[0]].unit or near[0]}?" if near else ""
    return UnitReading(None, code="unit-unknown", message=f"The unit {text!r} is not known.{hint}")


def read_basis(text: str) -> str | None:
    """The basis that ``text`` names: ``dry``, ``wet``, ``oc``, "" for none stated; None for a word that is refused.

    Refused are bases that cannot be brought to dry sediment (lipid, ash-free) and words that are not known.
    """
    key = _basis_key(_ground(text))
    if key in _EMPTY or key.replace("-", "") in _EMPTY:
        return ""
    found = _bases().get(key)
    return None if found is None or found[0] == "refused" else found[0]


def factor(unit_from: str, unit_to: str) -> float | None:
    """What a value in ``unit_from`` is multiplied by to be in ``unit_to``: a power of ten, the double nearest to it.

    None where there is no fixed factor (between moles and mass, or for pH and the like when the two differ).
    A percentage is 10 000 mg/kg. For factors below one :func:`convert` divides by the whole power of ten instead, which
    rounds once less.
    """
    power = _power(unit_from, unit_to)
    if power is None:
        return None
    return float(10**power) if power >= 0 else 1.0 / float(10**-power)


def convert(values: _Values, unit_from: str, unit_to: str) -> _Values:
    """``values`` (number, array or series) in ``unit_to``, rounded once. Raises ValueError without a fixed factor."""
    power = _power(unit_from, unit_to)
    if power is None:
        raise ValueError(f"There is no fixed factor from {unit_from} to {unit_to}.")
    return values * float(10**power) if power >= 0 else values / float(10**-power)


def scaled(values: npt.NDArray[np.float64], factors: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """``values`` times ``factors``, rounded once: a factor that is one over a whole number divides by that number.

    So 71600 ug/kg are 71.6 mg/kg and not 71.60000000000001.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        inverse = np.rint(1.0 / factors)
        divides = (factors < 1.0) & (1.0 / inverse == factors)
        return np.where(divides, values / np.where(divides, inverse, 1.0), values * factors)


def molar_factor(substance: str) -> float | None:
    """The factor that only the substance's molar mass gives, or None.

    For simultaneously extracted metals and acid volatile sulfide: umol/g per mg/kg (one over the molar mass).
    For a substance expressed as another (``Tributyltin (as Sn)``): mass of the substance it stands for per mass stated.
    Molar masses and their source: `guidelines/substances/molar_masses.csv`.
    """
    masses = _molar_masses()
    if substance not in masses:
        return None
    stated_as, mass = masses[substance]
    whole = masses.get(substance.removesuffix(f" (as {stated_as})")) if "(as " in substance else None
    return whole[1] / mass if whole else (None if stated_as == "cation" else 1.0 / mass)


def _ground(text: str) -> str:
    """One spelling of the characters: NFKC, both micro signs as u, minus signs and dashes as hyphen, lower case."""
    folded = unicodedata.normalize("NFKC", str(text)).replace("μ", "u").casefold()
    folded = re.sub("[\u2010-\u2015\u2212]", "-", folded)
    return re.sub(r"\s+", " ", folded).strip().strip("'")


def _key(ground: str) -> str:
    bare = ground.strip()
    if bare[:1] in "([" and bare[-1:] in ")]":
        bare = bare[1:-1]
    return bare.translate(_GROUND)


def _basis_key(ground: str) -> str:
    return ground.strip(_EDGES).translate(_GROUND).replace("-", "").replace("'", "")


def _unit_and_basis(ground: str) -> tuple[_Word | None, tuple[str, str] | None]:
    """The unit word that ``ground`` starts with and the basis that follows it."""
    words = _words()
    whole = words.get(_key(ground))
    if whole is not None:
        return whole, None
    for end in range(len(ground) - 1, 0, -1):
        word = words.get(_key(ground[:end].rstrip(_EDGES)))
        if word is None:
            continue
        basis = _basis_after(ground[end:], word)
        if basis is not None:
            return word, basis
    return None, None


def _basis_after(text: str, word: _Word) -> tuple[str, str] | None:
    """The basis that ``text`` consists of, whether or not the unit is said again; ("", "") if empty, None for more."""
    rest = text.strip(_EDGES)
    if not rest:
        return "", ""
    for end in range(len(rest), 0, -1):
        basis = _bases().get(_basis_key(rest[:end]))
        again = _words().get(_key(rest[:end].strip(_EDGES)))
        if basis is None and (again is None or not again.unit or again != word):
            continue
        more = _basis_after(rest[end:], word)
        if more is None or (basis and basis[0] and more[0] and basis[0] != more[0]):
            continue
        return basis if basis and basis[0] else more
    return None


def _power(unit_from: str, unit_to: str) -> int | None:
    if unit_from == unit_to:
        return 0
    powers = _powers()
    first, second = powers.get(unit_from), powers.get(unit_to)
    if first is None or second is None or first[0] != second[0]:
        return None
    return first[1] - second[1]


@cache
def _words() -> dict[str, _Word]:
    frame = read_table("vocabulary/units.csv")
    return {
        _key(_ground(text)): _Word(unit, kind, int(power) if power else None)
        for text, unit, kind, power in zip(
            frame["text"], frame["unit"], frame["kind"], frame["power_of_ten"], strict=True
        )
    }


@cache
def _powers() -> dict[str, tuple[str, int]]:
    return {word.unit: (word.kind, word.power) for word in _words().values() if word.power is not None}


@cache
def _bases() -> dict[str, tuple[str, str]]:
    frame = read_table("vocabulary/bases.csv")
    return {
        _basis_key(_ground(text)): (basis, note)
        for text, basis, note in zip(frame["text"], frame["basis"], frame["note"], strict=True)
    }


@cache
def _molar_masses() -> dict[str, tuple[str, float]]:
    frame = read_table("substances/molar_masses.csv")
    return {
        name: (stated, float(mass))
        for name, stated, mass in zip(frame["substance"], frame["stated_as"], frame["molar_mass_g_mol"], strict=True)
    }
