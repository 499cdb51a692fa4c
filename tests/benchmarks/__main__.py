"""`python -m tests.benchmarks`: times whole commands against other means on the same files and prints ratios.

Every command runs as a process of its own; time is wall clock, memory the peak of the process tree. Ways that come to
other findings than ours end the run: their time would say nothing.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import resource
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

from tests.benchmarks.agreement import must_agree
from tests.benchmarks.batches import (
    lab_batch,
    write_field_record,
    write_lab_workbook,
    write_long_csv,
    write_tall_workbook,
)
from tests.benchmarks.by_hand import with_spreadsheet
from tests.benchmarks.measuring import Contender, Measured, race

BARE_CLICK = "import click\n@click.group()\ndef main():\n    pass\nmain(['--help'])"
BARE_READER = (
    "import sys, python_calamine as c; c.CalamineWorkbook.from_path(sys.argv[1]).get_sheet_by_index(0).to_python()"
)
OPENED = (
    "import sys\nfrom screen.settings import Settings\n"
    "from screen.stages.read.cells.files import find_sheets, read_grids\n"
    "for source in find_sheets([sys.argv[1]])[0]:\n    read_grids(source, Settings())"
)
NO_ARROW = ("pyarrow",)
#: Bytes in the units that the tables tell.
_MB_IN_GIB = 1024


def siltmark(*arguments: str | Path) -> list[str | Path]:
    """The command line of one of our commands."""
    return [sys.executable, "-m", "screen", *arguments]


def script(name: str, *arguments: str | Path) -> list[str | Path]:
    """The command line of one of the scripts in ``by_hand``."""
    return [sys.executable, "-m", f"tests.benchmarks.by_hand.{name}", *arguments]


def table(title: str, rows: Iterable[tuple[str, Measured]], base: Measured, *, letter: str) -> None:
    """Print a table of ratios to ``base``."""
    print(f"\n| {title} | time / {letter} | processors / {letter} | memory / {letter} | seconds | peak MB | runs |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for name, one in rows:
        ratios = [
            one.seconds / base.seconds,
            one.processor_seconds / base.processor_seconds,
            one.peak_mb / base.peak_mb,
        ]
        shown = " | ".join(f"{ratio:.2f}" for ratio in ratios)
        print(f"| {name} | {shown} | {one.seconds:.2f} | {one.peak_mb:.0f} | {len(one.runs)} |", flush=True)


def targets(rows: Iterable[tuple[str, float, float]]) -> None:
    """Print each target (what, figure, at most) and whether it is met."""
    print("\n| target | at most | measured | |")
    print("| --- | --- | --- | --- |")
    for what, figure, most in rows:
        verdict = "met" if figure <= most else f"missed by {100 * (figure / most - 1):.0f} %"
        print(f"| {what} | {most:g} | {figure:.2f} | {verdict} |", flush=True)


def start_up(folder: Path, repeats: int) -> None:
    """`--help` and `--version` against a bare click program; the demo."""
    found = race(
        {
            "bare click program, --help": Contender([sys.executable, "-c", BARE_CLICK]),
            "siltmark --help": Contender(siltmark("--help")),
            "siltmark --version": Contender(siltmark("--version")),
        },
        repeats=2 * repeats + 1,
    )
    out = folder / "demo"
    found |= race({"siltmark demo": _fresh(siltmark("demo", "--out", out), out)}, repeats=repeats)
    base = found["bare click program, --help"]
    table("start-up, and the demo", found.items(), base, letter="bare")
    targets(
        (f"{name} / bare click program", found[name].seconds / base.seconds, 1.6)
        for name in ("siltmark --help", "siltmark --version")
    )


def lab(folder: Path, repeats: int) -> None:
    """One laboratory's batch of 60 samples by 180 substances, end to end, and its arithmetic in a spreadsheet."""
    sheet, out = folder / "lab.xlsx", folder / "lab"
    write_lab_workbook(sheet)
    write_field_record(folder)
    field = ["--field", folder / "stations.csv", "--field", folder / "samples.csv"]
    command = siltmark("screen", sheet, *field, "--out", out)
    until = (folder, f".{out.name}.*.partial/report.html")
    contenders = {
        "siltmark screen, with report and workbook": _fresh(command, out, until=until),
        "the same without the extra `fast`": _fresh(command, out, until=until, hide=NO_ARROW),
    }
    calc = "d: the findings alone, LibreOffice without a window"
    if shutil.which("soffice"):
        formulas = folder / "formulas.xlsx"
        with_spreadsheet.write_formulas(formulas, lab_batch())
        contenders[calc] = Contender(with_spreadsheet.command(formulas, folder))
    found = race(contenders, repeats=repeats)
    ours, slow = list(found.values())[:2]
    base = found.get(calc, ours)
    if calc in found:
        agreed = must_agree(out / "tables" / "findings.csv", folder / "formulas-findings.csv", "d")
        print(f"\n{agreed:,} findings of the spreadsheet agree with ours")
    table("one batch of a laboratory, 60 samples x 180 substances", found.items(), base, letter="d")
    targets(
        [
            ("seconds to tables and report", ours.until, 2.5),
            ("seconds to all, workbook too", ours.seconds, 6),
            ("seconds to tables and report, without `fast`", slow.until, 2.5),
            ("seconds to all, without `fast`", slow.seconds, 6),
        ]
    )


