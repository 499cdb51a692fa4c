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


def test_every_column_of_the_shares_of_congeners() -> None:
    """Detected 17 of three chlorines; a trace of 1 to 3 of two; a limit of 4 of four: 18 in all, at most 24."""
    rows = [("S", f"PCB-{number}", "1") for number in range(16, 33)]
    table = shares([*rows, ("S", "PCB-40", "<4"), ("S", "PCB-4", "trace 1-3")])
    assert table.index.tolist() == ["ratio-homolog-2", "ratio-homolog-3", "ratio-homolog-4"]
    assert table["value"].tolist() == pytest.approx([100 / 18, 1700 / 18, 0])
    assert table["low"].tolist() == pytest.approx([100 / 22, 1700 / 24, 0])
    assert table["high"].tolist() == pytest.approx([300 / 20, 1700 / 18, 400 / 22])
    for name, text in {
        "sample": "S", "station": "S", "unit": "%", "members": "19 congeners", "evidence": "seen",
        "set_or_source": "share of the measured congeners; Aroclors: NOAA 2008, OR&R Report 08-1, p. 28",
    }.items():  # fmt: skip
        assert set(table[name]) == {text}
    assert table["substance"].isna().all()
    assert table["class"].isna().all()


def test_an_unknown_limit_leaves_the_bounds_open() -> None:
    rows = [("S", f"PCB-{number}", "1") for number in range(16, 34)]
    table = shares([*rows, ("S", "PCB-40", "ND")])
    assert table["value"].tolist() == [100.0, 0.0]
    assert table["low"].tolist() == [0.0, 0.0]
    assert table["high"].tolist() == [100.0, 100.0]


def test_reported_sums_say_so_and_name_no_count() -> None:
    table = shares([("S", f"Total {word}chlorobiphenyls", "2") for word in WORDS])
    assert table.index.tolist() == [f"ratio-homolog-{number}" for number in range(1, 11)]
    assert set(table["members"]) == {"the reported homolog sums"}
    assert table["value"].tolist() == table["low"].tolist() == table["high"].tolist() == [10.0] * 10


def test_nine_of_ten_homolog_sums_are_no_distribution() -> None:
    assert shares([("S", f"Total {word}chlorobiphenyls", "2") for word in WORDS[:9]]).empty


def test_eighteen_congeners_are_enough_and_a_peak_counts_each_of_its_own() -> None:
    rows = [("S", f"PCB-{number}", "1") for number in range(16, 32)]
    assert shares(rows).empty
    assert set(shares([*rows, ("S", "PCB-66/95", "6")])["members"]) == {"18 congeners"}


def test_without_anything_detected_there_is_no_share() -> None:
    assert shares([("S", f"PCB-{number}", "<1") for number in range(16, 40)]).empty


def test_each_sample_by_itself_and_congeners_that_are_not_used_left_out() -> None:
    rows = [(sample, f"PCB-{number}", "1") for sample in "ST" for number in range(16, 34)]
    table = shares([*rows, ("T", "PCB-40", "18"), ("T", "PCB-41", "99 R")])
    found = {
        (sample, index): value
        for index, sample, value in zip(table.index, table["sample"], table["value"], strict=True)
    }
    assert found == {("S", "ratio-homolog-3"): 100.0, ("T", "ratio-homolog-3"): 50.0, ("T", "ratio-homolog-4"): 50.0}


def test_the_notes_tell_what_was_printed_for_the_aroclors() -> None:
    rows = [("S", f"PCB-{number}", "1") for number in [*range(1, 17), 206, 209]]
    notes = shares([*rows, ("S", "PCB-66/95", "6")])["note"]
    warning = "patterns weather, and a partial list distorts them"
    assert notes["ratio-homolog-mixed"] == "peaks that span chlorine numbers"
    assert notes["ratio-homolog-10"] == f"10 chlorines; none printed for the Aroclors; {warning}"
    first, second = (notes[f"ratio-homolog-{number}"] for number in (1, 2))
    made = "1221 65.5 %, 1232 31.3 %, 1016 trace, 1242 trace"
    assert first == f"1 chlorine; weight of it in Aroclors as made: {made}; {warning}"
    assert second.startswith("2 chlorines; weight of it in Aroclors as made: ")
