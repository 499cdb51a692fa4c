"""Which sets were checked against a second publication, which restate another set, and which are unchecked."""

from __future__ import annotations

import pytest

from screen.reference.sets import builtin_ids, load_set

#: The set, the publication that its figures were keyed from, and the other one that they were compared with.
CHECKED = {
    "long-1995-marine": ("NOAA 1999", "NOAA 2008"),
    "macdonald-1996-marine": ("NOAA 2008", "British Columbia"),
    "smith-1996-fresh": ("NOAA 2008", "British Columbia"),
    "ccme-fresh": ("British Columbia", "NOAA 2008"),
    "ccme-marine": ("British Columbia", "NOAA 2008"),
    "washington-marine": ("WAC 173-204-320", "British Columbia"),
    "ontario-1993-fresh": ("NOAA 2008", "British Columbia"),
    "ospar-sediment": ("UK CSEMP", "European Topic Centre"),
    "japan-2002-fresh": ("National Institute for Environmental Studies", "Suzuka"),
    "japan-2002-marine": ("National Institute for Environmental Studies", "Suzuka"),
    "uk-cefas-marine": ("Port of London Authority", "independent restatement"),
}
UNCHECKED = [
    "anzg-2018",
    "belgium-marine",
    "china-2002-marine",
    "consensus-2000-fresh",
    "epa-1996-eqp",
    "epa-2003-fresh",
    "epa-2003-marine",
    "france-2014-fresh",
    "france-2014-marine",
    "germany-2009-marine",
    "hong-kong-2002-marine",
    "korea-marine",
    "long-morgan-1990-marine",
    "netherlands-2015-delta",
    "netherlands-2015-marine",
    "norway-2020-marine",
    "nysdec-2014-fresh",
    "nysdec-2014-marine",
    "spain-2015-marine",
    "washington-fresh",
    "washington-marine-dry",
    "wisconsin-2003-fresh",
]


@pytest.mark.parametrize("name", list(CHECKED))
def test_both_publications_are_named(name: str) -> None:
    one = load_set(name)
    first, second = CHECKED[name]
    assert first in one.citation + one.second
    assert second in one.second


def test_all_other_sets_are_listed_as_unchecked() -> None:
    assert [name for name in builtin_ids() if not load_set(name).second] == UNCHECKED


@pytest.mark.parametrize("name", ["japan-2002-fresh", "japan-2002-marine"])
def test_two_pages_print_the_japanese_standards(name: str) -> None:
    """150 pg TEQ/g and 10 ppm of PCBs: the National Institute for Environmental Studies, and one other page each."""
    assert value(name, "Dioxin and PCB TEQ", "standard") == 150
    assert value(name, "Total PCBs", "standard") == 10


def value(name: str, substance: str, level: str) -> float:
    return float(load_set(name).rows.set_index(["substance", "level"]).loc[(substance, level), "value"])


@pytest.mark.parametrize("substance", ["Arsenic", "Cadmium", "Chromium", "Copper", "Lead", "Nickel", "Zinc"])
def test_new_york_fresh_metals_round_the_consensus_figures(substance: str) -> None:
    # New York 2014 is from memory; that it lies within rounding of TEC and PEC is what can be checked of it.
    for theirs, ours in (("Class A", "TEC"), ("Class C", "PEC")):
        rounded = pytest.approx(value("consensus-2000-fresh", substance, ours), rel=0.025)
        assert value("nysdec-2014-fresh", substance, theirs) == rounded


@pytest.mark.parametrize("substance", ["Benzo(k)fluoranthene", "Benzo(g,h,i)perylene", "Indeno(1,2,3-cd)pyrene"])
def test_wisconsin_adds_the_ontario_figures_at_one_per_cent_carbon(substance: str) -> None:
    assert value("wisconsin-2003-fresh", substance, "TEC") == value("ontario-1993-fresh", substance, "LEL")
    sel_ug_kg = value("ontario-1993-fresh", substance, "SEL") * 1000 * 0.01
    assert value("wisconsin-2003-fresh", substance, "PEC") == pytest.approx(sel_ug_kg, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "substance", "log_koc", "fcv_ug_l"),
    [
        ("epa-2003-fresh", "Dieldrin", 5.28, 0.06589),
        ("epa-2003-marine", "Dieldrin", 5.28, 0.1469),
        ("epa-2003-fresh", "Endrin", 4.97, 0.05805),
        ("epa-2003-marine", "Endrin", 4.97, 0.01057),
    ],
)
def test_epa_benchmarks_follow_from_their_partitioning(
    name: str, substance: str, log_koc: float, fcv_ug_l: float
) -> None:
    # EPA-600-R-02-010 and -009: Koc times final chronic value; all numbers from memory, so this shows they agree.
    assert value(name, substance, "ESB") == pytest.approx(10**log_koc * fcv_ug_l / 1000, rel=0.06)
