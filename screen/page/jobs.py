"""Processes beside the server. In: a command for a folder. Out: its lines as they come, and how it ended.

A screening runs in a process of its own for three reasons: it is then exactly the command of the command line, with its
words; a sheet that exhausts the memory ends it and not the page; and it can be stopped at any step.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

__all__ = ["Job", "Jobs"]

_STEP = "\N{HORIZONTAL ELLIPSIS} "
#: This package is found where it was found before, and nothing in the folder of the batch can be imported.
_START = (
    f"import sys; sys.path.append({str(Path(__file__).resolve().parent.parent.parent)!r}); "
    "from screen.page.child import main; main(sys.argv[1:])"
)
#: How long a stopped process may take to tidy up.
_TIDY_SECONDS = 20


@dataclass(slots=True)
class Job:
    """One process.

    ``lines`` is what it said on stderr; ``status`` None while it runs; ``stopped`` whether it was asked to end.
    """

    process: subprocess.Popen[str]
    began: float = field(default_factory=time.monotonic)
    lines: list[str] = field(default_factory=list)
    status: int | None = None
    seconds: float = 0.0
    stopped: bool = False

    @property
    def running(self) -> bool:
        """Whether it goes on."""
        return self.status is None

    @property
    def steps(self) -> list[str]:
        """What it has said to be doing, in order, each once."""
        said = (line.removeprefix(_STEP) for line in list(self.lines) if line.startswith(_STEP))
        return list(dict.fromkeys(said))

    @property
    def messages(self) -> list[str]:
        """All that it said besides."""
        return [line for line in list(self.lines) if not line.startswith(_STEP)]

    @property
    def elapsed(self) -> float:
        """Seconds since it began, or that it took."""
        return time.monotonic() - self.began if self.running else self.seconds

    def stop(self) -> None:
        """Ask it to end, as on Ctrl-C; it tidies up and goes."""
        self.stopped = self.running
        self.close()

    def wait(self) -> None:
        """Wait until it is over; one that does not tidy up in time is ended."""
        try:
            self.process.wait(_TIDY_SECONDS)
        except subprocess.TimeoutExpired:
            self.process.kill()

    def close(self) -> None:
        """Let go of its input."""
        with contextlib.suppress(OSError):
            if self.process.stdin is not None:
                self.process.stdin.close()


class Jobs:
    """All processes of one server, by the path that each writes."""

    def __init__(self) -> None:
        self._jobs: dict[Path, Job] = {}
        self._lock = threading.Lock()

    def get(self, target: Path) -> Job | None:
        """The process that writes ``target``, running or ended; None where this server started none."""
        with self._lock:
            return self._jobs.get(target)

    def forget(self, target: Path) -> None:
        """Let go of a process that has ended."""
        with self._lock:
            before = self._jobs.get(target)
            if before is not None and not before.running:
                del self._jobs[target]

    def start(
        self, target: Path, arguments: Sequence[str], folder: Path, ended: Callable[[Job], None] | None = None
    ) -> Job:
        """Start a command in ``folder`` unless the one for ``target`` still runs; ``ended`` is told when it is over."""
        with self._lock:
            before = self._jobs.get(target)
            if before is not None and before.running:
                return before
            job = Job(_process(arguments, folder))
            self._jobs[target] = job
        threading.Thread(target=_follow, args=(job, ended), daemon=True).start()
        return job

    def stop_all(self) -> None:
        """End every process and wait until each has tidied up."""
        with self._lock:
            running = [job for job in self._jobs.values() if job.running]
        for job in running:
            job.stop()
        for job in running:
            job.wait()


def _process(arguments: Sequence[str], folder: Path) -> subprocess.Popen[str]:
    # a group of its own, so that Ctrl-C reaches the server alone, which then ends its processes in order
    apart = {"creationflags": 0x200} if os.name == "nt" else {"start_new_session": True}
    return subprocess.Popen(
        [sys.executable, "-P", "-c", _START, *arguments],
        cwd=folder,
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        errors="replace",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        **apart,
    )


def _follow(job: Job, ended: Callable[[Job], None] | None) -> None:
    assert job.process.stderr is not None
    for line in job.process.stderr:
        if text := line.rstrip("\n"):
            job.lines.append(text)
    status = job.process.wait()
    job.seconds = time.monotonic() - job.began
    job.close()
    if ended is not None:
        ended(job)  # before the status, so that who sees it over also finds what was kept of it
    job.status = status
