"""Ontario LEL and SEL against two other texts.

Source: Persaud, Jaagumagi and Hayton 1993. NOAA 2008, Screening Quick Reference Tables, OR&R Report 08-1, pp. 8-12,
prints the SELs of organics in ppb: the figure per carbon at 1 % carbon. British Columbia's open guideline data (2020
and 2023) print ug/g, the SELs at 1 % carbon, most with a note mark 1 run into the figure (0.081 for 0.08).
"""

from __future__ import annotations

import pytest

from screen.reference.sets import load_set

NOAA_PPB = [
    ("Aldrin", "80"),
    ("Total HCH", "120"),
    ("alpha-BHC", "100"),
    ("beta-BHC", "210"),
    ("gamma-BHC (Lindane)", "10"),
    ("Chlordane", "60"),
    ("Total DDTs", "120"),
    ("Sum DDT", "710"),
    ("4,4'-DDD", "60"),
    ("4,4'-DDE", "190"),
    ("Dieldrin", "910"),
    ("Endrin", "1300"),
    ("Hexachlorobenzene", "240"),
    ("Heptachlor epoxide", "50"),
    ("Mirex", "1300"),
    ("Total PCBs", "5300"),
    ("Aroclor 1254", "340"),
    ("Anthracene", "3700"),
    ("Benz(a)anthracene", "14800"),
    ("Benzo(k)fluoranthene", "13400"),
    ("Benzo(a)pyrene", "14400"),
    ("Benzo(g,h,i)perylene", "3200"),
    ("Chrysene", "4600"),
    ("Dibenz(a,h)anthracene", "1300"),
    ("Fluoranthene", "10200"),
    ("Fluorene", "1600"),
    ("Indeno(1,2,3-cd)pyrene", "3200"),
    ("Phenanthrene", "9500"),
    ("Pyrene", "8500"),
    ("Total PAHs", "100000"),
]
BRITISH_COLUMBIA = [
    ("Aldrin", "LEL", "0.0021"),
    ("Aldrin", "SEL", "0.081"),
    ("Total HCH", "LEL", "0.0031"),
    ("Total HCH", "SEL", "0.121"),
    ("alpha-BHC", "LEL", "0.0061"),
    ("alpha-BHC", "SEL", "0.101"),
    ("beta-BHC", "LEL", "0.0051"),
    ("beta-BHC", "SEL", "0.211"),
    ("Hexachlorobenzene", "SEL", "0.241"),
    ("Mirex", "LEL", "0.0071"),
    ("Mirex", "SEL", "1.31"),
    ("Benzo(k)fluoranthene", "LEL", "0.24"),
    ("Benzo(k)fluoranthene", "SEL", "13.41"),
    ("Benzo(g,h,i)perylene", "LEL", "0.17"),
    ("Benzo(g,h,i)perylene", "SEL", "3.21"),
    ("Indeno(1,2,3-cd)pyrene", "LEL", "0.2"),
    ("Indeno(1,2,3-cd)pyrene", "SEL", "3.21"),
    ("Aroclor 1248", "LEL", "0.031"),
    ("Aroclor 1248", "SEL", "1.51"),
    ("Aroclor 1016", "LEL", "0.0071"),
    ("Aroclor 1016", "SEL", "0.531"),
    ("Aroclor 1260", "LEL", "0.0051"),
    ("Aroclor 1260", "SEL", "0.241"),
]
WITHOUT_MARK = {"0.24", "0.17", "0.2"}


@pytest.mark.parametrize(("substance", "ppb"), NOAA_PPB)
def test_sel_at_one_per_cent_carbon_is_what_noaa_prints(substance: str, ppb: str) -> None:
    row = load_set("ontario-1993-fresh").rows.set_index(["substance", "level"]).loc[(substance, "SEL")]
    assert (row["unit"], row["basis"]) == ("mg/kg", "oc")
    assert row["value"] * 1000 * 0.01 == pytest.approx(float(ppb), rel=1e-12)


@pytest.mark.parametrize(("substance", "level", "printed"), BRITISH_COLUMBIA)
def test_what_british_columbia_prints(substance: str, level: str, printed: str) -> None:
    row = load_set("ontario-1993-fresh").rows.set_index(["substance", "level"]).loc[(substance, level)]
    dry_ug_kg = row["value"] * 1000 * 0.01 if row["basis"] == "oc" else row["value"]
    shown = printed if printed in WITHOUT_MARK else printed.removesuffix("1")
    assert dry_ug_kg == pytest.approx(float(shown) * 1000, rel=1e-12)


def test_carbon_above_ten_per_cent_counts_as_ten() -> None:
    # From memory of the 1993 text; no lower end is stated.
    one = load_set("ontario-1993-fresh")
    assert (one.toc_range, one.toc_outside) == ((0.0, 10.0), "clamp")
