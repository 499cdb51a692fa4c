"""A killed run goes on with --resume and ends in the same bytes (invented sheets)."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from screen.parts import kept, work
from screen.pipeline import screened, write_run
from screen.settings import Settings
from tests.scale.split_batch import bytes_of

SHEET = "Sample ID,Station,Analyte,Result,Qual,Unit,Basis\n"


def _sheets(folder: Path, files: int) -> Path:
    folder.mkdir()
    for number in range(files):
        rows = [
            f"QF-{number},S{number % 5},{name},{number % 7 + 1.5},{'U' if number % 3 == 0 else ''},mg/kg,dry"
            for name in ("Arsenic", "Cadmium", "Copper", "Lead", "Nickel", "Zinc")
        ]
        (folder / f"lab_{number:03}.csv").write_text(SHEET + "\n".join(rows) + "\n", encoding="utf-8")
    return folder


def _written(sheets: Path, out: Path, *, resume: bool = False, size: int = 30) -> dict[str, bytes]:
    settings = Settings(water="fresh", tables_only=True, resume=resume)
    done = screened([sheets], settings, work.work_folder(out), size=size)
    out.mkdir()
    write_run(done, out)
    done.work.finish()
    return bytes_of(out)


@pytest.mark.parametrize("steps", [1, 12, 21, 27])
def test_a_run_stopped_after_some_steps_goes_on(steps: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sheets = _sheets(tmp_path / "sheets", 20)
    whole = _written(sheets, tmp_path / "whole")
    done: list[str] = []
    put = kept.Shelf.put

    def stopped(shelf: kept.Shelf, name: str, *given: object) -> None:
        if len(done) == steps:
            raise KeyboardInterrupt
        put(shelf, name, *given)  # type: ignore[arg-type]
        done.append(name)

    out = tmp_path / "out"
    with monkeypatch.context() as patched, pytest.raises(KeyboardInterrupt):
        patched.setattr(kept.Shelf, "put", stopped)
        _written(sheets, out)
    assert work.work_folder(out).is_dir()
    again: list[str] = []
    monkeypatch.setattr(kept.Shelf, "put", lambda shelf, name, *given: (again.append(name), put(shelf, name, *given)))
    assert _written(sheets, out, resume=True) == whole
    assert not set(again) & set(done)
    assert not work.work_folder(out).exists()


def test_other_settings_start_afresh_and_say_so(tmp_path: Path) -> None:
    sheets = _sheets(tmp_path / "sheets", 20)
    screened([sheets], Settings(water="fresh", tables_only=True), tmp_path / "work", size=30).work.leave(going_on=True)
    said: list[str] = []
    told = screened(
        [sheets],
        Settings(water="marine", tables_only=True, resume=True),
        tmp_path / "work",
        lambda text, step=0, steps=1: said.append(text),
        size=30,
    )
    assert said[0] == "What was kept of an earlier run is for other settings; starting from the beginning."
    assert told.light.record["counts"]["results"] == 120  # type: ignore[index]


def test_a_run_without_resume_clears_what_was_kept(tmp_path: Path) -> None:
    sheets = _sheets(tmp_path / "sheets", 20)
    screened([sheets], Settings(water="fresh", tables_only=True), tmp_path / "work", size=30).work.leave(going_on=True)
    stray = tmp_path / "work" / "parts" / "decided.00099"
    stray.mkdir()
    screened([sheets], Settings(water="fresh", tables_only=True), tmp_path / "work", size=30).work.leave(going_on=True)
    assert not stray.exists()


def test_a_small_batch_keeps_nothing_beside_its_folder(tmp_path: Path) -> None:
    sheets = _sheets(tmp_path / "sheets", 3)
    screened([sheets], Settings(water="fresh", tables_only=True), tmp_path / "work")
    assert not (tmp_path / "work").exists()


def test_a_process_killed_at_random_goes_on_to_the_samebytes_of(tmp_path: Path) -> None:
    sheets = _sheets(tmp_path / "sheets", 120)
    command = [sys.executable, "-m", "screen", "screen", str(sheets), "--water", "fresh", "--tables-only", "--out"]
    subprocess.run([*command, str(tmp_path / "whole")], check=True, capture_output=True)
    out = tmp_path / "out"
    dice = random.Random(3)
    for _ in range(3):
        process = subprocess.Popen([*command, str(out), "--resume"], stderr=subprocess.DEVNULL)
        time.sleep(0.3 + dice.random() * 2)
        if process.poll() is None:
            os.kill(process.pid, signal.SIGKILL)
        process.wait()
    # a run killed between moving its folder into place and clearing up has both: the next one clears what was kept
    again = ["--resume", "--overwrite"] if out.exists() else ["--resume"]
    subprocess.run([*command, str(out), *again], check=True, capture_output=True)
    assert bytes_of(out) == bytes_of(tmp_path / "whole")
    assert not work.work_folder(out).exists()
