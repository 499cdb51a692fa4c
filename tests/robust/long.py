"""The long suite: ``python -m tests.robust.long --inputs 100000 --files 2000 --guided 100000 [--kills 50]``.

In: how much to try and a seed. Out: counts on stdout, and status 1 if anything failed; what failed is kept in a folder.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path

from screen.pipeline import NothingReadError, run
from screen.settings import Settings
from tests.robust.damage import LONGEST_SECONDS, TooLongError, damaged, read_damaged, within
from tests.robust.parsers import PARSERS
from tests.robust.sheets import seed_files
from tests.robust.texts import random_text

__all__ = ["Tally", "try_files", "try_texts"]

#: Of the damaged files that still hold results, every so many goes through all stages.
_WHOLE_RUN_EVERY = 10


class Tally:
    """What was tried and what failed: counts of what came of it, of the sorts of what was tried, and each failure."""

    def __init__(self) -> None:
        self.tried: Counter[str] = Counter()
        self.sorts: Counter[str] = Counter()
        self.failed: list[str] = []
        self.late = 0
        self.slowest = 0.0

    def fails(self, what: str, error: BaseException) -> None:
        """Keep one failure."""
        self.late += isinstance(error, TooLongError)
        last = traceback.extract_tb(error.__traceback__)[-1]
        self.failed.append(f"{what}: {type(error).__name__} at {Path(last.filename).name}:{last.lineno}: {error}"[:500])

    def took(self, began: float) -> None:
        """Note how long one input took."""
        self.slowest = max(self.slowest, time.monotonic() - began)


def try_texts(count: int, seed: int) -> Tally:
    """Feed ``count`` random texts in turn to the readers of texts."""
    tally, chance = Tally(), random.Random(seed)
    names = sorted(PARSERS)
    for number in range(count):
        name, text = names[number % len(names)], random_text(chance)
        began = time.monotonic()
        try:
            with within(LONGEST_SECONDS):
                PARSERS[name](text)
        except Exception as error:
            tally.fails(f"{name} of {text!r}", error)
        tally.took(began)
        tally.tried[name] += 1
    return tally


def try_files(count: int, seed: int, kept: Path | None = None, more: Path | None = None) -> Tally:
    """Read ``count`` damaged files; ``kept`` is a folder for those that failed, ``more`` one of further seeds."""
    tally, chance, seeds = Tally(), random.Random(seed), seed_files(more)
    with tempfile.TemporaryDirectory() as folder:
        for number in range(count):
            one = damaged(chance, seeds)
            path = Path(folder, one.name)
            path.write_bytes(one.content)
            tally.sorts.update([path.suffix, *set(one.sorts)])
            began = time.monotonic()
            try:
                batch, counted = read_damaged(path)
                tally.tried["with results" if len(batch.results) else "without results"] += 1
                tally.tried["counted alike by the second reader"] += counted
                if len(batch.results) and tally.tried["with results"] % _WHOLE_RUN_EVERY == 0:
                    tally.tried["through all stages"] += 1
                    with within(LONGEST_SECONDS):
                        assert run([path], None, Settings()).record["conserved"]
            except NothingReadError:
                pass
            except Exception as error:
                tally.fails(f"file {number} ({one.name}: {', '.join(one.sorts)})", error)
                if kept is not None:
                    (kept / f"{number}-{one.name}").write_bytes(one.content)
            tally.took(began)
            path.unlink()
    return tally


def _say(title: str, tally: Tally) -> int:
    counts = ", ".join(f"{count:,} {name}" for name, count in sorted(tally.tried.items()))
    print(f"{title}: {counts}; slowest {tally.slowest:.2f} s; {tally.late} over {LONGEST_SECONDS} s; "
          f"{len(tally.failed)} failed", flush=True)  # fmt: skip
    if tally.sorts:
        print(f"  {', '.join(f'{count:,} {name}' for name, count in sorted(tally.sorts.items()))}")
    for one in tally.failed[:20]:
        print(f"  {one}")
    return len(tally.failed)


def main() -> int:
    """Run what the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.robust.long", description=__doc__)
    parser.add_argument("--inputs", type=int, default=100_000, help="texts for the readers of texts")
    parser.add_argument("--files", type=int, default=2_000, help="damaged files")
    parser.add_argument("--guided", type=int, default=0, help="inputs of the coverage-guided fuzzer (needs atheris)")
    parser.add_argument("--kills", type=int, default=0, help="runs killed at random times")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seeds", type=Path, help="a folder of further sheets to damage")
    parser.add_argument("--keep", type=Path, help="folder for the files that failed")
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    failed = 0
    if asked.inputs:
        failed += _say("texts", try_texts(asked.inputs, asked.seed))
    if asked.files:
        failed += _say("damaged files", try_files(asked.files, asked.seed, asked.keep, asked.seeds))
    if asked.kills:
        from tests.robust.kills import kill_runs

        with tempfile.TemporaryDirectory() as folder:
            print(f"kills: {dict(kill_runs(Path(folder), asked.kills, asked.seed))}")
    if asked.guided:
        failed += subprocess.run([sys.executable, "-m", "tests.robust.guided", f"-runs={asked.guided}"]).returncode != 0
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
