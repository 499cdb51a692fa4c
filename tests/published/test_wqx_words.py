"""Words that cite the open water-quality exchange standard stand in its lists, letter for letter.

Source: WQX 3.0 domain lists (public), read from the folder that SILTMARK_OPEN_DATA names.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from screen.reference.locate import read_table

pytestmark = pytest.mark.open_data
CITED = "WQX 3.0 domain list, "
LISTS = {
    ("sample_types", "activity type"): "ActivityType",
    ("media", "medium"): "ActivityMedia",
    ("media", "medium subdivision"): "ActivityMediaSubdivision",
    ("fractions", "sample fraction"): "SampleFraction",
    ("limit_kinds", "detection and quantitation limit type"): "DetectionQuantitationLimitType",
}


def listed(open_data: Path, name: str) -> set[str]:
    path = open_data / "wqx_vocabulary" / f"{name}.csv"
    return set(pd.read_csv(path, dtype=str, keep_default_na=False)["value"])


@pytest.mark.parametrize(("table", "kind"), LISTS)
def test_what_is_cited_stands_in_the_list(table: str, kind: str, open_data: Path) -> None:
    frame = read_table(f"vocabulary/{table}.csv")
    own = set(frame.loc[frame["source"] == CITED + kind, "text"])
    assert own
    assert own <= listed(open_data, LISTS[table, kind])


@pytest.mark.parametrize("table", sorted({table for table, _ in LISTS}))
def test_no_other_list_is_cited(table: str) -> None:
    sources = read_table(f"vocabulary/{table}.csv")["source"]
    cited = {one.removeprefix(CITED) for one in sources if one.startswith(CITED)}
    assert cited <= {kind for own, kind in LISTS if own == table}


@pytest.mark.parametrize(("table", "kind"), [("fractions", "sample fraction"), ("media", "medium")])
def test_every_word_of_a_short_list_is_known(table: str, kind: str, open_data: Path) -> None:
    known = set(read_table(f"vocabulary/{table}.csv")["text"].str.casefold())
    assert {one.casefold() for one in listed(open_data, LISTS[table, kind])} <= known
