"""Whatever texts, sheets, batches and field records hold: no exception, no cell lost, no result without an entry."""

from __future__ import annotations

import csv
import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from screen.pipeline import NothingReadError, run
from screen.settings import Settings
from tests.robust.damage import LONGEST_SECONDS, within
from tests.robust.long import try_files, try_texts
from tests.robust.parsers import PARSERS
from tests.robust.strategies import Rows, batches, field_records
from tests.robust.texts import near_texts

#: How much of the long suite the gate takes.
TEXTS, FILES = 3_000, 60


@pytest.mark.parametrize("name", sorted(PARSERS))
@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(text=near_texts)
def test_any_text(name: str, text: str) -> None:
    PARSERS[name](text)


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(sheets=batches, field=field_records)
def test_any_batch(sheets: list[Rows], field: Rows) -> None:
    with tempfile.TemporaryDirectory() as folder, within(LONGEST_SECONDS):
        paths = []
        for number, rows in enumerate([field, *sheets]):
            paths.append(Path(folder, f"{number}.csv"))
            with paths[-1].open("w", encoding="utf-8", errors="replace", newline="") as stream:
                csv.writer(stream).writerows(rows)
        try:
            done = run(paths[1:], None, Settings(field=(paths[0],)))
        except NothingReadError as error:
            assert all(one.message for one in error.problems)
            return
    assert done.record["conserved"]
    numbers = done.batch.results[["value", "limit", "low", "high"]].to_numpy(dtype=np.float64)
    assert not np.isinf(numbers).any()


def test_a_sample_of_the_long_suite_texts() -> None:
    assert try_texts(TEXTS, seed=20).failed == []


def test_a_sample_of_the_long_suite_files() -> None:
    assert try_files(FILES, seed=21).failed == []
