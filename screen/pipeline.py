"""The stages in their order: paths and settings in, a finished run out, and its folder written.

Only this module knows the order of the stages. It opens nothing and prints nothing itself.
"""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from screen.model import Batch, Problem, Run
from screen.settings import Settings

if TYPE_CHECKING:
    from screen.parts.cut import Cut
    from screen.parts.executor import Executor
    from screen.parts.kept import Shelf
    from screen.parts.merged import Pieces
    from screen.parts.work import Work
    from screen.reference.sets import GuidelineSet
    from screen.stages.read.cells.files import Source
    from screen.stages.read.field.record import FieldRecord
    from screen.stages.read.gathering import Gathered
    from screen.stages.read.opening import Read

__all__ = ["InternalError", "NothingReadError", "Screened", "report", "run", "screened", "write_run"]


class Progress(Protocol):
    """Told in words what is done, and where it is one step of several, which and of how many."""

    def __call__(self, text: str, step: int = 0, steps: int = 1) -> None:
        """Say one step."""


def silent(text: str, step: int = 0, steps: int = 1) -> None:
    """Say nothing."""


class InternalError(RuntimeError):
    """Something that can only be a fault of the tool; the run stops and asks to be reported."""


class NothingReadError(ValueError):
    """No result row could be read from any input, so there is nothing to write. ``problems`` says why."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("no result could be read")
        self.problems = tuple(problems)


@dataclass(slots=True)
class Screened:
    """A finished run whose large tables may still lie in parts.

    ``light`` is the run without the rows of ``pieces``: results, ledger, totals, indices, quality and what else only
    the report needs. ``work`` holds the pieces until it is finished.
    """

    light: Run
    pieces: Mapping[str, Pieces]
    work: Work

    def whole(self) -> Run:
        """The run with all of its tables in memory."""
        full: dict[str, Any] = {name: pieces.whole() for name, pieces in self.pieces.items()}
        of_batch = {name: full.pop(name) for name in ("results", "ledger", "lab_totals", "qc", "refused")}
        batch = dataclasses.replace(self.light.batch, **of_batch)
        return dataclasses.replace(self.light, batch=batch, **full)


def run(
    paths: Path | str | Sequence[Path | str], out: Path | str | None = None, settings: Settings | None = None
) -> Run:
    """Do the whole job: screen the sheets under ``paths`` and, with ``out``, write the folder that the command writes.

    Raises what ``screened`` raises, and OutputRefusedError (of ``screen.output``) for a folder that is not ours to
    fill; without ``settings`` the defaults hold.
    """
    import tempfile

    from screen.output import check_output, whole_folder
    from screen.parts.work import work_folder
    from screen.stages.report.extras import check_extras

    chosen = settings or Settings()
    folder = None if out is None else Path(out)
    if folder is not None:
        check_extras(chosen)
        check_output(folder, overwrite=chosen.overwrite)
    with tempfile.TemporaryDirectory() as scratch:
        done = screened(paths, chosen, Path(scratch, "work") if folder is None else work_folder(folder))
        if folder is not None:
            with whole_folder(folder, overwrite=chosen.overwrite) as work:
                write_run(done, work)
        finished = done.whole()
        done.work.finish()
    return finished


def screened(
    paths: Path | str | Sequence[Path | str],
    settings: Settings,
    work: Path,
    progress: Progress | None = None,
    size: int | None = None,
) -> Screened:
    """Read, normalise, sum and compare the sheets under ``paths``.

    The steps of a batch of many files, or of more than one part, are kept in the folder ``work`` until it is written;
    with ``resume`` among the settings, those that are there already are not done again. ``size`` is the number of
    records of a part. Raises WorkInUseError (of ``screen.parts.work``) where another run uses the folder,
    NothingReadError when neither a result nor a total of the laboratory was read, SetError (of
    ``screen.reference.sets``) for a guideline set that does not exist or is not in order, SettingsError for an outline,
    a cut, a background or an earlier run that cannot be used, and InternalError when the cells do not add up.
    """
    from screen.parts.executor import executor
    from screen.parts.work import RECORDS, Work
    from screen.stages.read.cells.files import find_sheets

    say = progress or silent
    with executor(settings) as hands:
        files, found = find_sheets(paths)
        sources = hands.look(files, work.parent)
        keeping = Work(work, sources, settings, size or RECORDS)
        if keeping.said:
            say(keeping.said)
        try:
            if hands.apart:
                keeping.open()
            with hands.opening(sources, settings, keeping.files) as opened:
                return _steps(sources, found, settings, keeping, hands, opened, say)
        except BaseException as error:
            keeping.leave(going_on=isinstance(error, (OSError, MemoryError)) or not isinstance(error, Exception))
            raise


@dataclass(frozen=True, slots=True)
class _Decided:
    """A batch after the first step, which every part left on the shelf; ``problems`` are of the names and the paths."""

    field: FieldRecord
    gathered: Gathered
    parts: Cut
    shelf: Shelf
    problems: Sequence[Problem]


def _step(say: Progress, words: str, parts: Cut) -> Callable[[int], None]:
    """Says a step of a part, by its number."""
    return lambda part: say(words, part, parts.count)


def _decide(
    sources: Sequence[Source],
    settings: Settings,
    keeping: Work,
    hands: Executor,
    opened: Callable[[Source, Settings], Read],
    say: Progress,
) -> _Decided:
    """Read every file, cut the batch into parts, and decide on the records of each."""
    from screen.parts.cut import cut
    from screen.parts.memory import give_back
    from screen.parts.reading import reading
    from screen.parts.steps import Deciding, decide_part, decided
    from screen.stages.read.field.record import read_field_record
    from screen.stages.read.gathering import gather, starts_of
    from screen.stages.read.joining import book_of

    book, problems = book_of(settings)

    def told_file(number: int) -> None:
        say(f"reading {sources[number].shown}", number, len(sources))

    units = hands.read(reading(settings, book, opened), sources, told_file)
    say("reading the tables")
    field = read_field_record(settings.field, settings)
    gathered = gather(sources, units)
    parts = cut(gathered.owners, gathered.of_owner, field.samples, keeping.size)
    shelf = keeping.parts(in_memory=parts.count == 1 and not hands.apart)
    to_do = [part for part in range(parts.count) if not shelf.has(decided(part))]
    lots = hands.lots(units, starts_of(units)[:-1], parts, to_do)
    del units
    give_back()

    def own(part: int) -> tuple[Any, ...]:
        which = np.flatnonzero(parts.of_owner == part)
        rest = gathered.rest if part == 0 else gathered.rest.iloc[:0]
        return lots(part), which, gathered.owners.only(which), rest

    deciding = Deciding(gathered.for_parts(), settings, book, shelf)
    hands.each(decide_part, deciding, own, to_do, _step(say, "deciding on results", parts))
    return _Decided(field, gathered, parts, shelf, problems)


def _steps(
    sources: Sequence[Source],
    found: Sequence[Problem],
    settings: Settings,
    keeping: Work,
    hands: Executor,
    opened: Callable[[Source, Settings], Read],
    say: Progress,
) -> Screened:
    """All stages, part by part, and then what only the whole batch can tell. Their modules are loaded while the first
    file is opened.
    """
    from screen.columns import recoded, texts_of
    from screen.parts.between import Early, between, figures_of_part, figures_of_samples, in_order
    from screen.parts.ending import conserved, pieces_of, run_of
    from screen.parts.memory import give_back
    from screen.parts.steps import Known, Shared, decided, screen_part, screened_name
    from screen.record import counts_of, moment, record_of
    from screen.stages.compare.findings.assign import assign_sets
    from screen.stages.compare.places.cores import elevations
    from screen.stages.normalise.notices import Notice, problems_of
    from screen.stages.read.decide.grouped import Told
    from screen.stages.read.joining import inputs_of, join, told_of

    began, started = time.perf_counter(), moment()
    begun = _decide(sources, settings, keeping, hands, opened, say)
    field, gathered, parts, shelf = begun.field, begun.gathered, begun.parts, begun.shelf
    every = range(parts.count)
    first = [shelf.get(decided(part)) for part in every]
    middle = between(first, len(gathered))
    give_back()
    joined = join(middle.samples, field, settings)

    def told(*more: Told) -> tuple[tuple[Problem, ...], tuple[dict[str, object], ...]]:
        everything = Told.together([middle.told, *more])
        return told_of(gathered, everything, middle.answers_used, joined, [*begun.problems, *found], settings)

    if not (middle.ids > 0).any() and not any(len(kept.arrays["places_lab_totals"]) for kept in first):
        raise NothingReadError(told()[0])
    nothing = joined.samples.iloc[:0]
    places = Batch(nothing, nothing, nothing, nothing, nothing, joined.stations, joined.cores, nothing)
    ordered = in_order(joined.samples, parts.of_samples(texts_of(joined.samples["sample"])))
    early = Early(settings, places, middle.blanks, shelf)
    words = _step(say, "bringing results to dry weight and standard units", parts)
    figures = hands.each(figures_of_part, early, lambda part: (ordered.at(part),), every, words)
    samples, background = figures_of_samples(ordered, figures, settings)
    batch = dataclasses.replace(
        places,
        samples=samples,
        ledger=field.ledger,
        cells=gathered.cells + field.cells,
        tables=tuple(gathered.found),
        inputs=inputs_of(sources, field),
    )
    batch = dataclasses.replace(batch, samples=samples.assign(**elevations(batch, settings)))
    sets, assigned, notices = assign_sets(batch.samples, settings)
    others = sorted({str(one) for one in gathered.owners.sample.texts} - set(texts_of(samples["sample"])))
    known = Known(
        Shared(
            settings=settings,
            places=places,
            sets=sets,
            rules=rules_in_use(sets, settings),
            background=background,
            blanks=middle.blanks,
            usual=middle.usual,
            several=middle.several,
            sheets=gathered.sheets,
            shelf=shelf,
        ),
        samples=batch.samples,
        of_sample=ordered.of_part,
        others=others,
        of_other=parts.of_samples(np.array(others, dtype=object)),
        assigned=assigned,
        of_assigned=np.append(ordered.of_part, -1)[recoded(assigned["sample"], texts_of(samples["sample"]))],
    )
    del first
    to_do = [part for part in every if not shelf.has(screened_name(part))]
    hands.each(
        screen_part,
        known.shared,
        lambda part: (known.own(part, middle.ids),),
        to_do,
        _step(say, "making sums and comparing", parts),
    )
    for part in every:
        shelf.drop(decided(part))
    done = [shelf.get(screened_name(part)) for part in every]
    give_back()
    say("summing up stations, reach and cores")
    if not conserved(done, batch, field.ledger):
        raise InternalError(
            "the cells of the input do not add up in the ledger. This is a fault of the tool, not of your files: "
            "nothing was written. Please report it with the sheet, or a cut-down copy that shows it."
        )
    off, questions = told(*(Told.from_plain(one.about["told"]) for one in done))
    dry = problems_of(Notice.from_plain(one) for kept in done for one in kept.about["notices"])
    batch = dataclasses.replace(batch, questions=questions)
    pieces = pieces_of(done, known, field.ledger)
    light = run_of(done, known, batch, pieces, (*off, *dry, *notices))
    met = {name for one in done for name in one.about["stations"]}
    counts = counts_of([one.about["counts"] for one in done], batch.cells, len(met), light.findings)
    record = record_of(light, counts, started, time.perf_counter() - began)
    return Screened(dataclasses.replace(light, record=record), pieces, keeping)


def write_run(done: Screened, folder: Path, progress: Progress | None = None) -> None:
    """Write a finished run into ``folder`` (which exists and is empty): tables, and report and workbook unless
    ``tables_only``; ``run.json`` last. The sets used are kept beside, so that the folder explains itself.
    """
    import json

    from screen.explain import sets_met
    from screen.stages.compare.places.geo import stations_geojson
    from screen.stages.report.tables import write_tables
    from screen.stages.report.workbook.workbook import write_workbook

    say = progress or silent
    say("writing tables")
    (folder / "tables").mkdir()
    light = done.light
    blocks = {name: pieces.blocks() for name, pieces in done.pieces.items()}
    write_tables(light, folder / "tables", stations_geojson(light.batch.stations, light.findings), blocks)
    for one in sets_met(light).values():
        one.save(folder / "sets")
    if not light.settings.tables_only:
        run = done.whole()
        say("writing the report")
        report(run, folder / "report.html")
        say("writing the workbook")
        write_workbook(run, folder / "workbook.xlsx")
        _write_extras(run, folder, say)
    text = json.dumps(light.record, ensure_ascii=False, indent=2, allow_nan=False)
    (folder / "run.json").write_text(text + "\n", encoding="utf-8", newline="\n")


def _write_extras(run: Run, folder: Path, say: Progress) -> None:
    """Write what ``--memo`` and ``--pdf`` ask for; ``report.html`` is there."""
    from screen.stages.report.extras import write_pdf

    if run.settings.memo:
        from screen.stages.report.memo.memo_files import write_memo

        say("writing the memo")
        write_memo(run, folder)
    if run.settings.pdf:
        say("printing the report")
        write_pdf(folder / "report.html", folder / "report.pdf")


def report(run: Run, path: Path | str) -> None:
    """Write the report of a finished run as one HTML file at ``path``, with the chains of all flagged findings."""
    from screen.explain import chains, tables_of
    from screen.stages.report.page.page import write_page

    tables = tables_of(run)
    write_page(run, Path(path), lambda findings: chains(tables, findings))


def rules_in_use(sets: Sequence[GuidelineSet], settings: Settings) -> tuple[str, ...]:
    """The non-detect rules that the sums of this run are made by, each once."""
    if settings.nondetects != "stated":
        return (settings.nondetects,)
    return tuple(dict.fromkeys((one.nondetects or "zero") for one in sets)) or ("zero",)
