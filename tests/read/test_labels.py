"""Labels above a table: several in one cell, and what is said beside them (common practice, no source)."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import figures, read_sheets

from screen.model import Batch

_TABLE = [["Parameter", "Units", "LW-1", "LW-2"], ["Copper", "mg/kg", 22, 65], ["Lead", "mg/kg", 30, 110]]


def _basis(batch: Batch) -> set[str]:
    return set(batch.results["reported_basis"].astype(object).dropna()) - {""}


def _codes(batch: Batch) -> set[str]:
    return {one.code for one in batch.problems}


@pytest.mark.parametrize(
    "text",
    [
        "Matrix: Sediment   Results on dry weight basis",
        "Matrix: Sediment | All results in dry weight",
        "Matrix:  Sediment\nResults are reported on a dry weight basis",
        "Client: Harbour Board\nMatrix: Sediment\nBasis: dry weight",
        "Project: Dredge 2026; Matrix: Sediment; Basis: dry",
        "Results on dry weight basis   Matrix: Sediment",
    ],
)
def test_what_stands_beside_a_label_in_its_cell_is_read(tmp_path: Path, text: str) -> None:
    batch = read_sheets(tmp_path, [[text], [], *_TABLE])
    assert _basis(batch) == {"dry"}
    assert "medium-unknown" not in _codes(batch)


def test_two_labels_in_one_cell_are_two_labels(tmp_path: Path) -> None:
    rows = [["Units: ug/kg dry    Matrix: Sediment"], ["Parameter", "LW-1"], ["Pyrene", 20], ["Fluoranthene", 30]]
    batch = read_sheets(tmp_path, rows)
    assert figures(batch) == {("LW-1", "Pyrene"): 20.0, ("LW-1", "Fluoranthene"): 30.0}
    assert _basis(batch) == {"dry"}


def test_a_medium_in_words_of_its_own_stays_whole(tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, [["Matrix: Harbour mud, grey"], [], *_TABLE])
    told = [one.message for one in batch.problems if one.code == "medium-unknown"]
    assert len(told) == 1
    assert "'Harbour mud, grey'" in told[0]


def test_a_label_is_no_note(tmp_path: Path) -> None:
    batch = read_sheets(
        tmp_path, [["Sample ID: dry weight shed 3"], [], ["Parameter", "Result", "Units"], ["Lead", 9, "mg/kg"]]
    )
    assert _basis(batch) == set()
