"""Trying mutants and mapping tests: in go pytest's collected tests, out comes which test reaches or kills what.

Both run each test by itself, fixtures of its own, in the order given. A mutant is tried in a fork of the process that
has everything imported and collected, so that it costs little more than its tests.
"""

from __future__ import annotations

import os
import resource
import selectors
import signal
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import pytest

from tests.mutation.mutants import Mutant

__all__ = ["Mapper", "Reached", "Trier", "Verdict", "pytest_options"]

#: Fixtures of tests that run the whole command.
_COMMANDS = {"siltmark", "screen_csv", "screen_files", "demo_run", "open_data"}


@dataclass
class Reached:
    """What tests reach: seconds of each test by id, and for each file and line the tests that run it."""

    seconds: dict[str, float] = field(default_factory=dict)
    by_line: dict[str, dict[int, list[str]]] = field(default_factory=dict)


@dataclass(frozen=True)
class Verdict:
    """What became of a mutant: ``killed``, ``timeout``, ``survived`` or ``no test`` (none reaches its line)."""

    outcome: str
    by: str = ""
    tests: int = 0


class _Runs:
    """Runs single tests, and remembers whether the last one failed."""

    def __init__(self) -> None:
        self.failed = False

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.failed = self.failed or report.failed

    def passes(self, item: pytest.Item) -> bool:
        self.failed = False
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
        return not self.failed


class Mapper(_Runs):
    """Runs each test once under coverage.py and keeps which lines it reaches. Tests that fail unmutated are an error.

    Left out are whole commands and properties over many examples: they take longer than all others together.
    """

    def __init__(self, folders: Sequence[str], longest: float) -> None:
        super().__init__()
        import coverage

        self._longest = longest
        self._coverage = coverage.Coverage(data_file=None, source=list(folders), config_file=False)
        self._coverage.start()
        self.reached = Reached()
        self.failing: list[str] = []

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        for item in session.items:
            if item.get_closest_marker("hypothesis") or _COMMANDS & set(getattr(item, "fixturenames", ())):
                continue
            self._coverage.switch_context(item.nodeid)
            began = time.process_time()
            if not self.passes(item):
                self.failing.append(item.nodeid)
            self.reached.seconds[item.nodeid] = time.process_time() - began
        self._coverage.stop()
        data = self._coverage.get_data()
        for path in data.measured_files():
            self.reached.by_line[os.path.relpath(path)] = {
                line: [one for one in ids if one and self.reached.seconds[one] <= self._longest]
                for line, ids in data.contexts_by_lineno(path).items()
            }
        return True


@dataclass
class _Child:
    mutant: Mutant
    ids: list[str]
    until: float


class Trier(_Runs):
    """Tries mutants, ``at_once`` beside each other, with their tests until one fails or ``budget`` seconds are spent.

    Of the tests that reach a mutant those that killed others of the same function come first, then those in the files
    that are named as its own, all of which are run, then the quickest.
    """

    def __init__(
        self,
        mutants: Sequence[tuple[Mutant, list[str], list[str]]],
        seconds: dict[str, float],
        tell: Callable[[Mutant, Verdict], None],
        at_once: int = 2,
        budget: float = 2.0,
    ) -> None:
        super().__init__()
        self._mutants, self._seconds, self._tell = mutants, seconds, tell
        self._at_once, self._budget = at_once, budget
        self._kills: dict[str, Counter[str]] = defaultdict(Counter)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        for item in sorted(items.values(), key=lambda one: self._seconds.get(one.nodeid, 0.0))[:1]:
            self.passes(item)  # what is loaded once is loaded before the first fork
        running: dict[int, _Child] = {}
        with selectors.DefaultSelector() as ready:
            for mutant, ids, own in self._mutants:
                chosen = self._chosen(mutant, [one for one in ids if one in items], set(own))
                if not chosen:
                    self._tell(mutant, Verdict("no test"))
                    continue
                while len(running) >= self._at_once:
                    self._gather(ready, running)
                self._start(mutant, [items[one] for one in chosen], ready, running)
            while running:
                self._gather(ready, running)
        return True

    def _chosen(self, mutant: Mutant, ids: list[str], own: set[str]) -> list[str]:
        kills = self._kills[mutant.key.rsplit("__mutmut_", 1)[0]]
        named = {one: one.split("::")[0] in own for one in ids}
        chosen, spent = [], 0.0
        for one in sorted(ids, key=lambda one: (-kills[one], not named[one], self._seconds[one], one)):
            if named[one] or not chosen or spent + self._seconds[one] <= self._budget:
                spent += self._seconds[one]
                chosen.append(one)
        return chosen

    def _start(
        self, mutant: Mutant, items: list[pytest.Item], ready: selectors.BaseSelector, running: dict[int, _Child]
    ) -> None:
        expected = sum(self._seconds[item.nodeid] for item in items)
        read, write = os.pipe()
        pid = os.fork()
        if pid == 0:
            self._child(mutant, items, write, expected)
        os.close(write)
        ids = [item.nodeid for item in items]
        running[pid] = _Child(mutant, ids, time.monotonic() + 20 * expected + 20)
        ready.register(read, selectors.EVENT_READ, pid)

    def _child(self, mutant: Mutant, items: list[pytest.Item], write: int, expected: float) -> None:
        nothing = os.open(os.devnull, os.O_RDWR)
        for number in (0, 1, 2):
            os.dup2(nothing, number)
        limit = int(5 * expected + 6)
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))
        os.environ["MUTANT_UNDER_TEST"] = mutant.key
        said = b"-1"
        try:
            for number, item in enumerate(items):
                if not self.passes(item):
                    said = str(number).encode()
                    break
        except BaseException:
            said = b"0"
        os.write(write, said)
        os._exit(0)

    def _gather(self, ready: selectors.BaseSelector, running: dict[int, _Child]) -> None:
        """Take up one child that has ended; end one that takes too long."""
        for key, _ in ready.select(timeout=1.0):
            said = os.read(key.fd, 20)
            pid: int = key.data
            ready.unregister(key.fd)
            os.close(key.fd)
            os.waitpid(pid, 0)
            self._judge(running.pop(pid), said)
        for pid, child in running.items():
            if time.monotonic() > child.until:
                os.kill(pid, signal.SIGKILL)

    def _judge(self, child: _Child, said: bytes) -> None:
        if not said:
            self._tell(child.mutant, Verdict("timeout", tests=len(child.ids)))
        elif said == b"-1":
            self._tell(child.mutant, Verdict("survived", tests=len(child.ids)))
        else:
            by = child.ids[int(said)]
            self._kills[child.mutant.key.rsplit("__mutmut_", 1)[0]][by] += 1
            self._tell(child.mutant, Verdict("killed", by, len(child.ids)))


def pytest_options() -> list[str]:
    """Options for both: no explanations of what failed (they cost more than the tests); a warning of NumPy's fails."""
    settings = ("tmp_path_retention_policy=none", "addopts=--import-mode=importlib")
    plain = ["-qq", "-s", "--tb=native", "--assert=plain", "-W", "ignore", "-W", "error::RuntimeWarning"]
    without = [part for name in ("cacheprovider", "randomly", "xdist") for part in ("-p", f"no:{name}")]
    return [*plain, *without, *(part for one in settings for part in ("-o", one))]
