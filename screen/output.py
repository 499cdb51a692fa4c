"""The output folder: made beside its place under another name and moved there whole, so that it is complete or absent.

Takes the folder that the user named; gives a temporary folder to write into. An interrupted run leaves no
half-written folder: the temporary one is removed on any error, and an earlier folder stays in place, or beside it as
``DIR.earlier``.
"""

from __future__ import annotations

import contextlib
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

__all__ = ["RECORD", "OutputRefusedError", "check_output", "earlier_path", "whole_folder"]

#: The file that tells one of our own output folders from anybody else's.
RECORD = "run.json"


class OutputRefusedError(ValueError):
    """The output folder cannot be used. The text says why and what would do."""


def check_output(folder: Path, *, overwrite: bool) -> None:
    """Refuse a folder that is not ours to fill, before any work is done.

    Raises OutputRefusedError: a file stands there; or a non-empty folder without ``overwrite``; or, with ``overwrite``,
    a non-empty folder that holds no ``run.json``; or the folder above does not exist.
    """
    if not folder.parent.is_dir():
        raise OutputRefusedError(
            f"{folder}: the folder {folder.parent} does not exist. Make it first, or name another --out."
        )
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise OutputRefusedError(f"{folder} is not a folder. Name another --out.")
    if not folder.exists() or not any(folder.iterdir()):
        return
    ours = (folder / RECORD).is_file()
    if not ours:
        raise OutputRefusedError(
            f"{folder} holds other files and no {RECORD} of this tool, so nothing in it is touched. "
            "Name a new folder with --out."
        )
    if not overwrite:
        raise OutputRefusedError(
            f"{folder} holds an earlier run. Add --overwrite to replace it, or name a new folder with --out."
        )


def earlier_path(folder: Path) -> Path:
    """Where the earlier folder waits while the new one is moved into place."""
    return folder.with_name(folder.name + ".earlier")


@contextlib.contextmanager
def whole_folder(folder: Path, *, overwrite: bool) -> Iterator[Path]:
    """A temporary folder to write into; on leaving without an error it becomes ``folder``, whole.

    Raises OutputRefusedError as ``check_output`` does, and lets any error of the body through after cleaning up.
    """
    check_output(folder, overwrite=overwrite)
    work = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", suffix=".partial", dir=folder.parent))
    try:
        yield work
        work.chmod(0o755)
        _move_into_place(work, folder, overwrite=overwrite)
    finally:
        if work.exists():
            shutil.rmtree(work, ignore_errors=True)


def _move_into_place(work: Path, folder: Path, *, overwrite: bool) -> None:
    check_output(folder, overwrite=overwrite)  # another run may have filled it meanwhile
    if not folder.exists():
        work.rename(folder)
        return
    if not any(folder.iterdir()):
        folder.rmdir()
        work.rename(folder)
        return
    earlier = earlier_path(folder)
    if earlier.exists():
        if not (earlier / RECORD).is_file():
            raise OutputRefusedError(f"{earlier} is in the way and is not a run of this tool. Move it, and run again.")
        shutil.rmtree(earlier)
    folder.rename(earlier)
    work.rename(folder)
    shutil.rmtree(earlier)
