"""The pair of files that a guideline set is. In: either file's path. Out: their cells and keys, with line numbers.

Nothing is judged here but that both files can be read; :mod:`screen.reference.check` judges, and
:mod:`screen.reference.sets` makes a set of it.
"""

from __future__ import annotations

import csv
import io
import re
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, NoReturn

from screen.reference.locate import data_root

__all__ = [
    "FIGURE_COLUMNS",
    "ROW_COLUMNS",
    "Finding",
    "RawSet",
    "SetError",
    "builtin_ids",
    "is_builtin",
    "read_basis_word",
    "read_pair",
    "standing_basis",
]

#: What a column of the CSV may say of the whole row, and what it may say of one level (``LEVEL unit``, ...).
FIGURE_COLUMNS = ("unit", "basis", "evidence", "source")
ROW_COLUMNS = ("substance", "cas", *FIGURE_COLUMNS, "note")
_BASIS = re.compile(r"(?:(dry|oc)|(oc|al)-(\d+(?:\.\d+)?)%|below-(\d+)um)")


@dataclass(frozen=True, slots=True)
class Finding:
    """What is wrong in a set's files: the file, the line (from 1), what, and how to mend it."""

    file: str
    line: int
    message: str
    mend: str = ""

    @property
    def text(self) -> str:
        """The whole message on one line."""
        return f"{self.file}, line {self.line}: {self.message} {self.mend}".rstrip()


class SetError(ValueError):
    """A guideline set that is not there or not in order. ``findings`` say where and how to mend it."""

    def __init__(self, message: str, findings: tuple[Finding, ...] = ()) -> None:
        super().__init__(message)
        self.findings = findings


@dataclass(frozen=True, slots=True)
class RawSet:
    """Both files as read: ``header``, ``records`` (line, cells by column), ``data`` (the TOML's keys)."""

    id: str
    table: Path
    about: Path
    header: tuple[str, ...]
    records: tuple[tuple[int, dict[str, str]], ...]
    ragged: tuple[tuple[int, int], ...]
    data: dict[str, Any]
    about_lines: tuple[str, ...]
    csv_bytes: bytes
    toml_bytes: bytes

    def line_of(self, key: str, section: str = "") -> int:
        """The line of a key in the TOML file; that of its section, else 1, where the key is not there."""
        inside, fallback = "", 1
        for number, line in enumerate(self.about_lines, start=1):
            if head := re.fullmatch(r"\s*\[\s*(.+?)\s*\]\s*(?:#.*)?", line):
                inside = head[1].strip("\"'")
                fallback = number if inside == section else fallback
                if inside == key and not section:
                    return number
            elif inside == section and re.match(rf"""\s*["']?{re.escape(key)}["']?\s*=""", line):
                return number
        return fallback


def read_basis_word(word: str) -> tuple[str, float | None]:
    """The basis that a set's word names: its kind and per cent.

    ``dry`` gives ("dry", None); ``oc`` ("oc", None), per kg of organic carbon; ``oc-2.5%`` ("oc", 2.5), dry weight at
    that much carbon; ``al-5%`` ("al", 5.0), at that much aluminium; ``below-20um`` ("below", 20.0), dry weight of the
    fraction below so many micrometres, which no result on whole sediment can be brought to. Raises ValueError.
    """
    found = _BASIS.fullmatch(word.strip())
    if not found or (found[3] and not 0 < float(found[3]) <= 100):
        raise ValueError(f"The basis {word!r} is not known.")
    if found[1]:
        return found[1], None
    return (found[2], float(found[3])) if found[2] else ("below", float(found[4]))


def standing_basis(data: dict[str, Any], unit_basis: str) -> str:
    """The basis of a figure that has none in its row: the set's, else per carbon where its unit says so, else dry."""
    return str(data.get("basis") or ("oc" if unit_basis == "oc" else "dry"))


@cache
def builtin_ids() -> tuple[str, ...]:
    """The ids of the built-in sets, in name order."""
    return tuple(sorted(path.stem for path in (data_root() / "sets").glob("*.csv")))


def is_builtin(path: Path) -> bool:
    """Whether ``path`` is one of the built-in sets' own files."""
    return path.resolve().parent == (data_root() / "sets").resolve()


def read_pair(path: Path) -> RawSet:
    """Both files of the set that ``path`` (either of them, or their common name without suffix) belongs to.

    Raises SetError, with findings, when one is missing or cannot be read.
    """
    stem = path.with_suffix("") if path.suffix.lower() in (".csv", ".toml") else path
    table, about = stem.with_name(stem.name + ".csv"), stem.with_name(stem.name + ".toml")
    for file, other, holds in ((table, about, "the levels"), (about, table, "the title, levels and caveats")):
        if not file.is_file():
            _stop(file, 1, f"The file is missing; it holds {holds} of the set.", f"Put it beside {other.name}.")
    csv_bytes, toml_bytes = table.read_bytes(), about.read_bytes()
    text = _decoded(about, toml_bytes)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r"line (\d+)", str(error))
        line = int(place[1]) if place else max(1, text.count("\n"))
        _stop(about, line, f"This is not TOML: {error}.", "Text stands in quotes, lists in square brackets.")
    header, records, ragged = _read_csv(table, _decoded(table, csv_bytes))
    lines = tuple(text.splitlines())
    return RawSet(stem.name, table, about, header, records, ragged, data, lines, csv_bytes, toml_bytes)


def _read_csv(
    file: Path, text: str
) -> tuple[tuple[str, ...], tuple[tuple[int, dict[str, str]], ...], tuple[tuple[int, int], ...]]:
    reader = csv.reader(io.StringIO(text, newline=""))
    header: tuple[str, ...] = ()
    records: list[tuple[int, dict[str, str]]] = []
    ragged: list[tuple[int, int]] = []
    line = 1
    try:
        for cells in reader:
            cells = [cell.strip() for cell in cells]
            if any(cells) and not cells[0].startswith("#"):
                if not header:
                    header = tuple(cells)
                else:
                    records.append((line, dict(zip(header, cells, strict=False))))
                    if len(cells) != len(header):
                        ragged.append((line, len(cells)))
            line = reader.line_num + 1
    except csv.Error as error:
        _stop(file, line, f"This is not CSV: {error}.", "Save it as comma-separated values in UTF-8.")
    if not header:
        _stop(file, 1, "The table is empty.", "Its first row names the columns: substance, the levels, unit.")
    return header, tuple(records), tuple(ragged)


def _decoded(file: Path, content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        _stop(file, line, "The file is not UTF-8 text.", "Save it as UTF-8.")


def _stop(file: Path, line: int, message: str, mend: str) -> NoReturn:
    finding = Finding(str(file), line, message, mend)
    raise SetError(finding.text, (finding,))
