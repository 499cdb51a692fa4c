"""Finding and opening inputs: paths in, sources out; a source in, its sheets as coded grids out.

The content decides what a file is, never its suffix. What cannot be read becomes a Problem with severity ``file``;
no function here raises for a bad input.
"""

from __future__ import annotations

import hashlib
import os
import stat
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from screen.model import Problem
from screen.settings import Settings
from screen.stages.read.cells.grid import Grid
from screen.stages.read.cells.spreadsheet import read_spreadsheet
from screen.stages.read.cells.unreadable import UnreadableError

__all__ = ["Source", "find_sheets", "read_grids"]

_SHEET_SUFFIXES = (".xlsx", ".xlsm", ".xls", ".ods", ".csv", ".tsv", ".txt", ".parquet")
_HEAD = 1 << 16
_SAVE_AS = "Open it in a spreadsheet program and save it as .xlsx or .csv."
_SEND_AGAIN = "Ask for the file again, or open it and save it as .xlsx or .csv."
_MENDS = {
    "empty": "Ask for the file again.",
    "locked": "Open it with its password and save a copy without one.",
    "cut-off": _SEND_AGAIN,
    "too-large": "Open it and save only the table of results, as .csv.",
    "xml-entities": _SAVE_AS,
    "nul-characters": _SEND_AGAIN,
    "encoding": "Save it again as CSV UTF-8.",
    "no-table": "Give the laboratory's table as .xlsx or .csv, with one header row.",
    "needs-extra": "",
    "not-a-sheet": _SAVE_AS,
    "web-page": _SAVE_AS,
    "no-permission": "Allow reading it, or copy it to a folder of your own.",
    "not-found": "Check the path.",
    "changed": "Wait until nothing writes to it, and run again.",
}


@dataclass(frozen=True, slots=True)
class Source:
    """One input file. ``shown`` is its path below the argument given (never from the disk's root).

    ``kind`` is one of ``xlsx`` (also xlsm), ``xls``, ``ods``, ``text``, ``parquet``. ``modified`` (ns) is when the file
    was last written before its digest was made; None where that does not matter.
    """

    path: Path
    shown: str
    kind: str
    bytes: int
    sha256: str
    modified: int | None = None


def find_sheets(paths: Path | str | Sequence[Path | str]) -> tuple[list[Source], list[Problem]]:
    """The readable files of ``paths`` (files, or folders searched downwards in name order), and what is wrong.

    Two arguments whose paths below would be equal are told apart by their folder's name. A file that is given twice
    is read once, with a warning. In a folder, hidden files, lock files (``~$...``) and folders that this tool wrote
    (they hold ``run.json``) are passed over; files that are no sheets are named in one warning.
    """
    sources: list[Source] = []
    problems: list[Problem] = []
    seen: set[tuple[int, int]] = set()
    given = [Path(one) for one in ([paths] if isinstance(paths, str | Path) else paths)]
    for path, shown, named in _candidates(given, problems):
        try:
            status = path.stat()
            if not stat.S_ISREG(status.st_mode):
                raise UnreadableError("not-a-sheet", "it is not a file.")
            if (status.st_dev, status.st_ino) in seen:
                problems.append(Problem("given-twice", "the file was given twice; it is read once.", file=shown))
                continue
            seen.add((status.st_dev, status.st_ino))
            kind = _kind(path, status.st_size)
            if kind == "text" and not named and path.suffix.lower() not in _SHEET_SUFFIXES:
                raise UnreadableError("not-a-sheet", "it is not a table.")
            with path.open("rb") as stream:
                digest = hashlib.file_digest(stream, "sha256").hexdigest()
            sources.append(Source(path, shown, kind, status.st_size, digest, status.st_mtime_ns))
        except UnreadableError as error:
            if named or path.suffix.lower() in _SHEET_SUFFIXES:
                problems.append(_file_problem(error.code, str(error), shown))
            else:
                problems.append(Problem("not-a-sheet", "passed over: it is not a table of results.", file=shown))
        except OSError as error:
            problems.append(_os_problem(error, shown))
    if not sources and not problems:
        names = ", ".join(_printable(path.name or str(path)) for path in given)
        mend = "Put the laboratory's sheets (.xlsx, .xls, .ods, .csv, .tsv, .txt) there, or name them."
        problems.append(Problem("no-sheet", f"{names} holds no sheet that can be read.", mend, "file"))
    return _told_apart(sources), problems


def _candidates(paths: Sequence[Path], problems: list[Problem]) -> Iterator[tuple[Path, str, bool]]:
    """Each file with its shown path, and whether it was named itself rather than met in a folder."""
    for argument in paths:
        if not argument.is_dir():
            yield argument, _printable(argument.name), True
            continue

        def unreadable(error: OSError, top: Path = argument) -> None:
            problems.append(_os_problem(error, _below(Path(error.filename or top), top)))

        for folder, folders, names in os.walk(argument, onerror=unreadable):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            if "run.json" in names and _is_own_output(Path(folder)):
                folders.clear()
                where = _below(Path(folder), argument)
                problems.append(
                    Problem(
                        "own-output", "passed over: a folder of results of an earlier run of this tool.", file=where
                    )
                )
                continue
            for name in sorted(names):
                if not name.startswith((".", "~$")):
                    path = Path(folder, name)
                    yield path, _below(path, argument), False


def _is_own_output(folder: Path) -> bool:
    """Whether a folder was written by this tool: its ``run.json`` carries a schema version."""
    try:
        with (folder / "run.json").open("rb") as stream:
            return b'"schema_version"' in stream.read(1 << 26)
    except OSError:
        return False


