"""Levels of a guideline set, and the basis that a substance is compared on: in go a set and samples, out come factors.

Every level is brought to the unit of the substance or total. A substance whose levels share a basis is compared on it;
one whose levels stand on different bases is compared on dry weight, by the carbon (or aluminium) of the sample.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts
from screen.reference.rules import SumRules
from screen.reference.set_files import read_basis_word
from screen.reference.substances import describe
from screen.stages.sums.peaks import unit_factor

if TYPE_CHECKING:
    from screen.reference.sets import GuidelineSet

__all__ = ["DRY", "EVIDENCE", "Carbon", "Levels", "OnBasis", "kinds_of", "levels_of", "on_basis"]

DRY = "dry"
PER_CARBON = "mg/kg OC"
#: From the strongest mark to the weakest.
EVIDENCE = ("seen", "own", "from_memory", "conflict")


@dataclass(frozen=True, slots=True)
class Levels:
    """The levels of one set as arrays over its substances (rows, in the set's order) and level names (columns).

    ``figure`` is in ``unit`` of the substance, except for basis ``oc``: mg per kg carbon. ``basis`` and ``evidence``
    are codes into ``bases`` and EVIDENCE (-1 for no level). ``lower`` and ``upper`` are columns, -1 for none.
    ``sums``: ids by substance and kind of measurement.
    """

    substances: Texts
    names: tuple[str, ...]
    figure: Floats
    basis: Codes
    bases: tuple[str, ...]
    evidence: Codes
    lower: int
    upper: int
    unit: Texts
    group: Texts
    sums: dict[int, tuple[tuple[str, ...], ...]]


def kinds_of(chosen: GuidelineSet, substance: str) -> tuple[tuple[str, ...], ...]:
    """The ids of totals for a guideline sum: one tuple for each kind of measurement, in the order of preference."""
    return chosen.sums.get(substance, ())


def levels_of(chosen: GuidelineSet, rules: SumRules) -> Levels:
    """The levels of ``chosen``. A level in a unit that cannot be converted is left out."""
    rows = chosen.rows
    substances = list(dict.fromkeys(rows["substance"].astype(object)))
    place = {name: i for i, name in enumerate(substances)}
    names = tuple(chosen.levels)
    facts = describe(substances)
    units, groups = facts["unit"].to_numpy(dtype=object).copy(), facts["group"].to_numpy(dtype=object).copy()
    sums = {}
    for name, i in place.items():
        kinds = kinds_of(chosen, name)
        if kinds:
            sums[i] = kinds
            units[i], groups[i] = rules.totals.loc[kinds[0][0], "unit"], rules.totals.loc[kinds[0][0], "group"]
    shape = (len(substances), len(names))
    figure = np.full(shape, np.nan)
    basis, evidence = np.full(shape, -1, dtype=np.int64), np.full(shape, -1, dtype=np.int64)
    bases: dict[str, int] = {DRY: 0}
    for row in rows.astype(object).to_dict("records"):
        value = row["value"]
        if value is None or value != value:
            continue
        i, j = place[row["substance"]], names.index(row["level"])
        on = row["basis"] if isinstance(row["basis"], str) and row["basis"] else chosen.basis
        wanted = "mg/kg" if on == "oc" else str(units[i])
        figure[i, j] = float(value) * unit_factor(str(row["unit"]).removesuffix(" OC"), wanted)
        if np.isnan(figure[i, j]):
            continue
        basis[i, j] = bases.setdefault(on, len(bases))
        mark = str(row["evidence"]).split(":")[0].split(" ")[0]
        evidence[i, j] = EVIDENCE.index(mark) if mark in EVIDENCE else EVIDENCE.index("own")
    return Levels(
        np.array(substances, dtype=object),
        names,
        figure,
        basis,
        tuple(bases),
        evidence,
        names.index(chosen.lower) if chosen.lower else -1,
        names.index(chosen.upper) if chosen.upper else -1,
        units,
        groups,
        sums,
    )


@dataclass(frozen=True, slots=True)
class Carbon:
    """What each sample is normalised by: per cent organic carbon and aluminium, NaN where not known."""

    carbon: Floats
    aluminium: Floats


@dataclass(frozen=True, slots=True)
class OnBasis:
    """Factors and levels of rows on the basis they are compared on.

    ``scale``: what a figure on dry weight is multiplied by. ``levels`` (rows, names): on that basis. ``basis`` and
    ``unit``: codes into the bases of the set and ``units``. ``why``: codes into ``reasons``, why a row has no number
    here (-1: it has). ``outside``: carbon out of the set's range with another set to take its place. ``note``: codes
    into ``notes``, -1 for none.
    """

    scale: Floats
    levels: Floats
    basis: Codes
    unit: Codes
    units: Texts
    why: Codes
    reasons: list[str]
    outside: Flags
    note: Codes
    notes: list[str]


def on_basis(levels: Levels, chosen: GuidelineSet, about: Carbon, sample: Codes, place: Codes) -> OnBasis:
    """The basis of each row: ``sample`` indexes ``about``, ``place`` the set's substances.

    C_oc = C / foc in mg per kg carbon; to N per cent carbon or aluminium: C x N / found (OSPAR 2009; ANZG 2018).
    """
    rows = len(place)
    kinds = [read_basis_word(one) for one in levels.bases]
    has = levels.basis >= 0
    first = np.where(has, levels.basis, len(levels.bases)).min(axis=1)
    last = np.where(has, levels.basis, -1).max(axis=1)
    mixed = first != last
    basis = np.where(mixed, 0, first)[place]
    carbon_kind = np.array([kind == "oc" for kind, _ in kinds], dtype=bool)
    al_kind = np.array([kind == "al" for kind, _ in kinds], dtype=bool)
    needs_carbon = (has & np.append(carbon_kind, False)[levels.basis]).any(axis=1)[place]
    needs_al = (has & np.append(al_kind, False)[levels.basis]).any(axis=1)[place]
    part_kind = np.array([kind == "below" for kind, _ in kinds], dtype=bool)
    of_a_part = (has & np.append(part_kind, False)[levels.basis]).any(axis=1)[place]

    found, aluminium = about.carbon[sample], about.aluminium[sample]
    low, high = chosen.toc_range or (-np.inf, np.inf)
    out = needs_carbon & ((found < low) | (found > high))
    carbon = np.clip(found, low, high) if chosen.toc_outside == "clamp" else found
    reasons = [
        "no organic carbon is known",
        f"organic carbon is outside {low:g} to {high:g} %",
        "no aluminium is known",
        "the level is for a fine fraction, the result for whole sediment",
    ]
    why = np.full(rows, -1, dtype=np.int64)
    why[needs_al & np.isnan(aluminium)] = 2
    if chosen.toc_outside != "clamp":
        why[out] = 1
    why[needs_carbon & np.isnan(found)] = 0
    why[of_a_part] = 3
    another = chosen.toc_outside not in (None, "", "clamp", "not-assessed")

    to_mg = np.array([unit_factor(unit, "mg/kg") for unit in levels.unit])[place]
    scale = np.ones(rows)
    for code, (kind, percent) in enumerate(kinds):
        on = (basis == code) & ~mixed[place]
        if kind == "oc":
            scale[on] = to_mg[on] * 100.0 / carbon[on] if percent is None else percent / carbon[on]
        elif kind == "al":
            scale[on] = (percent or 1.0) / aluminium[on]
    figure = levels.figure[place]
    turned = mixed[place]
    if turned.any():
        figure[turned] = _to_dry(levels, kinds, place[turned], carbon[turned], aluminium[turned], to_mg[turned])
    note, notes = _notes(levels, mixed, place, out & (chosen.toc_outside == "clamp") & (why < 0), found, carbon)
    note = np.where(why < 0, note, -1)  # nothing was converted where there is no number
    units = np.append(levels.unit, PER_CARBON)
    per_carbon = np.array([kind == "oc" and percent is None for kind, percent in kinds], dtype=bool)[basis] & ~turned
    unit = np.where(per_carbon, len(levels.unit), place)
    return OnBasis(scale, figure, basis, unit, units, why, reasons, out & another, note, notes)


def _to_dry(
    levels: Levels, kinds: list[tuple[str, float | None]], place: Codes, carbon: Floats, al: Floats, to_mg: Floats
) -> Floats:
    figure, basis = levels.figure[place], levels.basis[place]
    for code, (kind, percent) in enumerate(kinds):
        if kind == "oc":
            by = carbon / 100.0 / to_mg if percent is None else carbon / percent
        elif kind == "al":
            by = al / (percent or 1.0)
        else:
            continue
        figure = np.where(basis == code, figure * by[:, None], figure)
    return figure


def _notes(
    levels: Levels, mixed: Flags, place: Codes, clamped: Flags, found: Floats, carbon: Floats
) -> tuple[Codes, list[str]]:
    """Which levels were converted, and carbon that was taken as the nearer end of the range."""
    of_aluminium = np.array([read_basis_word(one)[0] == "al" for one in levels.bases], dtype=bool)
    turned = []
    for i in range(len(levels.substances)):
        names = [levels.names[j] for j in range(len(levels.names)) if levels.basis[i, j] > 0]
        by = "aluminium" if of_aluminium[levels.basis[i][levels.basis[i] > 0]].any() else "organic carbon"
        said = f"{' and '.join(names)} converted to dry weight by the {by} of the sample"
        turned.append(said if mixed[i] and names else "")
    note = np.where(mixed[place], place, -1).astype(np.int64)
    if not clamped.any():
        return note, turned
    keys = pd.MultiIndex.from_arrays([note[clamped], found[clamped], carbon[clamped]])
    codes, distinct = pd.factorize(keys)
    more = []
    for own, was, taken in distinct:
        text = f"organic carbon of {was:g} % counted as {taken:g} %, the nearer end of the range"
        more.append(f"{turned[own]}; {text}" if own >= 0 else text)
    note[clamped] = codes + len(turned)
    return note, turned + more
