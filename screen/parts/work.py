"""The folder that keeps the work of a long run beside its output, so that a killed run can go on.

In: the output folder, and what the result depends on. Out: shelves for files and parts. What is kept counts only for
the same inputs, settings and versions; anything else is started afresh, and said so.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from screen.model import Problem
from screen.parts.kept import UNFINISHED, Shelf
from screen.record import settings_record, tool_version, versions
from screen.settings import Settings
from screen.stages.read.cells.files import Source, read_grids
from screen.stages.read.cells.grid import Column, Grid

__all__ = ["FILES_KEPT", "RECORDS", "Files", "Work", "WorkInUseError", "work_folder"]

#: Records of a part.
RECORDS = 1 << 20
#: The sheets of so many files and more are kept once they are opened.
FILES_KEPT = 16
_KEY = "key.json"


class WorkInUseError(ValueError):
    """Another run is at work on the same output folder."""


def work_folder(folder: Path) -> Path:
    """Where the work for an output folder is kept."""
    return folder.with_name(f".{folder.name}.work")


@dataclass(frozen=True, slots=True)
class Files:
    """Opens files; those that ``numbers`` has, by their names in the batch, are kept on a shelf once opened."""

    shelf: Shelf
    numbers: Mapping[str, int]

    def __call__(self, source: Source, settings: Settings) -> tuple[Sequence[Grid], Sequence[Problem]]:
        """The grids of a file and what is wrong with it, from the shelf where it was read before."""
        number = self.numbers.get(source.shown)
        if number is None:
            return read_grids(source, settings)
        name = f"file.{number:05}"
        if not self.shelf.has(name):
            grids, problems = read_grids(source, settings)
            self.shelf.put(name, {}, *_plain(grids, problems))
        kept = self.shelf.get(name)
        return _grids(kept.arrays, kept.about)


class Work:
    """The kept work of one run in ``folder``, which is made when there is something to keep.

    ``said`` tells in words what was found of an earlier run; ``size`` is the number of records of a part.
    """

    def __init__(self, folder: Path, sources: Sequence[Source], settings: Settings, size: int) -> None:
        self.folder, self.size = folder, size
        self._key = _key(sources, settings, size)
        self._lock: Any = None
        self.said = self._begin(resume=settings.resume)
        numbers = {source.shown: at for at, source in enumerate(sources)} if len(sources) >= FILES_KEPT else {}
        self.files = Files(Shelf(folder / "files", self.open), numbers)

    def parts(self, *, in_memory: bool) -> Shelf:
        """The shelf for the steps of all parts."""
        return Shelf(None if in_memory else self.folder / "parts", self.open)

    def finish(self) -> None:
        """Remove the folder: the run is done."""
        self.leave(going_on=False)

    def leave(self, *, going_on: bool) -> None:
        """Let go of the folder, and remove it where the run cannot be gone on with."""
        if self._lock is not None:
            self._lock.close()
            self._lock = None
        if not going_on:
            shutil.rmtree(self.folder, ignore_errors=True)

    def _begin(self, *, resume: bool) -> str:
        """Take over what an earlier run left, where it is wanted and fits; else clear it away."""
        if not self.folder.exists():
            return "Nothing is kept of an earlier run; starting from the beginning." if resume else ""
        self._hold()
        try:
            before = json.loads((self.folder / _KEY).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            before = None
        for one in self.folder.glob(f"*/*{UNFINISHED}"):
            shutil.rmtree(one, ignore_errors=True)
        if resume and before == self._key:
            done = [len(list((self.folder / name).glob(pattern))) for name, pattern in _STEPS]
            return f"Going on: {done[0]} files are read, {done[1]} parts decided on and {done[2]} compared already."
        for one in self.folder.iterdir():
            if one.name != _LOCK:
                shutil.rmtree(one) if one.is_dir() else one.unlink()
        if not resume:
            return ""
        changed = [
            _WORDS[name] for name in _WORDS if not isinstance(before, dict) or before.get(name) != self._key[name]
        ]
        return f"What was kept of an earlier run is for other {' and '.join(changed)}; starting from the beginning."

    def open(self) -> None:
        """Make the folder, before the first step is kept."""
        if not (self.folder / _KEY).is_file():
            self.folder.mkdir(parents=True, exist_ok=True)
            self._hold()
            (self.folder / _KEY).write_text(json.dumps(self._key, indent=1), encoding="utf-8")

    def _hold(self) -> None:
        """Keep other runs out of the folder. Raises WorkInUseError where one is at work."""
        if self._lock is not None:
            return
        self._lock = (self.folder / _LOCK).open("w", encoding="utf-8")
        try:
            import fcntl
        except ImportError:  # no locks of this kind on Windows
            return
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise WorkInUseError(
                f"{self.folder} is in use: another run is writing the same --out. Wait for it, or name another --out."
            ) from error


_LOCK = "lock"
_STEPS = (("files", "file.?????"), ("parts", "decided.?????"), ("parts", "screened.?????"))
_WORDS = {"inputs": "inputs", "settings": "settings", "versions": "versions of the tool or its libraries"}


def _key(sources: Sequence[Source], settings: Settings, size: int) -> dict[str, Any]:
    """All that the kept work depends on, as plain data."""
    named = [*settings.field, *(one for one in (settings.names, settings.boundary) if one is not None)]
    sets = [Path(one) for one in settings.guidelines if one.endswith((".csv", ".toml"))]
    sets = [path.with_suffix(suffix) for path in sets for suffix in (".csv", ".toml")]
    plain = settings_record(settings) | {"records": size}
    told: dict[str, Any] = {
        "inputs": [[one.shown, one.sha256] for one in sources] + [_digest(path) for path in (*named, *sets)],
        "settings": plain,
        "versions": {"siltmark": tool_version(), **versions()},
    }
    own: dict[str, Any] = json.loads(json.dumps(told, default=str))
    return own


def _digest(path: Path) -> list[str]:
    files = sorted(one for one in path.rglob("*") if one.is_file()) if path.is_dir() else [path]
    digest = hashlib.sha256()
    for one in files:
        if one.is_file():
            digest.update(one.read_bytes())
    return [path.name, digest.hexdigest()]


def _plain(grids: Sequence[Grid], problems: Sequence[Problem]) -> tuple[dict[str, np.ndarray], dict[str, Any]]:
    """Grids as arrays and plain data."""
    arrays: dict[str, np.ndarray] = {}
    sheets = []
    for at, grid in enumerate(grids):
        columns = []
        for place, column in enumerate(grid.columns):
            for name in ("codes", "kinds", "numbers"):
                arrays[f"{at}.{place}.{name}"] = getattr(column, name)
            shown = None if column.shown is None else [str(text) for text in column.shown]
            columns.append({"texts": [str(text) for text in column.texts], "shown": shown})
        about = {name: getattr(grid, name) for name in _ABOUT}
        places = {name: sorted(getattr(grid, name)) for name in ("hidden_rows", "hidden_columns")}
        sheets.append(about | places | {"merged": [list(one) for one in grid.merged], "columns": columns})
    told = [{name: getattr(one, name) for name in _PROBLEM} for one in problems]
    return arrays, {"sheets": sheets, "problems": told}


_ABOUT = ("file", "sheet", "rows", "hidden", "encoding", "delimiter")
_PROBLEM = ("code", "message", "mend", "severity", "file", "sheet", "row", "column")


def _grids(arrays: Mapping[str, np.ndarray], about: Mapping[str, Any]) -> tuple[list[Grid], list[Problem]]:
    """What ``_plain`` made, as grids and problems again."""
    grids = []
    for at, sheet in enumerate(about["sheets"]):
        columns = []
        for place, own in enumerate(sheet["columns"]):
            codes, kinds, numbers = (np.array(arrays[f"{at}.{place}.{name}"]) for name in ("codes", "kinds", "numbers"))
            shown = None if own["shown"] is None else np.array(own["shown"], dtype=object)
            columns.append(Column(codes, np.array(own["texts"], dtype=object), kinds, numbers, shown))
        grids.append(
            Grid(
                **{name: sheet[name] for name in _ABOUT},
                columns=tuple(columns),
                hidden_rows=frozenset(sheet["hidden_rows"]),
                hidden_columns=frozenset(sheet["hidden_columns"]),
                merged=tuple((one[0], one[1], one[2], one[3]) for one in sheet["merged"]),
            )
        )
    return grids, [Problem(**one) for one in about["problems"]]
