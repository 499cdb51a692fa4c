"""Canadian ISQG and PEL, and the TEL and PEL of 1996, each against the other's text.

Canadian figures: Canadian Council of Ministers of the Environment 2002, read in the open guideline data of British
Columbia (13 January 2020 and 13 July 2023). TEL and PEL: MacDonald et al. 1996 (marine) and Smith et al. 1996 (fresh),
read in NOAA 2008, Screening Quick Reference Tables, OR&R Report 08-1. They were derived alike, and NOAA calls its
columns the Canadian ones: where the two texts differ it is by rounding, and each such case is listed here.
"""

from __future__ import annotations

import pytest

from screen.reference.sets import load_set

#: substance, (Canada, 1996): all differences between the two texts.
ROUNDED = {
    ("ccme-marine", "macdonald-1996-marine"): {
        ("Cadmium", "lower"): (0.7, 0.68),
        ("Cadmium", "upper"): (4.2, 4.21),
        ("Lead", "lower"): (30.2, 30.24),
        ("Dieldrin", "lower"): (0.71, 0.72),
        ("Total PCBs", "lower"): (21.5, 21.6),
    },
    ("ccme-fresh", "smith-1996-fresh"): {
        ("Cadmium", "lower"): (0.6, 0.596),
        ("Cadmium", "upper"): (3.5, 3.53),
        ("Mercury", "lower"): (0.17, 0.174),
        ("Chlordane", "upper"): (8.87, 8.9),
    },
}


def figures(name: str) -> dict[tuple[str, str], tuple[float, str]]:
    one = load_set(name)
    place = {one.lower: "lower", one.upper: "upper"}
    return {
        (row.substance, place[row.level]): (row.value, row.unit)
        for row in one.rows[one.rows["level"].isin(place)].itertuples()
    }


@pytest.mark.parametrize(("canada", "other"), list(ROUNDED))
def test_the_two_texts_differ_only_by_rounding(canada: str, other: str) -> None:
    first, second = figures(canada), figures(other)
    both = first.keys() & second.keys()
    assert len(both) >= 40
    differ = {key: (first[key][0], second[key][0]) for key in both if first[key] != second[key]}
    assert differ == ROUNDED[canada, other]


@pytest.mark.parametrize("name", ["ccme-fresh", "ccme-marine"])
def test_dioxins_are_nanograms_of_fish_equivalents(name: str) -> None:
    # British Columbia prints the same numbers under ug/g, NOAA 2008 p. 8 as 0.00085 and 0.0215 ppb.
    one = load_set(name)
    rows = one.rows[one.rows["substance"] == "Dioxin TEQ"]
    assert list(zip(rows["level"], rows["value"], rows["unit"], strict=True)) == [
        ("ISQG", 0.85, "ng/kg"),
        ("PEL", 21.5, "ng/kg"),
    ]
    assert one.sums["Dioxin TEQ"] == (("teq-1998-fish",),)


def test_a_level_that_is_blank_stays_blank() -> None:
    # NOAA 2008 p. 9: the PEC of dibenz(a,h)anthracene is blank; 135 is the Canadian PEL.
    rows = load_set("consensus-2000-fresh").rows
    assert rows.loc[rows["substance"] == "Dibenz(a,h)anthracene", "level"].tolist() == ["TEC"]
    rows = load_set("ccme-fresh").rows
    assert rows.loc[rows["substance"] == "Toxaphene", "level"].tolist() == ["ISQG"]
