"""Text tables: three engines, one grid; encodings, delimiters, records."""

from __future__ import annotations

import csv
import datetime as dt
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from screen.stages.read.cells.grid import BOOLEAN, DATE, NUMBER, TEXT, Grid
from screen.stages.read.cells.textfile import TextError, read_parquet, read_text, text_form


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


ROWS = "Sample{0}Analyte{0}Result{0}Unit\nQE-1{0}Lead{0}5{0}µg/kg\nQE-2{0}Zinc{0}6{0}µg/kg\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_the_encoding_is_found(tmp_path, encoding):
    mark = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(encoding, b"")
    path = write(tmp_path, mark + ROWS.format(",").encode(encoding))
    grid, problems = read_text(path, "a.csv")
    assert (grid.cell(0, 0), grid.cell(1, 3)) == ("Sample", "µg/kg")
    assert [problem.code for problem in problems] == (["encoding"] if encoding == "cp1252" else [])


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_found_over_title_rows_without_any(tmp_path, delimiter):
    path = write(tmp_path, "Results, with a comma\n\n" + ROWS.format(delimiter))
    grid, _ = read_text(path, "a.csv")
    assert grid.delimiter == delimiter
    assert grid.cell(3, 1) == "Lead"


def test_decimal_commas_do_not_part_a_semicolon_file(tmp_path):
    path = write(tmp_path, "Sample;Lead;Zinc\nQE-1;1,5;2,5\nQE-2;3,5;4,5\n")
    assert text_form(path).delimiter == ";"


def test_a_text_with_nul_characters_is_refused(tmp_path):
    with pytest.raises(TextError) as error:
        read_text(write(tmp_path, b"a,b\n1,\0\n"), "a.csv")
    assert error.value.code == "nul-characters"


def test_bytes_of_no_known_encoding_are_refused(tmp_path):
    with pytest.raises(TextError) as error:
        read_text(write(tmp_path, b"a,b\n1,\x81\n"), "a.csv")
    assert error.value.code == "encoding"


@pytest.mark.parametrize("engine", ["pandas", "arrow"])
def test_numbers_keep_their_text_past_the_first_records(tmp_path, engine):
    if engine == "arrow":
        pytest.importorskip("pyarrow")
    lines = ["Sample,Result"] + [f"QE-{number},{number / 10:.2f}" for number in range(30_000)]
    lines += [f"{number:04d},0.50" for number in range(300_000)]
    grid, _ = read_text(write(tmp_path, "\n".join(lines)), "a.csv", engine)
    assert (grid.cell(1, 1), grid.cell(30_007, 0), grid.cell(330_000, 1)) == ("0.00", "0006", "0.50")


def test_parquet_gives_kinds_as_stored(tmp_path):
    pa = pytest.importorskip("pyarrow")
    from pyarrow import parquet

    table = pa.table(
        {
            "Sample": ["QE-1", None],
            "Lead": [12.5, 3.0],
            "n": [1, None],
            "day": [dt.date(2026, 4, 8), None],
            "ok": [True, None],
        }
    )
    parquet.write_table(table, tmp_path / "a.parquet")
    grid = read_parquet(tmp_path / "a.parquet", "a.parquet")
    assert cells(grid) == [
        ["Sample", "Lead", "n", "day", "ok"],
        ["QE-1", "12.5", "1", "2026-04-08", "TRUE"],
        ["", "3", "", "", ""],
    ]
    assert [int(column.kinds[column.codes[1]]) for column in grid.columns] == [TEXT, NUMBER, NUMBER, DATE, BOOLEAN]
