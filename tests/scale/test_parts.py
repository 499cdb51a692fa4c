"""A batch gives the same bytes however many parts it is cut into (invented sheets)."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pandas as pd
import pytest

from screen.pipeline import screened
from screen.settings import Settings
from tests.scale.split_batch import split_batch, written


@pytest.fixture(params=[1, 2], ids=["one order", "another order"])
def batch(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[list[Path], Settings]:
    """The split batch with its rows in two orders."""
    return split_batch(tmp_path, request.param)


@pytest.mark.parametrize("size", [1, 40, 150])
def test_parts_give_the_bytes_of_one_part(batch: tuple[list[Path], Settings], size: int, tmp_path: Path) -> None:
    whole = written(*batch, 1 << 20, tmp_path)
    parts = written(*batch, size, tmp_path)
    assert [name for name in whole if whole[name] != parts.get(name)] == []
    assert parts.keys() == whole.keys()


def test_a_workbook_does_not_tell_how_a_batch_was_cut(tmp_path: Path) -> None:
    paths, settings = split_batch(tmp_path, 1)
    full = dataclasses.replace(settings, tables_only=False, date="2026-05-12")
    whole, parts = written(paths, full, 1 << 20, tmp_path), written(paths, full, 90, tmp_path)
    assert [name for name in whole if whole[name] != parts.get(name)] == []


def test_a_run_in_parts_has_the_same_frames(batch: tuple[list[Path], Settings], tmp_path: Path) -> None:
    one = screened(*batch, tmp_path / "one").whole()
    many = screened(*batch, tmp_path / "many", size=30).whole()
    for name in ("results", "ledger", "lab_totals", "qc", "refused"):
        first, second = (getattr(run.batch, name).astype(object) for run in (one, many))
        pd.testing.assert_frame_equal(first, second, obj=name)
