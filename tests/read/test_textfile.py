"""Text tables: three engines, one grid; encodings, delimiters, records."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from screen.read.grid import Grid
from screen.read.textfile import TextError, read_text, text_form


def write(folder: Path, content: str | bytes, name: str = "a.csv") -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def cells(grid: Grid) -> list[list[str]]:
    return [[grid.cell(row, column) for column in range(len(grid.columns))] for row in range(grid.rows)]


def by_csv_module(text: str, delimiter: str = ",") -> list[list[str]]:
    """What the standard library reads, trimmed at the end, blank cells empty: the reference for all engines."""
    rows = [
        [field if field.strip() else "" for field in row]
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    ]
    width = max((place + 1 for row in rows for place, field in enumerate(row) if field), default=0)
    height = max((place + 1 for place, row in enumerate(rows) if any(row)), default=0)
    return [(row + [""] * width)[:width] for row in rows[:height]]


FIELDS = st.one_of(
    st.sampled_from(
        [
            "NA",
            "0042",
            "",
            " ",
            "1,5",
            "<0.5",
            "x\ny",
            "x\r\ny",
            'say "a"',
            "nan",
            "TRUE",
            "#",
            "\u00b5g/kg",
            "1e5",
            'a"b',
            "'7",
        ]
    ),
    st.text(st.characters(codec="utf-8", exclude_characters="\0", exclude_categories=("Cs",)), max_size=6),
)


@pytest.mark.parametrize("engine", ["", "pandas", "arrow"])
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=st.lists(st.lists(FIELDS, max_size=5), min_size=1, max_size=8),
    ragged=st.booleans(),
    quoting=st.sampled_from([0, 1]),
)
def test_every_engine_gives_what_the_standard_library_reads(tmp_path, engine, rows, ragged, quoting):
    if engine == "arrow":
        pytest.importorskip("pyarrow")
    if not ragged:
        rows = [(row + [""] * 5)[:5] for row in rows]
    text = io.StringIO()
    csv.writer(text, quoting=quoting).writerows([["Sample", "Analyte", "Result", "Unit", "Q"], *rows])
    path = write(tmp_path, text.getvalue())
    if text_form(path).delimiter != ",":
        return
    try:
        grid, _ = read_text(path, "a.csv", engine)
    except TextError:
        assert engine
        return
    assert cells(grid) == by_csv_module(text.getvalue())


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.text(st.sampled_from('ab1,"\n\r ;'), max_size=60))
def test_odd_quoting_is_read_as_the_standard_library_reads_it(tmp_path, text):
    content = "Sample,Result\nQE-1,5\nQE-2,6\nQE-3,6\nQE-4,6\n" + text
    path = write(tmp_path, content)
    if text_form(path).delimiter != ",":
        return
    assert cells(read_text(path, "a.csv")[0]) == by_csv_module(content)
