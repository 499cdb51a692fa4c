"""An input that changes while it is read: the digest in the record is that of what was read, or the file is refused."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest
from harness import Outcome

from screen.settings import Settings
from screen.stages.read.cells.files import find_sheets, read_grids
from tests.robust.sheets import whole_files


@pytest.mark.parametrize("name", sorted(whole_files()))
def test_a_file_changed_after_its_digest_is_refused(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(whole_files()[name])
    (source,), _ = find_sheets([path])
    path.write_bytes(whole_files()[name].replace(b"QE-01", b"QE-07"))
    grids, problems = read_grids(source, Settings())
    assert (grids, [(one.code, one.severity) for one in problems]) == ([], [("changed", "file")])


def test_a_file_that_goes_away_is_one_message(tmp_path: Path) -> None:
    path = tmp_path / "lab.csv"
    path.write_bytes(whole_files()["lab.csv"])
    (source,), _ = find_sheets([path])
    path.unlink()
    grids, problems = read_grids(source, Settings())
    assert grids == []
    assert [one.severity for one in problems] == ["file"]


@pytest.mark.parametrize("name", sorted(whole_files()))
def test_the_record_has_the_digest_of_what_was_read(
    screen_files: Callable[..., Outcome], tmp_path: Path, name: str
) -> None:
    path = tmp_path / name
    path.write_bytes(whole_files()[name])
    run = screen_files([path], "--water", "fresh")
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    assert run.record["inputs"] == [{"path": name, "sha256": digest, "bytes": path.stat().st_size}]
