"""TEC and PEC by a second hand.

The figures in the set were keyed from NOAA 2008, Screening Quick Reference Tables, OR&R Report 08-1 (seen). Those below
are recalled from MacDonald, Ingersoll and Berger 2000, Arch. Environ. Contam. Toxicol. 39:20-31, its own tables of TECs
and PECs: from memory, so the set stays listed as unchecked against a second publication.
"""

from __future__ import annotations

import pytest

from screen.reference.sets import load_set

#: mg/kg for metals, ug/kg for all else: TEC and PEC.
RECALLED: dict[str, tuple[float, float | None]] = {
    "Arsenic": (9.79, 33.0), "Cadmium": (0.99, 4.98), "Chromium": (43.4, 111), "Copper": (31.6, 149),
    "Lead": (35.8, 128), "Mercury": (0.18, 1.06), "Nickel": (22.7, 48.6), "Zinc": (121, 459),
    "Anthracene": (57.2, 845), "Fluorene": (77.4, 536), "Naphthalene": (176, 561), "Phenanthrene": (204, 1170),
    "Benz(a)anthracene": (108, 1050), "Benzo(a)pyrene": (150, 1450), "Chrysene": (166, 1290),
    "Dibenz(a,h)anthracene": (33.0, None), "Fluoranthene": (423, 2230), "Pyrene": (195, 1520),
    "Total PAHs": (1610, 22800), "Total PCBs": (59.8, 676), "Chlordane": (3.24, 17.6), "Dieldrin": (1.90, 61.8),
    "Sum DDD": (4.88, 28.0), "Sum DDE": (3.16, 31.3), "Sum DDT": (4.16, 62.9), "Total DDTs": (5.28, 572),
    "Endrin": (2.22, 207), "Heptachlor epoxide": (2.47, 16.0), "gamma-BHC (Lindane)": (2.37, 4.99),
}  # fmt: skip


@pytest.mark.parametrize("substance", RECALLED)
def test_recalled_figures_agree(substance: str) -> None:
    rows = load_set("consensus-2000-fresh").rows
    own = rows[rows["substance"] == substance].set_index("level")["value"]
    tec, pec = RECALLED[substance]
    assert own.get("TEC") == tec
    assert own.get("PEC") == pec


def test_all_figures_of_the_set_are_among_them() -> None:
    rows = load_set("consensus-2000-fresh").rows
    assert set(rows["substance"]) == set(RECALLED)
    assert len(rows) == sum(pec is not None for _, pec in RECALLED.values()) + len(RECALLED)
