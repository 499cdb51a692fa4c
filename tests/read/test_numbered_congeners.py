"""Congeners that a header row gives by their numbers alone (intake handbook 5.3; sheets invented)."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import Rows, figures, read_sheets

ACROSS: Rows = [
    ["PCB congeners, ng/g dry weight"],
    ["Sample", 8, 18, "28/31", 52],
    ["AB-1", 1.5, "<1", 3, 4],
    ["AB-2", 2.5, 2, 3, 5],
]


def test_numbers_across_a_congener_sheet_are_congeners(tmp_path: Path) -> None:
    found = figures(read_sheets(tmp_path, ACROSS))
    assert len(found) == 8
    assert (found["AB-1", "PCB-8"], found["AB-1", "PCB-18"], found["AB-2", "PCB-28/31"]) == (1.5, "<1", 3.0)


@pytest.mark.parametrize("title", ["Metals, mg/kg dry weight", ""])
def test_elsewhere_they_are_not(title: str, tmp_path: Path) -> None:
    assert read_sheets(tmp_path, [[title], *ACROSS[1:]]).results.empty


def test_numbers_above_named_congeners_are_samples(tmp_path: Path) -> None:
    rows = [ACROSS[0], ["Congener", 1, 2, 3, 4], ["PCB-8", 1, 2, 3, 4], ["PCB-18", 1, 2, 3, 4]]
    assert set(read_sheets(tmp_path, rows).results["sample"]) == {"1", "2", "3", "4"}


def test_numbers_both_ways_are_refused(tmp_path: Path) -> None:
    rows = [ACROSS[0], ["Congener", 1, 2, 3, 4], [8, 1, 2, 3, 4], [18, 1, 2, 3, 4], [28, 1, 2, 3, 4]]
    assert read_sheets(tmp_path, rows).results.empty
