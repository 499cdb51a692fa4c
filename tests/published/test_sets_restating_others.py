"""Sets without a second publication, against other sets whose figures they take over.

That one set takes over or rounds the figures of another is from memory, where a note of the set does not say it. An
agreement shows that neither was mistyped; it is no second publication, and the sets stay listed as unchecked.
"""

from __future__ import annotations

import re

import pytest

from screen.reference.sets import load_set


def pair(name: str, substance: str) -> list[float]:
    rows = load_set(name).rows
    return [float(value) for value in rows[rows["substance"] == substance]["value"]]


def two_figures(values: list[float]) -> list[float]:
    return [float(f"{value:.2g}") for value in values]


METALS = ("Arsenic", "Cadmium", "Chromium", "Copper", "Lead", "Mercury", "Nickel", "Silver", "Zinc")


@pytest.mark.parametrize("metal", METALS)
def test_new_york_marine_metals_are_erl_and_erm_to_two_figures(metal: str) -> None:
    assert pair("nysdec-2014-marine", metal) == two_figures(pair("long-1995-marine", metal))


@pytest.mark.parametrize("metal", ["Arsenic", "Chromium", "Copper", "Lead", "Nickel", "Zinc"])
def test_upper_values_of_australia_and_new_zealand_are_erms_to_two_figures(metal: str) -> None:
    """The ten metals of ANZG 2018 were read; As, Cr, Cu, Pb, Ni and Zn go back to the ERMs of Long et al. 1995."""
    assert pair("anzg-2018", metal)[1] == two_figures(pair("long-1995-marine", metal))[1]


def test_antimony_of_1990_is_printed_twice_more() -> None:
    """Long and Morgan 1990 is from memory; ANZG 2018 (read) has the same pair, and Wisconsin 2003 (from memory)."""
    assert pair("long-morgan-1990-marine", "Antimony") == pair("anzg-2018", "Antimony") == [2, 25]
    assert pair("wisconsin-2003-fresh", "Antimony") == [2, 25]


@pytest.mark.parametrize("substance", ["Low PAHs", "High PAHs", "Total PCBs"])
def test_hong_kong_organics_are_erl_and_erm_to_two_or_three_figures(substance: str) -> None:
    lower, upper = pair("long-1995-marine", substance)
    assert pair("hong-kong-2002-marine", substance) == [*two_figures([lower]), upper]


@pytest.mark.parametrize(
    ("substance", "other"),
    [("Manganese", "ontario-1993-fresh"), ("Acenaphthene", "ccme-fresh"), ("Acenaphthylene", "ccme-fresh")],
)
def test_wisconsin_takes_over_pairs_of_other_sets(substance: str, other: str) -> None:
    """As the set's notes say: Ontario's manganese as it is, the Canadian pairs rounded."""
    assert pair("wisconsin-2003-fresh", substance) == pytest.approx(pair(other, substance), rel=0.01)


def test_wisconsin_takes_over_marine_methylnaphthalene_and_ontario_iron() -> None:
    assert pair("wisconsin-2003-fresh", "2-Methylnaphthalene") == pair("macdonald-1996-marine", "2-Methylnaphthalene")
    assert pair("wisconsin-2003-fresh", "Iron") == [20000, 40000]
    assert pair("ontario-1993-fresh", "Iron") in ([20000, 40000], [2, 4])


LAET = load_set("washington-marine-dry").rows
NOAA = {
    (row["substance"], row["value"]): float(found[1].replace(",", ""))
    for row in LAET[LAET["level"] == "LAET"].to_dict("records")
    if (found := re.search(r"gives a lowest AET of ([\d,.]*\d)", row["note"]))
}


def test_no_laet_lies_below_the_lowest_aet_that_noaa_prints() -> None:
    """NOAA 2008, OR&R Report 08-1, pp. 8-12: the lowest of more tests, so a recalled LAET cannot be lower."""
    assert len(NOAA) >= 20
    assert {name: value for (name, value), noaa in NOAA.items() if value < noaa} == {}
