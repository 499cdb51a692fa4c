"""Damaged files: whatever bytes change, reading gives grids and messages, and never an exception."""

from __future__ import annotations

import random
import zipfile
from pathlib import Path

import openpyxl
import pytest

from screen.settings import Settings
from screen.stages.read.cells.files import find_sheets, read_grids


def workbook(path: Path) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Sample", "Analyte", "Result", "Unit"])
    for row in range(20):
        sheet.append([f"QE-{row}", "Lead", row / 7, "mg/kg"])
    sheet["F2"] = "=1+1"
    sheet["C3"].number_format = "0.0%"
    sheet.row_dimensions[4].hidden = True
    book.save(path)
    return path.read_bytes()


def read(path: Path) -> None:
    sources, problems = find_sheets([path])
    for source in sources:
        grids, more = read_grids(source, Settings())
        problems += more
        assert grids or more
    assert all(problem.message and problem.file for problem in problems)


@pytest.mark.parametrize("seed", range(8))
def test_flipped_and_missing_bytes(tmp_path, seed):
    chance = random.Random(seed)
    path = tmp_path / "lab.xlsx"
    whole = workbook(path)
    for _ in range(12):
        content = bytearray(whole)
        for _ in range(chance.randint(1, 10)):
            content[chance.randrange(len(content))] = chance.randrange(256)
        path.write_bytes(content[: chance.choice([len(content), chance.randrange(len(content))])])
        read(path)


@pytest.mark.parametrize("seed", range(8))
def test_changed_parts_of_a_package(tmp_path, seed):
    chance = random.Random(seed)
    workbook(tmp_path / "whole.xlsx")
    with zipfile.ZipFile(tmp_path / "whole.xlsx") as package:
        parts = {name: package.read(name) for name in package.namelist()}
    for _ in range(12):
        victim = chance.choice(sorted(parts))
        content = bytearray(parts[victim])
        for _ in range(chance.randint(1, 6)):
            content[chance.randrange(len(content))] = chance.choice(b'<>&"0123456789ABCa=/ \x00\xff')
        path = tmp_path / "lab.xlsx"
        with zipfile.ZipFile(path, "w") as package:
            for name, part in parts.items():
                package.writestr(name, bytes(content) if name == victim else part)
        read(path)


@pytest.mark.parametrize("seed", range(8))
def test_changed_text(tmp_path, seed):
    chance = random.Random(seed)
    whole = b'Sample;Analyte;Result\nQE-1;Lead;5\nQE-2;"Zinc; total";<6\n' * 3
    path = tmp_path / "lab.csv"
    for _ in range(25):
        content = bytearray(whole)
        for _ in range(chance.randint(1, 8)):
            content[chance.randrange(len(content))] = chance.randrange(256)
        path.write_bytes(content)
        read(path)
