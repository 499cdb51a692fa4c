"""Text tables and Parquet: a file in, one coded grid out; encoding and delimiter are found, records are counted.

A record is one row of the table, even where quotes let it run over several lines; blank records count. Three
engines give the same grid, the fastest that can take the file first: Arrow (extra ``fast``; only tables whose records
are all equally long), the pandas parser, and the csv module of the standard library, which decides what is right.
"""

from __future__ import annotations

import codecs
import csv
import importlib.util
import io
import os
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.model import Problem
from screen.stages.read.cells.grid import (
    BOOLEAN,
    DATE,
    EMPTY,
    NUMBER,
    TEXT,
    Column,
    Grid,
    coded_column,
    number_text,
    trimmed,
)
from screen.stages.read.cells.unreadable import UnreadableError

__all__ = ["TextError", "TextForm", "read_parquet", "read_text", "text_form"]

_CHUNK = 1 << 22
_BLOCK = 1 << 22
_SAMPLE = 1 << 17
#: Records that the pandas parser holds at a time.
_RECORDS = 250_000
#: In order of preference, should two of them part a file equally well.
_DELIMITERS = ("\t", ";", ",", "|")
#: A field longer than this is a quote that was never closed, not a cell.
_LONGEST_FIELD = 1_000_000


class TextError(UnreadableError):
    """A text file that cannot be read as a table."""


@dataclass(frozen=True, slots=True)
class TextForm:
    """How a text file is written. ``quoted``: quotes occur. ``width``: fields of the longest record of the sample."""

    encoding: str
    delimiter: str
    quoted: bool
    width: int


def text_form(path: Path) -> TextForm:
    """Encoding and delimiter of a text file, from all of its bytes and from its first records.

    Raises TextError for NUL characters, an encoding that is none of UTF-8, UTF-16 with a mark and Windows-1252, or
    a text that no delimiter parts into a table (prose).
    """
    encoding, quoted = _encoding(path)
    with path.open(encoding=encoding, newline="") as stream:
        sample = stream.read(_SAMPLE)
        whole = not stream.read(1)
    if not sample.strip():
        raise TextError("empty", "the file is empty.")
    delimiter, width = _delimiter(sample, whole)
    return TextForm(encoding, delimiter, quoted, width)


def _encoding(path: Path) -> tuple[str, bool]:
    """The encoding that all bytes of the file keep to, and whether it holds quotes."""
    with path.open("rb") as stream:
        head = stream.read(3)
    if head[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        tried = ["utf-16"]
    else:
        tried = ["utf-8-sig" if head == codecs.BOM_UTF8 else "utf-8", "cp1252"]
    for encoding in tried:
        try:
            return encoding, _quoted(path, encoding)
        except UnicodeDecodeError:
            continue
    raise TextError("encoding", f"the text is damaged: it is not {' or '.join(tried)}.")


def _quoted(path: Path, encoding: str) -> bool:
    """Whether the text holds quotes. Raises UnicodeDecodeError, and TextError for NUL characters."""
    decoder = codecs.getincrementaldecoder(encoding)()
    quoted = False
    with path.open("rb") as stream:
        while True:
            chunk = stream.read(_CHUNK)
            text = decoder.decode(chunk, not chunk)
            if "\0" in text:
                raise TextError("nul-characters", "the file holds NUL characters, so it is not a text table.")
            quoted = quoted or '"' in text
            if not chunk:
                return quoted


def _delimiter(sample: str, whole: bool) -> tuple[str, int]:
    """The delimiter that parts most records alike, and the fields of the longest record of the sample."""
    best: tuple[float, str, int] = (0.0, "", 0)
    for delimiter in _DELIMITERS:
        if delimiter not in sample:
            continue
        try:
            records = [len(record) for record in csv.reader(io.StringIO(sample, newline=""), delimiter=delimiter)]
        except csv.Error:
            continue
        if not whole and len(records) > 1:
            records.pop()
        lengths = Counter(length for length in records if length > 1)
        score = max((count * (length - 1) for length, count in lengths.items()), default=0)
        if score > max(best[0], 1 if len(records) > 1 else 0):
            best = (score, delimiter, max(records))
    if not best[1]:
        raise TextError("no-table", "no comma, semicolon, tab or bar parts the text into columns.")
    return best[1], best[2]


def read_text(path: Path, shown: str, engine: str = "") -> tuple[Grid, list[Problem]]:
    """The one grid of a text file, and what the user should know of it. Raises TextError.

    ``engine`` (``arrow``, ``pandas``, ``csv``) is for tests; by default the fastest that can take the file is used.
    """
    form = text_form(path)
    engines: dict[str, Callable[[Path, TextForm], tuple[int, list[Column]] | None]] = {
        "arrow": _by_arrow,
        "pandas": _by_pandas,
        "csv": _by_csv,
    }
    for name in [engine] if engine else engines:
        read = engines[name](path, form)
        if read is not None:
            break
    else:
        raise TextError("no-table", f"the {engine} engine cannot take this file.")
    rows, columns = trimmed(*read)
    grid = Grid(shown, "", rows, columns, encoding=form.encoding, delimiter=form.delimiter)
    problems = []
    if form.encoding == "cp1252":
        message = "the text is not UTF-8; it was read as Windows-1252."
        problems.append(Problem("encoding", message, "Check signs such as µ, or save as UTF-8.", file=shown))
    return grid, problems


def _by_arrow(path: Path, form: TextForm) -> tuple[int, list[Column]] | None:
    """With Arrow; None without it, for another encoding than UTF-8, or when records differ in length."""
    if form.encoding not in ("utf-8", "utf-8-sig") or importlib.util.find_spec("pyarrow") is None:
        return None
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    names = [f"f{number}" for number in range(form.width)]
    text = pa.dictionary(pa.int32(), pa.string())
    try:
        table = arrow_csv.read_csv(
            pa.OSFile(os.fsencode(path)),  # by its bytes: not every name is a text in every locale
            read_options=arrow_csv.ReadOptions(column_names=names, block_size=_BLOCK),
            parse_options=arrow_csv.ParseOptions(
                delimiter=form.delimiter,
                quote_char='"' if form.quoted else False,
                newlines_in_values=form.quoted,
                ignore_empty_lines=False,
            ),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(names, text), strings_can_be_null=False, null_values=[]
            ),
        )
    except pa.ArrowInvalid:
        return None
    columns = []
    for name in names:
        pieces = table.column(name).unify_dictionaries().chunks
        codes = [piece.indices.to_numpy() for piece in pieces]
        texts = pieces[0].dictionary.to_pylist() if pieces else []
        columns.append(coded_column(np.concatenate(codes) if codes else np.zeros(0, dtype=np.int32), texts))
    return table.num_rows, columns


