"""The 209 chlorinated biphenyls: their number, order and structure.

Sources: Ballschmiter and Zell 1980, Fresenius Z. Anal. Chem. 302:20-31 (numbering by chlorine number); Mullin and
others 1984, Environ. Sci. Technol. 18:468-476 (all 209); Mills, Thal and Barney 2007, Chemosphere 68:1603-1612
(corrections). The counts of isomers follow from the symmetry of the molecule and are worked out here anew.
"""

import itertools
from collections import Counter

import pytest

from screen.reference.congeners import RENUMBERED, read_structure
from screen.reference.folding import fold
from screen.reference.locate import read_table
from screen.reference.names import name_book
from screen.reference.substances import table

COUNTS = (3, 12, 24, 42, 46, 42, 24, 12, 3, 1)


def structures():
    """Number and structure of every congener, from the systematic names of the list."""
    found = {}
    for _, row in read_table("substances/synonyms.csv").iterrows():
        structure = read_structure(fold(row["name"])) if row["substance"].startswith("PCB-") else None
        if structure:
            found.setdefault(int(row["substance"][4:]), set()).add(structure)
    return found


def test_there_are_209_in_ascending_order():
    names = [name for name, group in table()["group"].items() if group == "pcb-congener" and name.startswith("PCB-")]
    assert names == [f"PCB-{number}" for number in range(1, 210)]


def test_every_congener_has_one_structure_and_no_two_the_same():
    found = structures()
    assert sorted(found) == list(range(1, 210))
    assert all(len(each) == 1 for each in found.values())
    assert len(set.union(*found.values())) == 209


def test_they_are_all_the_structures_there_are():
    mirror = {2: 6, 3: 5, 4: 4, 5: 3, 6: 2}
    rings = {
        min(ring, tuple(sorted(mirror[place] for place in ring)))
        for size in range(6)
        for ring in itertools.combinations(range(2, 7), size)
    }
    every = {tuple(sorted(pair)) for pair in itertools.product(rings, rings)} - {((), ())}
    assert len(every) == 209
    assert set.union(*structures().values()) == every


def test_homologs_have_as_many_congeners_as_published_in_unbroken_ranges():
    chlorines = [sum(map(len, next(iter(each)))) for _, each in sorted(structures().items())]
    assert tuple(Counter(chlorines)[number] for number in range(1, 11)) == COUNTS
    assert chlorines == sorted(chlorines)


@pytest.mark.parametrize(
    ("number", "structure"),
    # WHO twelve and ICES seven by name (Van den Berg and others 2006; OSPAR CEMP).
    [
        (28, "2,4,4'-trichlorobiphenyl"),
        (52, "2,2',5,5'-tetrachlorobiphenyl"),
        (101, "2,2',4,5,5'-pentachlorobiphenyl"),
        (138, "2,2',3,4,4',5'-hexachlorobiphenyl"),
        (153, "2,2',4,4',5,5'-hexachlorobiphenyl"),
        (180, "2,2',3,4,4',5,5'-heptachlorobiphenyl"),
        (77, "3,3',4,4'-tetrachlorobiphenyl"),
        (81, "3,4,4',5-tetrachlorobiphenyl"),
        (126, "3,3',4,4',5-pentachlorobiphenyl"),
        (169, "3,3',4,4',5,5'-hexachlorobiphenyl"),
        (105, "2,3,3',4,4'-pentachlorobiphenyl"),
        (114, "2,3,4,4',5-pentachlorobiphenyl"),
        (118, "2,3',4,4',5-pentachlorobiphenyl"),
        (123, "2,3',4,4',5'-pentachlorobiphenyl"),
        (156, "2,3,3',4,4',5-hexachlorobiphenyl"),
        (157, "2,3,3',4,4',5'-hexachlorobiphenyl"),
        (167, "2,3',4,4',5,5'-hexachlorobiphenyl"),
        (189, "2,3,3',4,4',5,5'-heptachlorobiphenyl"),
    ],
)
def test_congeners_of_published_lists(number, structure):
    assert name_book().resolve(structure).substance == f"PCB-{number}"


# Mills, Thal and Barney 2007: structure and registry number of the six that lists number differently.
@pytest.mark.parametrize(
    ("structure", "cas", "number"),
    [
        ("2,3,3',4',5-pentachlorobiphenyl", "70424-68-9", 107),
        ("2,3,3',4,5'-pentachlorobiphenyl", "70362-41-3", 108),
        ("2,3,3',4,6-pentachlorobiphenyl", "74472-35-8", 109),
        ("2,2',3,3',4,5,5',6'-octachlorobiphenyl", "52663-75-9", 199),
        ("2,2',3,3',4,5,6,6'-octachlorobiphenyl", "52663-73-7", 200),
        ("2,2',3,3',4,5',6,6'-octachlorobiphenyl", "40186-71-8", 201),
    ],
)
def test_the_six_whose_numbers_depend_on_the_list(structure, cas, number):
    assert name_book().resolve(structure, cas).substance == f"PCB-{number}"
    assert f"PCB-{number}" in RENUMBERED
