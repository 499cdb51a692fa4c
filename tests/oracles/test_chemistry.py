"""Structures, molar masses and shares of elements against chemistry libraries: rdkit, molmass and periodictable.

A test skips, with the reason, where its library is not installed.
"""

from __future__ import annotations

import itertools
from collections import Counter

import pytest

from screen.reference.congeners import Structure, read_structure
from screen.reference.folding import fold
from screen.reference.locate import read_table
from screen.reference.rules import sum_rules
from screen.stages.compare.homologs import chlorines_of

MASSES = read_table("substances/molar_masses.csv").to_dict("records")
CATIONS = {"Tributyltin": "C12H27Sn", "Dibutyltin": "C8H18Sn", "Monobutyltin": "C4H9Sn"}
#: Of each share of tin: the total and its member.
SHARES = [
    (row["total"], row["substance"], row["weight"])
    for row in sum_rules().members.to_dict("records")
    if row["total"] in ("organotins-tin", "tributyltin-tin")
]


def structures() -> dict[int, Structure]:
    """The structure of every congener, from the systematic names of the list."""
    found: dict[int, Structure] = {}
    for row in read_table("substances/synonyms.csv").to_dict("records"):
        own = read_structure(fold(row["name"])) if row["substance"].startswith("PCB-") else None
        if own:
            found[int(row["substance"].removeprefix("PCB-"))] = own
    return found


def smiles(structure: Structure) -> str:
    """A line notation: two benzene rings joined at their first atoms, chlorine where the structure has it."""
    rings = []
    for number, places in enumerate(structure, 1):
        atoms = [f"c{number if place == 6 else ''}{'(Cl)' if place in places else ''}" for place in range(2, 7)]
        rings.append(f"c{number}{''.join(atoms)}")
    first = rings[0].replace("c1", "c1(-X)", 1)
    return first.replace("X", rings[1])


def test_structures_are_distinct_and_all_there_are() -> None:
    chem = pytest.importorskip("rdkit.Chem", reason="rdkit is not installed")
    ours = [chem.CanonSmiles(smiles(own)) for own in structures().values()]
    places = [(ring, place) for ring in (0, 1) for place in range(2, 7)]
    every = set()
    for size in range(1, 11):
        for chosen in itertools.combinations(places, size):
            rings = [tuple(place for ring, place in chosen if ring == side) for side in (0, 1)]
            every.add(chem.CanonSmiles(smiles((rings[0], rings[1]))))
    assert len(every) == 209
    assert sorted(ours) == sorted(every)


def test_chlorines_by_number() -> None:
    chem = pytest.importorskip("rdkit.Chem", reason="rdkit is not installed")
    counts: Counter[int] = Counter()
    for number, own in structures().items():
        atoms = [atom.GetSymbol() for atom in chem.MolFromSmiles(smiles(own)).GetAtoms()]
        assert atoms.count("C") == 12
        assert atoms.count("Cl") == chlorines_of(number)
        counts[atoms.count("Cl")] += 1
    assert [counts[one] for one in range(1, 11)] == [3, 12, 24, 42, 46, 42, 24, 12, 3, 1]


def formula(row: dict[str, str]) -> str:
    return CATIONS[row["substance"]] if row["stated_as"] == "cation" else row["stated_as"]


@pytest.mark.parametrize("row", MASSES, ids=lambda row: row["substance"])
def test_molar_masses(row: dict[str, str]) -> None:
    """The atomic weight of sulfur is an interval, 32.059 to 32.076; libraries take different points of it."""
    molmass = pytest.importorskip("molmass", reason="molmass is not installed")
    assert float(row["molar_mass_g_mol"]) == pytest.approx(molmass.Formula(formula(row)).mass, rel=2e-4)


@pytest.mark.parametrize("row", MASSES, ids=lambda row: row["substance"])
def test_molar_masses_by_a_second_library(row: dict[str, str]) -> None:
    periodictable = pytest.importorskip("periodictable", reason="periodictable is not installed")
    assert float(row["molar_mass_g_mol"]) == pytest.approx(periodictable.formula(formula(row)).mass, rel=1e-4)


@pytest.mark.parametrize(("total", "member", "weight"), SHARES)
def test_shares_of_tin(total: str, member: str, weight: float) -> None:
    molmass = pytest.importorskip("molmass", reason="molmass is not installed")
    expected = molmass.Formula("Sn").mass / molmass.Formula(CATIONS[member]).mass
    assert weight == pytest.approx(expected, rel=1e-4), total