def _by_pandas(path: Path, form: TextForm) -> tuple[int, list[Column]] | None:
    """With the pandas parser; None when a record is longer than those of the sample or a quote stays open.

    Fields are read as plain texts, for a column of nothing but numbers would lose its text in every other form.
    """
    places = range(form.width + 1)  # one more than seen, so that no longer record is cut short unnoticed
    distinct: list[dict[str, int]] = [{"": 0} for _ in places]
    codes: list[list[npt.NDArray[np.int32]]] = [[] for _ in places]
    try:
        with pd.read_csv(
            path,
            sep=form.delimiter,
            header=None,
            names=list(places),
            index_col=False,
            dtype=object,
            na_filter=False,
            skip_blank_lines=False,
            engine="c",
            low_memory=False,
            chunksize=_RECORDS,
            encoding=form.encoding,
        ) as chunks:
            for chunk in chunks:
                for place, known in enumerate(distinct):
                    own, texts = pd.factorize(chunk[place].to_numpy())
                    numbers = [known.setdefault(text, len(known)) for text in texts]
                    codes[place].append(np.array(numbers, dtype=np.int32)[own])
    except pd.errors.ParserError:
        return None
    columns = [coded_column(np.concatenate(one), list(known)) for one, known in zip(codes, distinct, strict=True)]
    return len(columns[0].codes), columns


def _by_csv(path: Path, form: TextForm) -> tuple[int, list[Column]] | None:
    """With the csv module: any text. Each distinct field is kept once while reading."""
    csv.field_size_limit(_LONGEST_FIELD)
    distinct: list[dict[str, int]] = []
    codes: list[list[int]] = []
    rows = 0
    with path.open(encoding=form.encoding, newline="") as stream:
        try:
            for record in csv.reader(stream, delimiter=form.delimiter):
                while len(codes) < len(record):
                    distinct.append({"": 0})
                    codes.append([0] * rows)
                for place, field in enumerate(record):
                    known = distinct[place]
                    codes[place].append(known.setdefault(field, len(known)))
                for place in range(len(record), len(codes)):
                    codes[place].append(0)
                rows += 1
        except csv.Error as error:
            raise TextError("no-table", f"record {rows + 1} cannot be read ({error}).") from error
    return rows, [
        coded_column(np.array(one, dtype=np.int32), list(known)) for one, known in zip(codes, distinct, strict=True)
    ]


def read_parquet(path: Path, shown: str) -> Grid:
    """The one grid of a Parquet file; its column names are the first record. Raises TextError."""
    if importlib.util.find_spec("pyarrow") is None:
        raise TextError("needs-extra", "Parquet needs the extra `fast`: pip install 'siltmark[fast]', or save as CSV.")
    import pyarrow as pa
    from pyarrow import parquet

    try:
        table = parquet.read_table(pa.OSFile(os.fsencode(path)))
        columns = [_arrow_column(name, column) for name, column in zip(table.column_names, table.columns, strict=True)]
    except (pa.ArrowException, OSError, ValueError, OverflowError) as error:
        raise TextError("cut-off", "the file is damaged or cut off.") from error
    rows, kept = trimmed(table.num_rows + 1, columns)
    return Grid(shown, "", rows, kept)


def _arrow_column(name: str, column: Any) -> Column:
    import pyarrow as pa

    encoded = column if pa.types.is_dictionary(column.type) else column.dictionary_encode()
    encoded = encoded.unify_dictionaries().combine_chunks()
    if isinstance(encoded, pa.ChunkedArray):
        encoded = (
            encoded.chunk(0) if encoded.num_chunks else pa.DictionaryArray.from_arrays(pa.array([], pa.int32()), [])
        )
    cells = [("", EMPTY, np.nan), (name, TEXT, np.nan), *map(_described, encoded.dictionary.to_pylist())]
    codes = np.empty(len(encoded) + 1, dtype=np.int32)
    codes[0] = 1
    codes[1:] = encoded.indices.fill_null(-2).to_numpy(zero_copy_only=False) + 2
    texts, kinds, numbers = zip(*cells, strict=True)
    return coded_column(codes, texts, np.array(kinds, dtype=np.uint8), np.array(numbers, dtype=float))


def _described(value: Any) -> tuple[str, int, float]:
    if value is None:
        return "", EMPTY, np.nan
    if isinstance(value, bool):
        return str(value).upper(), BOOLEAN, np.nan
    if isinstance(value, (int, float)):
        if value != value:
            return "", EMPTY, np.nan
        return (str(value) if isinstance(value, int) else number_text(value)), NUMBER, float(value)
    if hasattr(value, "isoformat"):
        return value.isoformat(), DATE, np.nan
    return str(value), TEXT if str(value) else EMPTY, np.nan
