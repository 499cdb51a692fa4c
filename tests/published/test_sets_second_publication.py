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
    "france-2014-marine": ("after the order of 17.7.2014", "text of the same order of 2013 to 2014"),
    "france-2014-fresh": ("after the order of 17.7.2014", "text of the same order of 2013 to 2014"),
    "anzg-2018": ("course data", "Book chapters"),
    "uk-cefas-marine": ("Port of London Authority", "independent restatement"),
}
UNCHECKED = [
    "belgium-marine",
    "china-2002-marine",
    "consensus-2000-fresh",
    "epa-1996-eqp",
    "epa-2003-fresh",
    "epa-2003-marine",
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


#: mg/kg in the text of the French order of 2013 to 2014: N1 and N2 of the seven congeners, all lowered since.
FRANCE_BEFORE = {
    "PCB-28": (0.025, 0.05),
    "PCB-52": (0.025, 0.05),
    "PCB-101": (0.05, 0.1),
    "PCB-118": (0.025, 0.05),
    "PCB-138": (0.05, 0.1),
    "PCB-153": (0.05, 0.1),
    "PCB-180": (0.025, 0.05),
}


@pytest.mark.parametrize("congener", FRANCE_BEFORE)
def test_the_french_congeners_are_those_of_the_later_text(congener: str) -> None:
    for level, before in zip(("N1", "N2"), FRANCE_BEFORE[congener], strict=True):
        assert value("france-2014-marine", congener, level) < 1000 * before


def test_tributyltin_is_as_the_earlier_french_text_prints_it() -> None:
    """0,1 and 0,4 mg/kg there, kept here in ug/kg."""
    assert [value("france-2014-marine", "Tributyltin", level) for level in ("N1", "N2")] == [100, 400]


#: DGV and GV-high of ten metals, mg/kg: course data and book chapters of one author; a script has seven of them.
METALS = {
    "Antimony": (2.0, 25),
    "Arsenic": (20, 70),
    "Cadmium": (1.5, 10),
    "Chromium": (80, 370),
    "Copper": (65, 270),
    "Lead": (50, 220),
    "Mercury": (0.15, 1.0),
    "Nickel": (21, 52),
    "Silver": (1.0, 4.0),
    "Zinc": (200, 410),
}


@pytest.mark.parametrize("metal", METALS)
def test_metals_of_australia_and_new_zealand(metal: str) -> None:
    assert tuple(value("anzg-2018", metal, level) for level in ("DGV", "GV-high")) == METALS[metal]


# Table 2 of a survey of river sediment (open-access article PMC3353313) prints TEL and PEL, mg/kg.
@pytest.mark.parametrize(
    ("metal", "tel", "pel"),
    [
        ("Arsenic", 5.9, 17),
        ("Cadmium", 0.6, 3.5),
        ("Chromium", 37.3, 90),
        ("Copper", 35.7, 197),
        ("Mercury", 0.17, 0.49),
        ("Lead", 35, 91),
        ("Zinc", 123, 315),
    ],
)
def test_canadian_freshwater_metals_in_a_third_text(metal: str, tel: float, pel: float) -> None:
    assert (value("ccme-fresh", metal, "ISQG"), value("ccme-fresh", metal, "PEL")) == (
        pytest.approx(tel, abs=0.0051),
        pytest.approx(pel, abs=0.51),
    )


def test_divisors_of_a_marine_index_are_these_levels() -> None:
    """Fairey et al. 2001, abstract as stored: Cd 4.21, Ag 1.77 (PELs), Cu 270, Zn 410 (ERMs), mg/kg."""
    assert value("macdonald-1996-marine", "Cadmium", "PEL") == 4.21
    assert value("macdonald-1996-marine", "Silver", "PEL") == 1.77
    assert value("long-1995-marine", "Copper", "ERM") == 270
    assert value("long-1995-marine", "Zinc", "ERM") == 410


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
