"""Organotins stated as the mass of tin: brought to the cation, and said so.

290.058 / 118.71 = 2.44342 (IUPAC standard atomic weights; the name list asks for 2.44 before any comparison).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import read_sheets

from screen.model import Batch

_HEAD = ["Sample", "Analyte", "Result", "Unit", "Basis"]
_RATIO = 290.058 / 118.71


def _one(batch: Batch) -> dict[str, object]:
    rows = batch.results.astype(object).to_dict("records")
    assert len(rows) == 1
    return {str(name): value for name, value in rows[0].items()}


@pytest.mark.parametrize(
    ("name", "unit"),
    [("TBT as Sn", "ug/kg"), ("Tributyltin (as Sn)", "ug Sn/kg"), ("Tributyltin", "ug Sn/kg"), ("TBT-Sn", "ug/kg")],
)
def test_a_mass_of_tin_becomes_a_mass_of_the_cation_once(tmp_path: Path, name: str, unit: str) -> None:
    row = _one(read_sheets(tmp_path, [_HEAD, ["S1", name, 12.5, unit, "dry"]]))
    assert row["substance"] == "Tributyltin"
    assert row["read_value"] * row["factor"] == pytest.approx(12.5 * _RATIO, rel=1e-12)


def test_the_limit_is_brought_to_the_cation_too(tmp_path: Path) -> None:
    row = _one(read_sheets(tmp_path, [_HEAD, ["S1", "TBT as Sn", "<2", "ug/kg", "dry"]]))
    assert row["read_limit"] * row["factor"] == pytest.approx(2 * _RATIO, rel=1e-12)


def test_the_cation_stays(tmp_path: Path) -> None:
    row = _one(read_sheets(tmp_path, [_HEAD, ["S1", "Tributyltin", 12.5, "ug/kg", "dry"]]))
    assert row["read_value"] * row["factor"] == 12.5


@pytest.mark.parametrize(("name", "unit"), [("TBT as Sn", "ug/kg"), ("Tributyltin", "ug Sn/kg")])
def test_what_was_done_is_said(tmp_path: Path, name: str, unit: str) -> None:
    batch = read_sheets(tmp_path, [_HEAD, ["S1", name, 12.5, unit, "dry"]])
    assert [one.message for one in batch.problems if "2.443" in one.message]


def test_a_unit_of_tin_for_another_substance_is_refused(tmp_path: Path) -> None:
    batch = read_sheets(tmp_path, [_HEAD, ["S1", "Lead", 12.5, "mg Sn/kg", "dry"]])
    assert not len(batch.results)
    assert "unit-expressed" in {one.code for one in batch.problems}
