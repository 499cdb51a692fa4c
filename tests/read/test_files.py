"""Finding inputs: the content decides, and what cannot be read becomes one plain message."""

from __future__ import annotations

import os
from pathlib import Path

import openpyxl
import pytest

from screen.settings import Settings
from screen.stages.read.cells.files import find_sheets, read_grids

TABLE = "Sample,Analyte,Result\nQE-1,Lead,5\nQE-2,Zinc,6\n"


def workbook(path: Path) -> Path:
    book = openpyxl.Workbook()
    book.active["A1"] = "Sample"
    book.save(path)
    return path


def read_all(*paths: Path) -> tuple[list[str], list[tuple[str, str, str]]]:
    sources, problems = find_sheets(paths)
    shown = []
    for source in sources:
        grids, more = read_grids(source, Settings())
        problems += more
        shown += [source.shown] if grids else []
    return shown, [(problem.severity, problem.code, problem.file) for problem in problems]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty"),
        (b"  \n\n", "empty"),
        (b"<html><table><tr><td>1</td></tr></table></html>", "web-page"),
        (b"Dear client, the results follow by post.\nYours truly\n", "no-table"),
        (b"a,b\n1,\x00\n", "nul-characters"),
        (b"PK\x03\x04 cut", "cut-off"),
        (b"%PDF-1.7 ...", "not-a-sheet"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"), "locked"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "WordDocument".encode("utf-16-le"), "not-a-sheet"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "Workbook".encode("utf-16-le"), "cut-off"),
        (b"PAR1 cut", "cut-off"),
        (bytes(range(1, 32)) * 40, "not-a-sheet"),
    ],
)
def test_what_is_no_sheet_becomes_one_message(tmp_path, content, code):
    path = tmp_path / "lab.xlsx"
    path.write_bytes(content)
    assert read_all(path) == ([], [("file", code, "lab.xlsx")])


def test_a_cut_off_workbook_is_one_message(tmp_path):
    path = workbook(tmp_path / "lab.xlsx")
    path.write_bytes(path.read_bytes()[:2000])
    assert read_all(path) == ([], [("file", "cut-off", "lab.xlsx")])


def test_the_content_decides_not_the_suffix(tmp_path):
    workbook(tmp_path / "a.xlsx").rename(tmp_path / "a.csv")
    (tmp_path / "b.xlsx").write_text(TABLE)
    (tmp_path / "c.dat").write_text(TABLE)
    assert read_all(tmp_path / "a.csv", tmp_path / "b.xlsx", tmp_path / "c.dat")[0] == ["a.csv", "b.xlsx", "c.dat"]


def test_a_folder_is_searched_downwards_in_name_order(tmp_path):
    for name in ("b/z.csv", "a.csv", "b/c.csv"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(TABLE)
    for name in (".hidden.csv", "~$a.xlsx", ".DS_Store"):
        (tmp_path / name).write_text(TABLE)
    assert read_all(tmp_path) == (["a.csv", "b/c.csv", "b/z.csv"], [])


def test_other_files_of_a_folder_are_named_and_passed_over(tmp_path):
    (tmp_path / "a.csv").write_text(TABLE)
    (tmp_path / "notes.md").write_text("Sampling went well.")
    (tmp_path / "map.png").write_bytes(b"\x89PNG\r\n\x1a\n\0\0\0")
    shown, problems = read_all(tmp_path)
    assert shown == ["a.csv"]
    assert problems == [("warning", "not-a-sheet", "map.png"), ("warning", "not-a-sheet", "notes.md")]


def test_an_earlier_output_folder_is_passed_over(tmp_path):
    (tmp_path / "out" / "tables").mkdir(parents=True)
    (tmp_path / "out" / "run.json").write_text('{"schema_version": 1}')
    (tmp_path / "out" / "tables" / "results.csv").write_text(TABLE)
    assert read_all(tmp_path) == ([], [("warning", "own-output", "out")])


def test_a_folder_with_a_run_json_of_others_is_read(tmp_path):
    (tmp_path / "run.json").write_text("{}")
    (tmp_path / "lab.csv").write_text(TABLE)
    assert read_all(tmp_path)[0] == ["lab.csv"]


def test_equal_names_are_told_apart_by_their_folders(tmp_path):
    for folder in ("north", "south"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "lab.csv").write_text(TABLE)
    assert read_all(tmp_path / "north" / "lab.csv", tmp_path / "south" / "lab.csv")[0] == [
        "north/lab.csv",
        "south/lab.csv",
    ]


def test_a_file_given_twice_is_read_once(tmp_path):
    path = tmp_path / "lab.csv"
    path.write_text(TABLE)
    assert read_all(path, tmp_path) == (["lab.csv"], [("warning", "given-twice", "lab.csv")])


def test_a_missing_file_is_one_message(tmp_path):
    assert read_all(tmp_path / "none.csv") == ([], [("file", "not-found", "none.csv")])


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_without_permission_is_one_message(tmp_path):
    path = tmp_path / "lab.csv"
    path.write_text(TABLE)
    path.chmod(0)
    assert read_all(path) == ([], [("file", "no-permission", "lab.csv")])


def test_a_fifo_is_no_sheet(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    assert read_all(tmp_path / "pipe.csv")[1] == [("file", "not-a-sheet", "pipe.csv")]


def test_a_source_knows_its_size_and_digest(tmp_path):
    path = tmp_path / "lab.csv"
    path.write_bytes(b"abc,d\n1,2\n")
    (source,), _ = find_sheets([path])
    assert source.bytes == 10
    assert len(source.sha256) == 64


def test_a_workbook_without_any_cell_is_empty(tmp_path):
    openpyxl.Workbook().save(tmp_path / "lab.xlsx")
    assert read_all(tmp_path / "lab.xlsx")[1] == [("file", "empty", "lab.xlsx")]


def test_a_folder_given_as_a_text_without_any_sheet_is_said(tmp_path):
    sources, problems = find_sheets(str(tmp_path))
    assert (sources, [one.code for one in problems]) == ([], ["no-sheet"])


def test_a_folder_without_any_sheet_is_said(tmp_path):
    (tmp_path / "batch").mkdir()
    sources, problems = find_sheets([tmp_path / "batch"])
    assert sources == []
    assert any("batch holds no sheet" in one.text for one in problems if one.severity == "file")
