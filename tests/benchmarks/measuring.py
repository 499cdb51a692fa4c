"""Whole commands as processes of their own: in go commands, out come seconds (by the clock, and of the processors) and
peak memory.

Contenders take turns, so that a busy minute of the machine falls on all of them alike.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

__all__ = ["Contender", "Measured", "race"]

_ROOT = Path(__file__).resolve().parents[2]
#: How often the memory is looked at, in seconds.
_LOOK = 0.05


@dataclass(frozen=True, slots=True)
class Contender:
    """One way to do the job.

    ``before`` is called ahead of each run and not timed. ``until`` gives a path pattern (below ``where``): the time
    until a file of it exists is kept as ``Measured.until``. A number of seconds that the command prints as its last
    line, behind ``not counted``, is taken off. ``hide``: packages that the command and its children may not find.
    """

    command: Sequence[str | Path]
    before: Callable[[], object] = lambda: None
    until: tuple[Path, str] | None = None
    hide: tuple[str, ...] = ()
    status: tuple[int, ...] = (0, 3)


@dataclass(slots=True)
class Measured:
    """What was measured of one contender in each run: seconds by the clock and of the processors, seconds until the
    file asked for was there, peak memory (MB) of the process tree.
    """

    runs: list[float] = field(default_factory=list)
    processors: list[float] = field(default_factory=list)
    untils: list[float] = field(default_factory=list)
    peaks: list[float] = field(default_factory=list)

    @property
    def seconds(self) -> float:
        """Median of the runs."""
        return statistics.median(self.runs)

    @property
    def processor_seconds(self) -> float:
        """Median time of the processors, which other work on the machine disturbs less."""
        return statistics.median(self.processors)

    @property
    def until(self) -> float:
        """Median time until the file asked for was there."""
        return statistics.median(self.untils)

    @property
    def peak_mb(self) -> float:
        """The highest peak."""
        return max(self.peaks)


def race(contenders: dict[str, Contender], *, repeats: int, budget: float = 30.0) -> dict[str, Measured]:
    """Run all contenders in turn, ``repeats`` times; one that has used ``budget`` seconds sits the rest out."""
    measured = {name: Measured() for name in contenders}
    for _ in range(repeats):
        for name, one in contenders.items():
            if sum(measured[name].runs) < budget:
                _run(name, one, measured[name])
    return measured


def _run(name: str, one: Contender, into: Measured) -> None:
    one.before()
    with tempfile.TemporaryDirectory() as scratch, tempfile.TemporaryFile("w+") as output:
        environment = os.environ | {"PYTHONPATH": os.pathsep.join([scratch, str(_ROOT)])}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed tool is compiled once, not at each start
        hidden = "".join(f"sys.modules[{package!r}] = None\n" for package in one.hide)
        (Path(scratch) / "sitecustomize.py").write_text(f"import sys\n{hidden}")
        began = time.perf_counter()
        process = subprocess.Popen(
            [str(part) for part in one.command], stdout=output, stderr=subprocess.STDOUT, env=environment, cwd=scratch
        )
        watch = _Watch(process.pid, one.until, began)
        watch.start()
        _, status, usage = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - began
        watch.stop()
        process.returncode = os.waitstatus_to_exitcode(status)
        output.seek(0)
        said = output.read()
    if process.returncode not in one.status:
        raise SystemExit(f"{name} failed with status {process.returncode}:\n{said}")
    last = said.rstrip().rpartition("\n")[2]
    not_counted = float(last.removeprefix("not counted ")) if last.startswith("not counted ") else 0.0
    into.runs.append(seconds - not_counted)
    into.processors.append(usage.ru_utime + usage.ru_stime - not_counted)
    # where /proc tells nothing; what it tells is better, since a new process starts with the peak of its parent
    into.peaks.append(watch.peak_mb or usage.ru_maxrss / (1024 * 1024 if sys.platform == "darwin" else 1024))
    if one.until is not None:
        if watch.found is None:
            raise SystemExit(f"{name}: no file {one.until[1]} was seen while it ran")
        into.untils.append(watch.found - began)


class _Watch(threading.Thread):
    """Looks at a running process: the memory of its tree (Linux only; shared pages count once for each process that
    has them), and whether a file is there yet.
    """

    def __init__(self, pid: int, until: tuple[Path, str] | None, began: float) -> None:
        super().__init__(daemon=True)
        self._pid, self._until, self._over = pid, until, threading.Event()
        self.peak_mb, self.found = 0.0, None if until is None else self._there(began)

    def _there(self, now: float) -> float | None:
        return now if self._until is not None and any(self._until[0].glob(self._until[1])) else None

    def run(self) -> None:
        """Look until told to stop."""
        turn = 0
        while not self._over.wait(_LOOK / 5 if self._until else _LOOK):
            if self._until is not None and self.found is None:
                self.found = self._there(time.perf_counter())
            if turn % (5 if self._until else 1) == 0:
                tree = _tree(self._pid)
                self.peak_mb = max(self.peak_mb, _peak_mb(self._pid), sum(map(_resident_mb, tree)))
            turn += 1

    def stop(self) -> None:
        """End the watch."""
        self._over.set()
        self.join()


def _tree(pid: int) -> list[int]:
    """The process and all below it."""
    found, waiting = [], [pid]
    while waiting:
        one = waiting.pop()
        found.append(one)
        for children in Path(f"/proc/{one}/task").glob("*/children"):
            try:
                waiting += map(int, children.read_text().split())
            except OSError:
                continue
    return found


def _peak_mb(pid: int) -> float:
    """The peak of one process so far, as the kernel keeps it."""
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0.0
    peak = status.partition("VmHWM:")[2].split()
    return int(peak[0]) / 1024 if peak else 0.0


def _resident_mb(pid: int) -> float:
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    except (OSError, IndexError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / (1024 * 1024)
