"""Files that once broke reading, as the long suite found them: each is refused in words, at once."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from tests.robust.damage import read_damaged

FILES = sorted((Path(__file__).parent / "damaged").iterdir())


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_a_file_that_once_broke_reading(path: Path) -> None:
    if path.suffix == ".parquet" and importlib.util.find_spec("pyarrow") is None:
        pytest.skip("pyarrow is not installed")
    batch, _ = read_damaged(path)
    assert [(one.code, one.severity) for one in batch.problems] == [("cut-off", "file")]
