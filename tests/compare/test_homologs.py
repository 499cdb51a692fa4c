"""Shares of PCBs by chlorine number."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import batch_of

from screen.settings import Settings
from screen.stages.compare.indices.homologs import chlorines_of
from screen.stages.compare.indices.indices import indices
from screen.stages.normalise import normalise
from screen.stages.sums import total

WORDS = ("Mono", "Di", "Tri", "Tetra", "Penta", "Hexa", "Hepta", "Octa", "Nona", "Deca")


def shares(rows: list[tuple[Any, ...]]) -> pd.DataFrame:
    batch = normalise(batch_of(rows))
    table = indices(batch, total(batch.results), [], Settings()).set_index("index")
    return table[table.index.str.startswith("ratio-homolog")]


def test_the_count_of_congeners_by_chlorine_number() -> None:
    """3, 12, 24, 42, 46, 42, 24, 12, 3, 1: how many patterns of chlorine on biphenyl there are."""
    found = [chlorines_of(number) for number in range(1, 210)]
    assert [found.count(number) for number in range(1, 11)] == [3, 12, 24, 42, 46, 42, 24, 12, 3, 1]
    assert found == sorted(found)


def test_reported_homolog_sums_go_before_congeners() -> None:
    rows = [("S", f"Total {word}chlorobiphenyls", str(place)) for place, word in enumerate(WORDS, 1)]
    table = shares([*rows, *(("S", f"PCB-{number}", "7") for number in range(1, 30))])
    assert table["value"].tolist() == pytest.approx([100 * place / 55 for place in range(1, 11)])
    assert (table["set_or_source"].str.contains("reported homolog sums")).all()


def test_a_short_list_makes_no_distribution() -> None:
    assert shares([("S", f"PCB-{number}", "1") for number in (28, 52, 101, 118, 138, 153, 180)]).empty


def test_a_peak_of_two_chlorine_numbers_stands_alone() -> None:
    rows = [("S", f"PCB-{number}", "1") for number in range(16, 34)]
    table = shares([*rows, ("S", "PCB-66/95", "6")])
    assert table.loc["ratio-homolog-mixed", "value"] == pytest.approx(25)
    assert "ratio-homolog-4" not in table.index


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(("{}", "<{}")), st.integers(1, 500)), min_size=18, max_size=30))
def test_shares_add_up_and_lie_within_their_bounds(figures: list[tuple[str, int]]) -> None:
    table = shares([("S", f"PCB-{7 * place + 1}", kind.format(one)) for place, (kind, one) in enumerate(figures)])
    if len(table):
        assert table["value"].sum() == pytest.approx(100)
    assert (table["low"] <= table["value"] + 1e-9).all()
    assert (table["value"] <= table["high"] + 1e-9).all()