def tall(folder: Path, repeats: int, rows: int = 200_000) -> None:
    """A workbook of many rows, read by us and by the bare reader library."""
    sheet = folder / "tall.xlsx"
    write_tall_workbook(sheet, rows)
    found = race(
        {
            "python-calamine, to_python()": Contender([sys.executable, "-c", BARE_READER, sheet]),
            "our cells, coded": Contender([sys.executable, "-c", OPENED, sheet]),
            "siltmark read: tables, samples, substances, units, questions": Contender(siltmark("read", sheet)),
        },
        repeats=repeats,
    )
    base, cells, whole = found.values()
    table(f".xlsx of {rows:,} rows by 12 columns", found.items(), base, letter="calamine")
    targets(
        [
            ("cells read / python-calamine", cells.seconds / base.seconds, 1.5),
            ("siltmark read / python-calamine", whole.seconds / base.seconds, 1.5),
        ]
    )


def long_csv(folder: Path, repeats: int, rows: int) -> None:
    """A long CSV with --tables-only against pandas and polars."""
    sheet, out, spare = folder / "batch.csv", folder / "out", folder / "spare"
    spare.mkdir()
    write_long_csv(sheet, rows)
    command = _screen_only(sheet, out)
    named = {name: spare / f"{name}.csv" for name in ("copy", "b", "b+", "c", "c+", "results", "ledger")}
    more = (named["results"], named["ledger"])
    # ours first: a2 looks at what it wrote
    contenders = {
        "siltmark": _fresh(command, out),
        "siltmark, without `fast`": _fresh(command, out, hide=NO_ARROW),
        "a: pandas.read_csv, then to_csv": Contender(script("round_trip", sheet, named["copy"])),
        "a2: pandas.read_csv, to_csv of tables like ours": Contender(
            script("same_tables", sheet, out / "tables", spare)
        ),
        "b: pandas by hand, findings only": Contender(script("with_pandas", sheet, named["b"])),
        "b+: the same with results and ledger": Contender(script("with_pandas", sheet, named["b+"], *more)),
    }
    if importlib.util.find_spec("polars"):
        contenders |= {
            "c: polars by hand, findings only": Contender(script("with_polars", sheet, named["c"])),
            "c+: the same with results and ledger": Contender(script("with_polars", sheet, named["c+"], *more)),
        }
    found = race(contenders, repeats=repeats, budget=20)
    for name in ("b", "b+", "c", "c+"):
        if named[name].exists():
            agreed = must_agree(out / "tables" / "findings.csv", named[name], name)
            print(f"{'' if name != 'b' else chr(10)}{agreed:,} findings of {name} agree with ours")
    by = {name.partition(":")[0]: one for name, one in found.items()}
    table(f"long CSV of {rows:,} rows, --tables-only", found.items(), by["a"], letter="a")
    fast, slow = by["siltmark"].seconds, by["siltmark, without `fast`"].seconds
    rivals = [one for one in ("b+", "c+") if one in by]
    targets(
        [
            ("with `fast` / a", fast / by["a"].seconds, 2.5),
            ("with `fast` / a2", fast / by["a2"].seconds, 1.0),
            ("without `fast` / a2", slow / by["a2"].seconds, 1.5),
            *((f"with `fast` / {one}", fast / by[one].seconds, 1.0) for one in rivals),
            *((f"without `fast` / {one}", slow / by[one].seconds, 1.0) for one in rivals),
        ]
    )


