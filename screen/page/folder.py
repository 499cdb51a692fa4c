"""The folder in which the page keeps its batches. In: a folder and names. Out: batches, their files and their runs.

One batch is one folder: ``sheets/`` and ``field/`` hold the files as they came, ``settings.toml`` what was chosen.
Its run number 3 is ``run-3``, written by ``siltmark screen``, beside ``run-3.toml``, the settings it was made with, and
``run-3.log``, what the command said. All of it can be used from the command line as it stands.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from screen.output import RECORD
from screen.page.names import plain_name

__all__ = ["KINDS", "Batch", "FolderError", "Run", "Workspace", "default_folder", "write_whole"]

#: Where the files of a batch are put: lab sheets, field records, guideline sets of one's own.
KINDS = ("sheets", "field", "sets")
_SETTINGS = "settings.toml"
_RUN = re.compile(r"run-([1-9][0-9]{0,5})\.toml")


class FolderError(ValueError):
    """A folder, batch, run or file that is not there or cannot be made. The text says why and what would do."""


def default_folder() -> Path:
    """``Siltmark`` below the user's documents folder, or below the home folder where there is none.

    Raises FolderError where no home folder is known.
    """
    try:
        home = Path.home()
    except RuntimeError:
        home = Path()
    if not home.is_absolute() or home == Path(home.anchor):
        raise FolderError("your home folder is not known (HOME is not set). Name a folder with --folder.")
    documents = _documents(home)
    return (documents if documents.is_dir() else home) / "Siltmark"


def _documents(home: Path) -> Path:
    """The documents folder: as the desktop names it, where it does, else ``Documents``."""
    listed = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config") / "user-dirs.dirs"
    try:
        found = re.search(r'^XDG_DOCUMENTS_DIR="(.+)"', listed.read_text(encoding="utf-8"), re.M)
    except (OSError, UnicodeDecodeError):
        found = None
    named = Path(found[1].replace("$HOME", str(home))) if found else home / "Documents"
    return named if named.is_absolute() else home / "Documents"


def write_whole(path: Path, text: str) -> None:
    """Write ``text`` to ``path`` so that it is there whole or as it was."""
    work = path.with_name(f".{path.name}.{os.getpid()}.partial")
    work.write_text(text, encoding="utf-8", newline="\n")
    work.replace(path)


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a batch; whether it is whole is told by its ``run.json``."""

    batch: Batch
    number: int

    @property
    def folder(self) -> Path:
        """Where the command writes."""
        return self.batch.folder / f"run-{self.number}"

    @property
    def settings(self) -> Path:
        """The settings that it was started with."""
        return self.folder.with_suffix(".toml")

    @property
    def log(self) -> Path:
        """What the command said."""
        return self.folder.with_suffix(".log")

    @property
    def whole(self) -> bool:
        """Whether it was written."""
        return (self.folder / RECORD).is_file()

    def record(self) -> dict[str, Any]:
        """Its ``run.json``; empty where there is none that can be read."""
        try:
            found = json.loads((self.folder / RECORD).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return found if isinstance(found, dict) else {}

    def messages(self) -> list[str]:
        """What the command said, line by line."""
        try:
            return self.log.read_text(encoding="utf-8").splitlines()
        except OSError:
            return []


@dataclass(frozen=True, slots=True)
class Batch:
    """One batch: the sheets of one survey and all that was chosen for them."""

    folder: Path

    @property
    def name(self) -> str:
        """Its name, which is its folder's."""
        return self.folder.name

    @property
    def settings(self) -> Path:
        """The settings file that the page fills in."""
        return self.folder / _SETTINGS

    def files(self, kind: str) -> list[Path]:
        """Its lab sheets or its field records, in name order."""
        place = self.folder / kind
        found = place.iterdir() if place.is_dir() else ()
        return sorted(one for one in found if one.is_file() and not one.name.startswith("."))

    def arguments(self) -> list[str]:
        """Its sheets as the command line names them from the batch's folder."""
        return [f"sheets/{one.name}" for one in self.files("sheets")]

    def add(self, kind: str, name: str, content: IO[bytes]) -> str:
        """Keep one file under its own name; gives that name. Raises FolderError for a name that is taken or none."""
        kept = plain_name(name)
        if not kept:
            raise FolderError(f"{name!r} is no name for a file. Rename it and add it again.")
        if any(one.name.casefold() == kept.casefold() for each in KINDS for one in self.files(each)):
            raise FolderError(f"{kept} is there already. Take it out first, or rename the new one.")
        place = self.folder / kind
        place.mkdir(exist_ok=True)
        work = place / f".{kept}.partial"
        try:
            with work.open("wb") as made:
                shutil.copyfileobj(content, made, 1 << 20)
            work.replace(place / kept)
        finally:
            work.unlink(missing_ok=True)
        return kept

    def remove(self, kind: str, name: str) -> None:
        """Take one file out. Raises FolderError where it is not there."""
        for one in self.files(kind):
            if one.name == name:
                one.unlink()
                return
        raise FolderError(f"{name} is not among the files of this batch.")

    def runs(self) -> list[Run]:
        """Its runs, the latest first."""
        found = (_RUN.fullmatch(one.name) for one in self.folder.iterdir())
        return [Run(self, number) for number in sorted((int(one[1]) for one in found if one), reverse=True)]

    def run(self, number: int) -> Run:
        """One run. Raises FolderError where it is not there."""
        made = Run(self, number)
        if not made.settings.is_file():
            raise FolderError(f"{self.name} has no run {number}.")
        return made

    def new_run(self, text: str) -> Run:
        """The next run, its settings written."""
        number = max((one.number for one in self.runs()), default=0)
        while True:
            number += 1
            made = Run(self, number)
            if made.folder.exists():
                continue
            try:
                with made.settings.open("x", encoding="utf-8", newline="\n") as file:
                    file.write(text)
            except FileExistsError:
                continue
            return made


@dataclass(frozen=True, slots=True)
class Workspace:
    """All batches."""

    folder: Path

    def open(self) -> None:
        """Make the folder if need be. Raises FolderError where it cannot be written to."""
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            work = self.folder / f".{os.getpid()}.partial"
            work.touch()
            work.unlink()
        except OSError as error:
            why = "it is not a folder" if self.folder.is_file() else error.strerror or str(error)
            raise FolderError(
                f"{self.folder} cannot be used to keep files in ({why}). Name another folder with --folder."
            ) from error

    def batches(self) -> list[Batch]:
        """All batches, the one changed last first."""
        found = [Batch(one) for one in self._folders()]
        return sorted(found, key=lambda one: (-one.settings.stat().st_mtime_ns, one.name))

    def _folders(self) -> Iterator[Path]:
        for one in self.folder.iterdir():
            if not one.name.startswith(".") and (one / _SETTINGS).is_file():
                yield one

    def batch(self, name: str) -> Batch:
        """One batch. Raises FolderError where it is not there."""
        for one in self._folders():
            if one.name == name:
                return Batch(one)
        raise FolderError(f"There is no batch {name!r} in {self.folder.name}.")

    def new_batch(self, name: str, text: str) -> Batch:
        """A new batch with these settings; raises FolderError for a name that is taken, or none."""
        kept = plain_name(name) if name.strip() else self._free_name()
        if not kept:
            raise FolderError(f"{name!r} is no name for a folder. Use letters and digits.")
        try:
            taken = any(one.name.casefold() == kept.casefold() for one in self.folder.iterdir())
            if taken:
                raise FileExistsError
            (self.folder / kept).mkdir()
        except FileExistsError:
            raise FolderError(f"{kept} is there already. Give the batch another name.") from None
        made = Batch(self.folder / kept)
        for kind in KINDS:
            (made.folder / kind).mkdir()
        write_whole(made.settings, text)
        return made

    def _free_name(self) -> str:
        taken = {one.name.casefold() for one in self.folder.iterdir()}
        return next(name for number in range(1, 1 << 20) if (name := f"Batch {number}").casefold() not in taken)
