"""The output folder is complete or absent, and only our own folders are replaced."""

from __future__ import annotations

import pytest

from screen.output import OutputRefusedError, check_output, earlier_path, whole_folder


def write_run(folder, text="new"):
    folder.mkdir(exist_ok=True)
    (folder / "run.json").write_text(text, encoding="utf-8")


def test_folder_appears_whole(tmp_path):
    with whole_folder(tmp_path / "out", overwrite=False) as work:
        write_run(work)
        assert not (tmp_path / "out").exists()
    assert [one.name for one in tmp_path.iterdir()] == ["out"]
    assert (tmp_path / "out" / "run.json").read_text(encoding="utf-8") == "new"


def test_error_leaves_nothing(tmp_path):
    with pytest.raises(RuntimeError, match="broken"), whole_folder(tmp_path / "out", overwrite=False) as work:
        write_run(work)
        raise RuntimeError("broken")
    assert list(tmp_path.iterdir()) == []


def test_error_keeps_the_earlier_folder(tmp_path):
    write_run(tmp_path / "out", "earlier")
    with pytest.raises(RuntimeError, match="broken"), whole_folder(tmp_path / "out", overwrite=True) as work:
        write_run(work)
        raise RuntimeError("broken")
    assert (tmp_path / "out" / "run.json").read_text(encoding="utf-8") == "earlier"
    assert [one.name for one in tmp_path.iterdir()] == ["out"]


def test_overwrite_replaces_a_run(tmp_path):
    write_run(tmp_path / "out", "earlier")
    (tmp_path / "out" / "old.txt").write_text("old", encoding="utf-8")
    with whole_folder(tmp_path / "out", overwrite=True) as work:
        write_run(work)
    assert sorted(one.name for one in (tmp_path / "out").iterdir()) == ["run.json"]
    assert not earlier_path(tmp_path / "out").exists()


def test_empty_folder_is_filled(tmp_path):
    (tmp_path / "out").mkdir()
    with whole_folder(tmp_path / "out", overwrite=False) as work:
        write_run(work)
    assert (tmp_path / "out" / "run.json").is_file()


def test_run_without_overwrite_is_refused(tmp_path):
    write_run(tmp_path / "out")
    with pytest.raises(OutputRefusedError, match="--overwrite"):
        check_output(tmp_path / "out", overwrite=False)


def test_foreign_folder_is_refused_even_with_overwrite(tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "thesis.docx").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputRefusedError, match="nothing in it is touched"):
        check_output(tmp_path / "out", overwrite=True)


def test_file_in_the_way_is_refused(tmp_path):
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputRefusedError, match="not a folder"):
        check_output(tmp_path / "out", overwrite=True)


def test_missing_parent_is_refused(tmp_path):
    with pytest.raises(OutputRefusedError, match="does not exist"):
        check_output(tmp_path / "no" / "out", overwrite=False)