def growth(folder: Path, million: int = 1_000_000) -> None:
    """Long CSVs of 4 and of 16 million rows, once each: growth of time, peak memory."""
    found: dict[str, Measured] = {}
    for millions in (4, 16):
        sheet, out = folder / f"{millions}.csv", folder / f"out{millions}"
        write_long_csv(sheet, millions * million)
        for name, hide in ((f"{millions} million rows", ()), (f"{millions} million rows, without `fast`", NO_ARROW)):
            found |= race({name: _fresh(_screen_only(sheet, out), out, hide=hide)}, repeats=1)
        shutil.rmtree(out)
        sheet.unlink()
    four, four_slow, sixteen, sixteen_slow = found.values()
    table("long CSV, --tables-only", found.items(), four, letter="4M")
    targets(
        [
            ("time 16M / 4M", sixteen.seconds / four.seconds, 4.2),
            ("peak GiB of 16M", sixteen.peak_mb / _MB_IN_GIB, 6),
            ("time 16M / 4M, without `fast`", sixteen_slow.seconds / four_slow.seconds, 4.2),
            ("peak GiB of 16M, without `fast`", sixteen_slow.peak_mb / _MB_IN_GIB, 6),
        ]
    )


def _screen_only(sheet: Path, out: Path) -> list[str | Path]:
    return siltmark("screen", sheet, "--out", out, "--tables-only", "--water", "fresh")


def _fresh(
    command: list[str | Path], out: Path, until: tuple[Path, str] | None = None, hide: tuple[str, ...] = ()
) -> Contender:
    """A contender whose output folder is gone before each run."""
    return Contender(command, lambda: shutil.rmtree(out, ignore_errors=True), until, hide)


def main() -> None:
    """Make the batches, time the commands, print the tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000, help="rows of the long CSV (1,000,000)")
    parser.add_argument("--repeats", type=int, default=3, help="runs of each command, fewer for very slow ones (3)")
    parser.add_argument("--only", choices=("start", "lab", "tall", "long"), action="append", help="this part only")
    parser.add_argument(
        "--long", action="store_true", help="also 4 and 16 million rows: some 20 minutes, 15 GB of disk"
    )
    chosen = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if hasattr(os, "getloadavg"):  # ratios bear a busy machine better than seconds do, and none bear it well
        print(f"{os.cpu_count()} processors, of which other work keeps {os.getloadavg()[0]:.1f} busy")
    parts: dict[str, Callable[[Path, int], None]] = {
        "start": start_up,
        "lab": lab,
        "tall": tall,
        "long": partial(long_csv, rows=chosen.rows),
    }
    for name, part in parts.items():
        if not chosen.only or name in chosen.only:
            with tempfile.TemporaryDirectory() as scratch:
                part(Path(scratch), chosen.repeats)
    if chosen.long:
        with tempfile.TemporaryDirectory() as scratch:
            growth(Path(scratch))


if __name__ == "__main__":
    main()
