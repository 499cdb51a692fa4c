"""`python -m tests.benchmarks`: times whole commands against plain means on the same file and prints ratios.

Every command runs as a process of its own; time is wall clock, memory the peak resident set of the process.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.batches import write_long_csv

ROUND_TRIP = "import sys, pandas as pd; pd.read_csv(sys.argv[1]).to_csv(sys.argv[2], index=False)"
BARE_CLICK = "import click\n@click.group()\ndef main():\n    pass\nmain(['--help'])"


@dataclass(frozen=True)
class Measured:
    """Seconds (median of the repeats) and peak memory in MB (highest)."""

    seconds: float
    peak_mb: float


def measure(command: list[str], *, repeats: int = 3, before: object = None) -> Measured:
    """Run ``command`` ``repeats`` times; output is thrown away."""
    seconds, peaks = [], []
    for _ in range(repeats):
        if callable(before):
            before()
        began = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        assert process.stderr is not None
        errors = process.stderr.read()
        _, status, usage = os.wait4(process.pid, 0)
        seconds.append(time.perf_counter() - began)
        peaks.append(usage.ru_maxrss / (1024 * 1024 if sys.platform == "darwin" else 1024))
        if os.waitstatus_to_exitcode(status) not in (0, 3):
            raise SystemExit(f"{' '.join(command)} failed:\n{errors}")
    return Measured(sorted(seconds)[len(seconds) // 2], max(peaks))


def without_arrow(command: list[str]) -> list[str]:
    """The same command with pyarrow out of reach, as on a machine without the extra ``fast``."""
    hide = "import sys; sys.modules['pyarrow'] = None; from screen.cli import main; main()"
    return [sys.executable, "-c", hide, *command]


def main() -> None:
    """Make the batch, time the commands, print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--repeats", type=int, default=3)
    chosen = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        sheet, copy, out = folder / "batch.csv", folder / "copy.csv", folder / "out"
        write_long_csv(sheet, chosen.rows)
        screen = ["screen", str(sheet), "--out", str(out), "--tables-only", "--water", "fresh"]

        def clear() -> None:
            shutil.rmtree(out, ignore_errors=True)

        plain = measure([sys.executable, "-c", ROUND_TRIP, str(sheet), str(copy)], repeats=chosen.repeats)
        fast = measure([sys.executable, "-m", "screen", *screen], repeats=chosen.repeats, before=clear)
        slow = measure(without_arrow(screen), repeats=chosen.repeats, before=clear)
        click = measure([sys.executable, "-c", BARE_CLICK], repeats=7)
        start = measure([sys.executable, "-m", "screen", "--help"], repeats=7)
    print(f"{chosen.rows:,} result rows, long CSV, every table written; median of {chosen.repeats} runs each")
    print(f"{'':44}{'time / a':>10}{'memory / a':>12}{'peak MB':>10}")
    for name, one in (
        ("a  pandas.read_csv then to_csv", plain),
        ("b  siltmark screen --tables-only, with fast", fast),
        ("b' the same without the extra", slow),
    ):
        print(f"{name:44}{one.seconds / plain.seconds:10.2f}{one.peak_mb / plain.peak_mb:12.2f}{one.peak_mb:10.0f}")
    print(f"start-up: siltmark --help / bare click program  {start.seconds / click.seconds:.2f}")


if __name__ == "__main__":
    main()
