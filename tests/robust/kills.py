"""Runs killed at random times: a folder and a number in; how each ended out. AssertionError where DIR is torn."""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import subprocess
import time
from collections import Counter
from pathlib import Path

from tests.robust.child import command, run_child
from tests.robust.sheets import whole_files

__all__ = ["digests", "is_whole", "kill_runs"]

TABLES = {"results", "totals", "findings", "indices", "stations", "reach", "samples", "quality", "cores", "ledger"}


def digests(folder: Path) -> dict[str, str]:
    """The content of every file below ``folder``."""
    files = sorted(one for one in folder.rglob("*") if one.is_file())
    return {one.relative_to(folder).as_posix(): hashlib.sha256(one.read_bytes()).hexdigest() for one in files}


def is_whole(folder: Path) -> bool:
    """Whether every file of a run is there and its record can be read."""
    record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    named = {one.stem for one in (folder / "tables").glob("*.csv")} >= TABLES
    shown = (folder / "report.html").read_text(encoding="utf-8").rstrip().endswith("</html>")
    return bool(record["conserved"] and named and shown and (folder / "workbook.xlsx").stat().st_size)


def kill_runs(folder: Path, times: int, seed: int) -> Counter[str]:
    """Kill ``times`` runs into one DIR, every second one with --overwrite on an earlier run, and look at what is left.

    A killed run may leave its hidden work beside DIR; nothing else. Where DIR was there before, it is there still, or
    beside it as DIR.earlier, with the bytes that it had.
    """
    chance, ended = random.Random(seed), Counter[str]()
    (folder / "lab.xlsx").write_bytes(whole_files()["lab.xlsx"])
    asked = ("screen", "lab.xlsx", "--out", "out", "--water", "fresh")
    whole = run_child(*asked, folder=folder)
    assert whole.status == 0, whole.stderr
    before, longest = digests(folder / "out"), whole.seconds
    for number in range(times):
        overwrite = number % 2 == 1
        for name in ("out", "out.earlier"):
            _remove(folder / name)
        if overwrite:
            assert run_child(*asked, folder=folder).status == 0
            before = digests(folder / "out")
        began = time.monotonic()
        process = subprocess.Popen(
            command(*asked, *(["--overwrite"] if overwrite else [])),
            cwd=folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
        )
        # every third one close to the end, where the folders are moved
        share = chance.uniform(0.9, 1.1) if number % 3 == 0 else chance.uniform(0.0, 1.0)
        time.sleep(share * longest)
        process.send_signal(signal.SIGKILL)
        killed = process.wait() == -signal.SIGKILL
        if not killed:
            longest = time.monotonic() - began
        ended["killed" if killed else "ended first"] += 1
        ended[_left(folder, before if overwrite else None)] += 1
        seen = [one.name for one in folder.iterdir() if not one.name.startswith(".")]
        assert set(seen) <= {"lab.xlsx", "out", "out.earlier"}, seen
    return ended


def _left(folder: Path, before: dict[str, str] | None) -> str:
    out, earlier = folder / "out", folder / "out.earlier"
    if out.exists():
        assert is_whole(out), "DIR is torn"
    if before is None:
        return "DIR whole" if out.exists() else "DIR absent"
    kept = [one for one in (out, earlier) if one.exists() and digests(one) == before]
    if out.exists() and out not in kept:
        return "DIR new and whole"
    assert kept, "the earlier DIR is lost"
    return "earlier DIR in place" if kept[0] == out else "earlier DIR as DIR.earlier"


def _remove(folder: Path) -> None:
    for one in sorted(folder.rglob("*"), reverse=True):
        one.rmdir() if one.is_dir() else one.unlink()
    if folder.exists():
        folder.rmdir()
