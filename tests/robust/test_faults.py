"""Faults of the machine: DIR is whole or absent, an earlier DIR survives, and the message says what to do."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.robust.child import Ended, command, run_child
from tests.robust.kills import digests, is_whole, kill_runs
from tests.robust.sheets import whole_files

ASKED = ("screen", "lab.xlsx", "--out", "out", "--water", "fresh")


@pytest.fixture
def work(tmp_path: Path) -> Path:
    """A folder with the small batch in it."""
    (tmp_path / "lab.xlsx").write_bytes(whole_files()["lab.xlsx"])
    return tmp_path


def plain(ended: Ended, status: int, *words: str) -> None:
    """The run ended with ``status``, without a traceback, and its last message has the words."""
    assert ended.status == status, ended.stderr
    assert "Traceback" not in ended.stderr
    last = ended.stderr.strip().splitlines()[-1]
    assert all(word in last for word in words), ended.stderr


def under(limit: str, value: int, *arguments: str) -> list[str]:
    """A command line that sets a limit of the system on itself before it becomes ``siltmark``."""
    code = (
        "import os, resource, signal, sys; signal.signal(signal.SIGXFSZ, signal.SIG_IGN); "
        f"resource.setrlimit(resource.{limit}, ({value}, {value})); os.execv(sys.executable, sys.argv[1:])"
    )
    return [sys.executable, "-c", code, *command(*arguments)]


@pytest.mark.parametrize("most", [2_000, 5_000, 60_000])
def test_a_disk_that_takes_no_more(work: Path, most: int) -> None:
    """The system's limit on the size of a file (RLIMIT_FSIZE) makes writing fail as a full disk does."""
    ended = run_child(folder=work, line=under("RLIMIT_FSIZE", most, *ASKED))
    plain(ended, 1, "Nothing was written to out", "run again")
    assert not (work / "out").exists()
    assert [one.name for one in work.iterdir() if ".partial" in one.name] == []


def test_a_full_disk_keeps_the_earlier_folder(work: Path) -> None:
    assert run_child(*ASKED, folder=work).status == 0
    before = digests(work / "out")
    ended = run_child(folder=work, line=under("RLIMIT_FSIZE", 60_000, *ASKED, "--overwrite"))
    plain(ended, 1, "Nothing was written to out")
    assert digests(work / "out") == before


@pytest.mark.skipif(sys.platform != "linux" or os.geteuid() != 0, reason="needs to mount a small disk")
def test_a_really_full_disk(work: Path) -> None:
    """A disk of 200 kB in memory (tmpfs)."""
    disk = work / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=200k", "tmpfs", str(disk)], capture_output=True)
    if mounted.returncode:
        pytest.skip("a disk cannot be mounted here")
    try:
        ended = run_child("screen", "lab.xlsx", "--out", "disk/out", "--water", "fresh", folder=work)
        plain(ended, 1, "No space left", "Nothing was written to disk/out")
        assert [one for one in disk.rglob("*") if one.is_file()] == []
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_folder_that_may_not_be_written(work: Path) -> None:
    """Modes do not bind the superuser, so as root the child first gives up the right to override them (setpriv)."""
    shut = work / "shut"
    shut.mkdir()
    shut.chmod(0o555)
    line = command("screen", "lab.xlsx", "--out", "shut/out", "--water", "fresh")
    if not os.geteuid():
        if not shutil.which("setpriv"):
            pytest.skip("the superuser may write everywhere, and there is no setpriv")
        line = ["setpriv", "--inh-caps=-all", "--bounding-set=-dac_override,-dac_read_search", *line]
    ended = run_child(folder=work, line=line)
    plain(ended, 1, "Permission denied", "Nothing was written to shut/out")
    assert list(shut.iterdir()) == []


def test_killed_at_random_times(tmp_path: Path) -> None:
    ended = kill_runs(tmp_path, int(os.environ.get("SILTMARK_KILLS", "6")), seed=8)
    assert ended["killed"] > 0, ended


