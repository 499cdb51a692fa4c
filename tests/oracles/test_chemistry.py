"""Structures, molar masses and shares of elements against chemistry libraries: rdkit, molmass, periodictable
and chemicals.

A test skips, with the reason, where its library is not installed.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter

import pytest

from screen.reference.congeners import Structure, read_structure
from screen.reference.folding import fold
from screen.reference.locate import read_table
from screen.reference.rules import sum_rules
from screen.reference.substances import table
from screen.stages.compare.indices.homologs import chlorines_of

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


def _looked_up(cas: str) -> object | None:
    """What the chemicals library holds under a registry number, None where it does not know it."""
    chemicals = pytest.importorskip("chemicals", reason="chemicals is not installed")
    try:
        return chemicals.search_chemical(cas)
    except ValueError:
        return None


def test_registry_numbers_of_congeners_belong_to_their_structures() -> None:
    """By structure key; the library knows more than half of the 209 and contradicts none."""
    chem = pytest.importorskip("rdkit.Chem", reason="rdkit is not installed")
    numbers = table()["cas"]
    known = 0
    for number, structure in structures().items():
        found = _looked_up(str(numbers[f"PCB-{number}"]))
        if found is not None:
            known += 1
            key = chem.MolToInchiKey(chem.MolFromSmiles(smiles(structure)))
            assert str(found.InChI_key).removeprefix("InChIKey=") == key, number  # type: ignore[attr-defined]
    assert known > 100


def atoms(formula: str) -> dict[str, int]:
    """The atoms of a formula without brackets."""
    return {symbol: int(count or 1) for symbol, count in re.findall(r"([A-Z][a-z]?)(\d*)", formula)}


SINGLES = table()[(table()["kind"] == "single") & (table()["cas"] != "")]


def formulas(group: str) -> dict[str, dict[str, int]]:
    """The atoms of each single substance of a group, as far as the library knows its registry number."""
    own = SINGLES[SINGLES["group"] == group]["cas"]
    found = {str(name): _looked_up(str(cas)) for name, cas in own.items()}
    return {name: atoms(str(one.formula)) for name, one in found.items() if one is not None}  # type: ignore[attr-defined]


def test_registry_numbers_of_elements_are_those_of_the_element() -> None:
    elements = pytest.importorskip("periodictable", reason="periodictable is not installed").elements
    symbols = {one.name: one.symbol for one in elements if one.number}
    own = formulas("metal")
    pairs = {name: symbols.get(name.lower()) for name in own}
    assert sum(symbol is not None for symbol in pairs.values()) >= 20
    assert {name for name, symbol in pairs.items() if symbol and own[name] != {symbol: 1}} == set()


def test_dioxins_and_furans_have_as_many_chlorines_as_their_names_say() -> None:
    own = formulas("dioxin")
    named = {name: len(name.split("-")[0].split(",")) for name in own if re.match(r"[\d,]+-", name)}
    assert len(named) >= 10
    assert {name: own[name]["Cl"] for name in named} == named
    assert {name: own[name]["O"] for name in named} == {name: 2 if name.endswith("CDD") else 1 for name in named}


def test_parent_hydrocarbons_are_of_carbon_and_hydrogen_only() -> None:
    own = formulas("pah")
    sixteen = sum_rules().members[sum_rules().members["total"] == "pah-16"]["substance"].astype(str)
    assert set(sixteen) <= set(own)
    assert {name for name in sixteen if set(own[name]) != {"C", "H"}} == set()


@pytest.mark.parametrize(
    ("substance", "formula"),
    [
        ("4,4'-DDT", "C14H9Cl5"), ("4,4'-DDE", "C14H8Cl4"), ("4,4'-DDD", "C14H10Cl4"), ("2,4'-DDT", "C14H9Cl5"),
        ("Dieldrin", "C12H8Cl6O"), ("Endrin", "C12H8Cl6O"), ("gamma-BHC (Lindane)", "C6H6Cl6"),
        ("Heptachlor epoxide", "C10H5Cl7O"), ("Hexachlorobenzene", "C6Cl6"),
        ("Bis(2-ethylhexyl) phthalate", "C24H38O4"), ("Naphthalene", "C10H8"), ("Benzo(a)pyrene", "C20H12"),
        ("Pentachlorophenol", "C6HCl5O"),
    ],
)  # fmt: skip
def test_registry_numbers_of_organics_have_their_formula(substance: str, formula: str) -> None:
    """Formulas are general knowledge; the library tells no stereoisomers apart by name, so the number is looked up."""
    found = _looked_up(str(table()["cas"][substance]))
    if found is None:
        pytest.skip(f"the library does not know the number of {substance}")
    assert atoms(str(found.formula)) == atoms(formula)  # type: ignore[attr-defined]
