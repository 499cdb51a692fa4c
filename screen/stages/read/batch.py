"""Reading a batch: paths of laboratory sheets and settings in, a ``Batch`` out.

Files become grids, grids tables, tables records, records one result per measurement. What is refused is told and stays
in the ledger; nothing is guessed, and nothing is dropped silently.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from screen.model import Batch, Problem
from screen.settings import Settings
from screen.stages.read.cells.ahead import Ahead
from screen.stages.read.cells.files import Source, find_sheets

__all__ = ["read"]

Progress = Callable[[str], None]


def read(
    paths: Path | str | Sequence[Path | str], settings: Settings | None = None, progress: Progress | None = None
) -> Batch:
    """Read the laboratory sheets under ``paths`` (one, or several) and the field record of the settings.

    ``settings`` are those of the run (the defaults without them); ``progress`` is told in words what is done. Raises
    nothing for a bad input: what cannot be read is a Problem with severity ``file``.
    """
    settings = settings or Settings()
    sources, found = find_sheets(paths)
    with Ahead(sources, settings) as opened:
        return _read(sources, found, settings, opened, progress or (lambda _: None))


def _read(
    sources: Sequence[Source], found: Sequence[Problem], settings: Settings, opened: Ahead, say: Progress
) -> Batch:
    """The batch of these files; the modules that it takes are loaded while the first of them is opened."""
    from screen.stages.read.decide.grouped import Told
    from screen.stages.read.decide.plausible import by_substance, figures_above_zero, usual_figures
    from screen.stages.read.deciding import decide, tell_of_units
    from screen.stages.read.field.places import placed
    from screen.stages.read.field.record import read_field_record
    from screen.stages.read.gathering import gather, lot_of, read_unit, starts_of
    from screen.stages.read.joining import book_of, inputs_of, join, told_of, with_field
    from screen.stages.read.opening import knower

    book, problems = book_of(settings)
    knows = knower(book)
    units = []
    for source in sources:
        say(f"reading {source.shown}")
        units.append(read_unit(source, settings, book, knows, opened))
    say("reading the tables")
    gathered = gather(sources, units)
    record = read_field_record(settings.field, settings)
    lot = lot_of(units, starts_of(units)[:-1])
    outcome = decide(gathered, lot, gathered.owners, gathered.rest, settings, book)
    frames = outcome.frames
    figures = figures_above_zero(frames.results)
    off = tell_of_units(outcome, figures, usual_figures([by_substance(figures)]), gathered.sheets)
    told = Told.together([outcome.told, off])
    joined = join(frames.samples, record, settings)
    everything, questions = told_of(gathered, told, outcome.answers_used, joined, [*problems, *found], settings)
    return Batch(
        results=placed(frames.results, joined.samples),
        lab_totals=placed(frames.lab_totals, joined.samples),
        qc=placed(frames.qc, joined.samples),
        refused=frames.refused,
        samples=joined.samples,
        stations=joined.stations,
        cores=joined.cores,
        ledger=with_field(outcome.ledger, record.ledger),
        cells=gathered.cells + record.cells,
        problems=everything,
        tables=tuple(gathered.found),
        questions=questions,
        inputs=inputs_of(sources, record),
    )
