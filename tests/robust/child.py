"""The command in a process of its own: arguments in; status, messages, time and greatest memory out."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

__all__ = ["Ended", "command", "run_child"]


@dataclass(frozen=True)
class Ended:
    """How a child ended. ``status`` is negative for a signal; ``megabytes`` is the greatest resident set."""

    status: int
    stdout: str
    stderr: str
    seconds: float
    megabytes: float


def command(*arguments: str | Path) -> list[str]:
    """The command line of ``siltmark`` with this interpreter."""
    return [sys.executable, "-m", "screen", *map(str, arguments)]


def run_child(
    *arguments: str | Path,
    environment: Mapping[str, str] | None = None,
    without: Sequence[str] = (),
    folder: Path | None = None,
    seconds: float = 120,
    line: Sequence[str] | None = None,
) -> Ended:
    """Run ``siltmark`` (or the whole command ``line``) with more ``environment`` and ``without`` some of it."""
    kept = {name: text for name, text in os.environ.items() if name not in {*without, "SILTMARK_TRACEBACK"}}
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        began = time.monotonic()
        process = subprocess.Popen(
            list(line or command(*arguments)),
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=err,
            cwd=folder,
            env={**kept, "PYTHONPATH": str(Path(__file__).parents[2]), **(environment or {})},
        )
        peak = 0.0
        while True:
            peak = _peak(process.pid) or peak
            ended, status, used = os.wait4(process.pid, os.WNOHANG)
            if ended:
                break
            if time.monotonic() - began > seconds:
                process.kill()
                os.wait4(process.pid, 0)
                raise TimeoutError(f"{arguments} took longer than {seconds} s")
            time.sleep(0.02)
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        err.seek(0)
        return Ended(
            process.returncode,
            out.read().decode("utf-8", "replace"),
            err.read().decode("utf-8", "replace"),
            time.monotonic() - began,
            peak or used.ru_maxrss / 1024,
        )


def _peak(pid: int) -> float:
    """The peak of a running process's own memory in MB; 0 where the system does not say.

    What the system tells of an ended child counts from before it became a process of its own, and so holds the memory
    of the one that started it.
    """
    try:
        lines = Path(f"/proc/{pid}/status").read_text(encoding="ascii", errors="replace").splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM")), 0.0)
