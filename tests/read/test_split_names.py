"""A comma in a name that stands without quotes in a comma-separated file: never a figure of the next column."""

from __future__ import annotations

from pathlib import Path

import pytest
from sheets_by_hand import figures

from screen.model import Batch
from screen.stages.read.batch import read


def batch_of(folder: Path, text: str) -> Batch:
    path = folder / "lab.csv"
    path.write_text(text, encoding="utf-8")
    return read([path])


def test_what_stands_before_the_cut_name_is_read(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, "Sample,Lead (mg/kg dry),4,4'-DDD,Zinc,Copper\nAB-1,40,5,30,7\nAB-2,20,6,31,8\n")
    assert figures(batch) == {("AB-1", "Lead"): 40.0, ("AB-2", "Lead"): 20.0}
    told = next(one for one in batch.problems if one.code == "unquoted-comma")
    assert (told.row, told.column) == (1, "C")
    assert "4,4'-DDD" in told.text


def test_a_slipped_row_is_left_out(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, "Analyte,Units,AB-1,AB-2\nLead,mg/kg dry,4,5\n2,3,7,8-TCDD,ng/kg dry,7,8\n")
    assert figures(batch) == {("AB-1", "Lead"): 4.0, ("AB-2", "Lead"): 5.0}
    assert "unquoted-comma" in {one.code for one in batch.problems}


def test_without_a_table_the_name_is_told(tmp_path: Path) -> None:
    batch = batch_of(tmp_path, "Sample,Lead,4,4'-DDD,4,4'-DDE\nUnits,mg/kg dry,ug/kg dry,ug/kg dry\nAB-1,40,5,3\n")
    assert batch.results.empty
    assert "unquoted-comma" in {one.code for one in batch.problems}


@pytest.mark.parametrize("name", ["4,4'-DDD", "2,3,7,8-TCDD", "1,2,3,4,6,7,8-HpCDD"])
def test_a_quoted_name_is_read(name: str, tmp_path: Path) -> None:
    batch = batch_of(tmp_path, f'Sample,Lead (mg/kg dry),"{name}"\nUnits,,ng/kg dry\nAB-1,40,5\n')
    assert len(batch.results) == 2
    assert not batch.problems