def _below(path: Path, top: Path) -> str:
    return _printable(path.relative_to(top).as_posix() if path != top else top.name)


def _printable(name: str) -> str:
    """A file name with bytes that are no text replaced, so that it can be written anywhere."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def _told_apart(sources: list[Source]) -> list[Source]:
    """Sources with different shown paths: equal ones get the names of the folders above, as many as it takes."""
    level = 1
    while True:
        counts = Counter(source.shown for source in sources)
        if max(counts.values(), default=1) == 1 or level > 64:
            return sources
        sources = [replace(one, shown=_longer(one)) if counts[one.shown] > 1 else one for one in sources]
        level += 1


def _longer(source: Source) -> str:
    """The shown path with one folder more in front."""
    parts = source.path.absolute().parts[1:]
    return _printable("/".join(parts[-source.shown.count("/") - 2 :]))


def _kind(path: Path, size: int) -> str:
    """What the content is; raises UnreadableError for what is no sheet."""
    if size == 0:
        raise UnreadableError("empty", "the file is empty.")
    with path.open("rb") as stream:
        head = stream.read(_HEAD)
    if head.startswith(b"PK"):
        return _zip_kind(path)
    if head.startswith(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        return _ole_kind(path)
    if head.startswith(b"PAR1"):
        return "parquet"
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "text"
    start = head.removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    if start.startswith((b"<!doctype", b"<html", b"<table", b"<?xml", b"<meta", b"<body")):
        raise UnreadableError("web-page", "it is a web page or an XML document under another name.")
    if start.startswith((b"%pdf", b"{\\rtf")):
        raise UnreadableError("not-a-sheet", "it is a document, not a sheet.")
    if b"\0" in head:
        raise UnreadableError(
            "nul-characters", "it holds NUL characters: no sheet, no text table, or UTF-16 text without its mark."
        )
    if sum(head.count(bytes([control])) for control in (*range(1, 9), *range(14, 27), *range(28, 32))) > len(head) / 50:
        raise UnreadableError("not-a-sheet", "it is neither a sheet nor a text table.")
    return "text"


def _zip_kind(path: Path) -> str:
    try:
        with zipfile.ZipFile(path) as package:
            names = set(package.namelist())
            mimetype = package.read("mimetype")[:100] if "mimetype" in names else b""
            manifest = "META-INF/manifest.xml"
            if mimetype and manifest in names and b"encryption-data" in package.open(manifest).read(1 << 20):
                raise UnreadableError("locked", "it is locked with a password.")
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError, NotImplementedError, RuntimeError) as error:
        raise UnreadableError("cut-off", "it begins as a spreadsheet but is damaged or cut off.") from error
    if b"opendocument.spreadsheet" in mimetype and "content.xml" in names:
        return "ods"
    if "[Content_Types].xml" in names and any(name.startswith("xl/") and name.endswith(".xml") for name in names):
        return "xlsx"
    raise UnreadableError("not-a-sheet", "it is a package without an .xlsx or .ods sheet in it.")


def _ole_kind(path: Path) -> str:
    with path.open("rb") as stream:
        content = stream.read(1 << 26)
    if "EncryptedPackage".encode("utf-16-le") in content:
        raise UnreadableError("locked", "it is locked with a password.")
    if any(name.encode("utf-16-le") in content for name in ("Workbook", "Book")):
        return "xls"
    raise UnreadableError("not-a-sheet", "it is an old office document without a sheet in it.")


def read_grids(source: Source, settings: Settings) -> tuple[list[Grid], list[Problem]]:
    """All sheets of one source, hidden ones too (``Grid.hidden``), and what a user should know about them.

    ``settings`` may carry answers that skip a sheet; those are applied later, when every cell is accounted for. A file
    that was written to since its digest was made is refused: the record would name another content than was read.
    """
    grids, problems = _opened(source)
    if source.modified is not None and _written(source.path) != source.modified:
        return [], [_file_problem("changed", "the file was changed while it was read.", source.shown)]
    return grids, problems


def _written(path: Path) -> int | None:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return None


def _opened(source: Source) -> tuple[list[Grid], list[Problem]]:
    try:
        if source.kind in ("parquet", "text"):
            return _text_opened(source)
        grids, problems = read_spreadsheet(source.path, source.shown, source.kind)
    except UnreadableError as error:
        return [], [_file_problem(error.code, str(error), source.shown)]
    except OSError as error:
        return [], [_os_problem(error, source.shown)]
    if not any(grid.cells for grid in grids):
        problems.append(_file_problem("empty", "no sheet of the workbook holds anything.", source.shown))
    return grids, problems


def _text_opened(source: Source) -> tuple[list[Grid], list[Problem]]:
    from screen.stages.read.cells.textfile import read_parquet, read_text

    if source.kind == "parquet":
        return [read_parquet(source.path, source.shown)], []
    grid, problems = read_text(source.path, source.shown)
    return [grid], problems


def _file_problem(code: str, message: str, shown: str) -> Problem:
    return Problem(code, message, _MENDS.get(code, ""), severity="file", file=shown)


def _os_problem(error: OSError, shown: str) -> Problem:
    if isinstance(error, PermissionError):
        return _file_problem("no-permission", "the file may not be read.", shown)
    if isinstance(error, FileNotFoundError):
        return _file_problem("not-found", "there is no such file.", shown)
    return _file_problem("cut-off", f"the file cannot be read ({error.strerror or 'input error'}).", shown)
