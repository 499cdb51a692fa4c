"""ERL and ERM against a second text.

Keyed from: NOAA 1999, Sediment Quality Guidelines developed for the National Status and Trends Program (6/12/99),
Tables 1 and 2, which restates Long, MacDonald, Smith and Calder 1995. Second text: the ERL and ERM columns that the
Casco Bay Estuary Partnership keeps in its sediment data, 1991 to 2011 (read from the folder of SILTMARK_OPEN_DATA).
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from screen.reference.sets import load_set

FILES = ("casco_bay_metals.csv", "casco_bay_pahs.csv")


@pytest.mark.open_data
@pytest.mark.parametrize("level", ["ERL", "ERM"])
def test_levels_of_the_survey_are_ours(open_data: Path, level: str) -> None:
    survey = pd.concat([pd.read_csv(open_data / name, dtype=str, keep_default_na=False) for name in FILES])
    theirs = survey[(survey[level] != "NA") & (survey["CASRN"] != "NA")].drop_duplicates("CASRN")
    rows = load_set("long-1995-marine").rows
    ours = rows[rows["level"] == level].set_index("cas")["value"]
    pairs = {
        cas: (float(text), float(ours[cas]))
        for cas, text in zip(theirs["CASRN"], theirs[level], strict=True)
        if cas in ours
    }
    assert len(pairs) >= 22
    assert {cas: pair for cas, pair in pairs.items() if pair[0] != pair[1]} == {}


def test_the_lead_row_is_not_shifted() -> None:
    # NOAA 1999 Table 1 sets the lead row one column to the left; read by column it gives 218 and 8.0.
    rows = load_set("long-1995-marine").rows.set_index(["substance", "level"])["value"]
    assert (rows["Lead", "ERL"], rows["Lead", "ERM"]) == (46.7, 218.0)


def test_the_totals_are_those_of_noaa_2008() -> None:
    # NOAA 2008, Screening Quick Reference Tables, OR&R Report 08-1, p. 12 (ppb dry weight).
    rows = load_set("long-1995-marine").rows.set_index(["substance", "level"])["value"]
    expected = {"Low PAHs": (552, 3160), "High PAHs": (1700, 9600), "Total PAHs": (4022, 44792)}
    expected |= {"Total PCBs": (22.7, 180), "Total DDTs": (1.58, 46.1)}
    assert {name: (rows[name, "ERL"], rows[name, "ERM"]) for name in expected} == expected


def test_figures_of_1990_are_kept_apart() -> None:
    dropped = set(load_set("long-morgan-1990-marine").rows["substance"])
    assert dropped == {"Chlordane", "Dieldrin", "4,4'-DDD", "4,4'-DDT", "Antimony", "Endrin"}
    assert not dropped & set(load_set("long-1995-marine").rows["substance"])


def test_ospar_rounds_the_same_figures() -> None:
    # OSPAR Agreement 2009-2 takes its ERLs from Long et al. 1995, rounded.
    ours = load_set("long-1995-marine").rows.query("level == 'ERL'").set_index("substance")["value"]
    ospar = load_set("ospar-sediment").rows.query("level == 'ERL'").set_index("substance")["value"]
    both = ours.index.intersection(ospar.index)
    assert len(both) >= 14
    assert {name for name in both if abs(ospar[name] - ours[name]) / ours[name] > 0.01} == set()