def test_two_runs_into_one_folder(work: Path) -> None:
    """One of them wins; the other says so or had to wait; what stands is whole."""
    with_room = {"PYTHONPATH": str(Path(__file__).parents[2])}
    both = [
        subprocess.Popen(command(*ASKED), cwd=work, env={**os.environ, **with_room}, stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    said = [one.communicate()[1] for one in both]
    assert sorted(one.returncode for one in both)[0] == 0, said
    assert not any("Traceback" in one for one in said), said
    assert is_whole(work / "out")
    assert [one.name for one in work.iterdir() if ".partial" in one.name] == []


BARE: dict[str, tuple[Mapping[str, str], tuple[str, ...]]] = {
    "no home": ({}, ("HOME", "USER", "LOGNAME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME")),
    "C locale": ({"LC_ALL": "C", "LANG": "C"}, ("PYTHONUTF8", "PYTHONIOENCODING")),
    "C locale, no UTF-8 mode": ({"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}, ()),
    "POSIX, ASCII streams": ({"LC_ALL": "POSIX", "PYTHONIOENCODING": "ascii:strict"}, ()),
    "far zone": ({"TZ": "Pacific/Kiritimati"}, ()),
    "dumb terminal": ({"TERM": "dumb", "NO_COLOR": "1"}, ()),
    "no terminal": ({}, ("TERM", "COLUMNS", "LINES")),
}


@pytest.mark.parametrize("name", BARE)
def test_a_bare_environment(work: Path, name: str) -> None:
    more, without = BARE[name]
    odd = "Prüfbericht µ.csv"
    (work / odd).write_text(
        "Probe µ\nSample,Analyte,Result,Unit\nQÉ-1,Lead,5,µg/kg dry\nQÉ-1,Änderung,5,mg/kg\n", "utf-8"
    )
    ended = run_child("screen", ".", "--out", "out", "--water", "fresh", folder=work, environment=more, without=without)
    assert (ended.status, "Traceback" in ended.stderr) == (0, False), ended.stderr
    assert is_whole(work / "out")
    assert "\x1b" not in ended.stdout + ended.stderr
    assert "QÉ-1" in (work / "out" / "tables" / "results.csv").read_text("utf-8")
    shown = run_child("read", odd, folder=work, environment=more, without=without)
    assert (shown.status, "Traceback" in shown.stderr) == (0, False), shown.stderr


@pytest.mark.parametrize(
    ("packages", "options", "status", "words"),
    [
        (("pyarrow",), (), 0, ""),
        (("docx",), ("--memo",), 2, "siltmark[memo]"),
        (("pyarrow", "docx", "playwright", "odf", "xlsxwriter"), (), 0, ""),
    ],
)
def test_without_what_is_optional(
    work: Path, packages: tuple[str, ...], options: tuple[str, ...], status: int, words: str
) -> None:
    code = (
        "import sys, importlib.abc\n"
        "class Lacking(importlib.abc.MetaPathFinder):\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name.partition('.')[0] in {packages!r}: raise ModuleNotFoundError(name)\n"
        "sys.meta_path.insert(0, Lacking())\n"
        "import importlib.util as u; found = u.find_spec\n"
        f"u.find_spec = lambda name, package=None: None if name.partition('.')[0] in {packages!r} else found(name)\n"
        f"from screen.cli.main import main; main({[*ASKED, *options]!r})"
    )
    ended = run_child(folder=work, line=[sys.executable, "-c", code])
    assert (ended.status, "Traceback" in ended.stderr) == (status, False), ended.stderr
    assert words in ended.stderr
    assert (work / "out").exists() == (status == 0)


def test_a_pdf_without_a_browser(work: Path) -> None:
    ended = run_child(*ASKED, "--pdf", folder=work, environment={"PATH": str(work)})
    assert "Traceback" not in ended.stderr
    if ended.status:  # a browser may stand where no path is needed
        assert "Chromium" in ended.stderr
        assert not (work / "out").exists()


def test_a_closed_pipe_is_no_fault(work: Path) -> None:
    line = f"{' '.join(map(repr, command('read', 'lab.xlsx', '--json')))} | head -c 10 >/dev/null"
    ended = run_child(folder=work, line=["bash", "-c", line])
    assert "Traceback" not in ended.stderr
    assert "fault of the tool" not in ended.stderr


def test_closed_streams(work: Path) -> None:
    code = "import os, sys; os.close(1); os.close(2); os.execv(sys.executable, sys.argv[1:])"
    ended = run_child(folder=work, line=[sys.executable, "-c", code, *command(*ASKED)])
    assert is_whole(work / "out"), ended
