"""`siltmark screen`: the main job."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from screen.cli.common import SHEETS, Progress, fail, reading_options, say, say_problems, settings_of

if TYPE_CHECKING:
    from screen.model import Run
    from screen.settings import Settings

__all__ = ["run_and_write", "screen"]


@click.command(short_help="The main job: read, normalise, sum, compare, report.")
@click.argument("sheets", nargs=-1, required=True, type=SHEETS, metavar="SHEET...")
@click.option(
    "--out", required=True, type=click.Path(path_type=Path), metavar="DIR", help="Folder to write; complete or absent."
)
@reading_options
@click.option(
    "--guidelines",
    multiple=True,
    metavar="SET",
    help="A set's id or a path to one's own. Repeatable; the first leads. Default: by water.",
)
@click.option(
    "--nondetects",
    type=click.Choice(["stated", "zero", "half", "root2", "full", "km"]),
    help="Non-detects in sums. Default: stated (the set's own rule, else zero).",
)
@click.option(
    "--duplicates",
    type=click.Choice(["higher", "mean", "separate"]),
    help="Field duplicates in findings. Default: higher.",
)
@click.option(
    "--earlier",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    metavar="DIR",
    help="An earlier run of the same stations, to compare with.",
)
@click.option("--title", help="Title of the report.")
@click.option("--prepared-by", help="Who made it, for the report's head.")
@click.option("--memo-no", help="Memo number, for the report's head.")
@click.option("--date", help="Date for the report's head; none is printed otherwise.")
@click.option(
    "--fail-on", type=click.Choice(["undetermined", "between", "above"]), help="Exit 3 when a finding is at least that."
)
@click.option("--pdf", is_flag=True, help="Also report.pdf, printed by a Chromium that is installed.")
@click.option("--memo", is_flag=True, help='Also memo.md and memo.docx; needs "siltmark[memo]".')
@click.option("--tables-only", is_flag=True, help="Only tables/ and run.json; for large batches.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier output folder of this tool.")
@click.option("--resume", is_flag=True, help="Go on from what a killed run of the same inputs and settings left.")
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help='Do the work on a Dask scheduler, as in tcp://10.0.0.5:8786; needs "siltmark[cluster]".',
)
def screen(sheets: tuple[Path, ...], out: Path, settings_file: Path | None, **given: Any) -> None:
    """Screen the results in SHEET... and write a report and its tables to DIR.

    A SHEET is a file or a folder: .xlsx .xlsm .xls .ods .csv .tsv .txt .parquet. Several sheets make one batch.

    \b
    Example:
      siltmark screen lab_A.xlsx lab_B.csv --field field.xlsx --water estuarine --out report

    Exit status: 0 screened; 1 an input could not be read, or nothing could be assessed; 2 wrong usage;
    3 a finding met --fail-on.
    """
    sys.exit(run_and_write(sheets, out, settings_of(settings_file, given)))


def run_and_write(sheets: Sequence[Path], out: Path, settings: Settings) -> int:
    """Run all stages, write ``out``, say what was found; gives the exit status."""
    from screen.output import OutputRefusedError, check_output, whole_folder
    from screen.parts.work import WorkInUseError, work_folder
    from screen.pipeline import InternalError, NothingReadError, screened, write_run
    from screen.reference.sets import SetError
    from screen.settings import SettingsError
    from screen.stages.report.extras import check_extras

    progress = Progress()
    try:
        check_extras(settings)
        check_output(out, overwrite=settings.overwrite)
        done = screened(sheets, settings, work_folder(out), progress)
        with whole_folder(out, overwrite=settings.overwrite) as folder:
            write_run(done, folder, progress)
        done.work.finish()
        run = done.light
    except (OutputRefusedError, SetError, SettingsError, WorkInUseError) as error:
        fail(str(error), 2)
    except NothingReadError as error:
        say_problems(error.problems)
        fail("no result could be read, so nothing was written.", 1)
    except InternalError as error:
        fail(str(error), 1)
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        fail(
            f"{place}{error.strerror or error}. Nothing was written to {out}; mend that and run again.",
            1,
        )
    say_problems(run.problems, where_all=str(out / "run.json"))
    _say_outcome(run, out)
    return exit_status(run)


def exit_status(run: Run) -> int:
    """The contract's exit status of a finished run."""
    from screen.model import FINDING_ORDER
    from screen.record import gravest

    worst = gravest(run.findings)
    if any(one.severity == "file" for one in run.problems) or worst in (None, "not-assessed"):
        return 1
    wanted = run.settings.fail_on
    if wanted is not None and worst is not None and FINDING_ORDER.index(worst) >= FINDING_ORDER.index(wanted):
        return 3
    return 0


def _say_outcome(run: Run, out: Path) -> None:
    counts: dict[str, int] = run.record["counts"]  # type: ignore[assignment]
    say(
        f"{_counted(counts['results'], 'result')} of {_counted(counts['samples'], 'sample')} read, "
        f"{counts['results'] - counts['used']} set aside, {_counted(counts['rejected'], 'entry', 'entries')} refused."
    )
    say(
        f"{_counted(counts['findings'], 'finding')} against {', '.join(one.id for one in run.sets)}: "
        f"{counts['above']} above, {counts['between']} between levels, {counts['undetermined']} with a limit too "
        f"high or a list too short to tell, {counts['not_assessed']} not assessed, {counts['below']} below; "
        f"{counts['unsettled']} unsettled."
    )
    name = "tables" if run.settings.tables_only else "report.html"
    click.echo(str(out / name))


def _counted(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"
