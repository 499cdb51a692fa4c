"""Reading a batch: paths of laboratory sheets and settings in, a ``Batch`` out.

Files become grids, grids tables, tables records, records one result per measurement. What is refused is told and stays
in the ledger; nothing is guessed, and nothing is dropped silently.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.model import WHY_NOT, Batch, Problem
from screen.reference.names import NameBook, NamesFileError, name_book
from screen.settings import Settings
from screen.stages.read.cells.coded import constant, equals, join
from screen.stages.read.cells.files import find_sheets
from screen.stages.read.cells.grid import Column
from screen.stages.read.decide.judge import Grouped, ask_for_basis, judge, why_not
from screen.stages.read.decide.peaks import beside_group, name_groups
from screen.stages.read.decide.plausible import look_at_ranges, look_at_units
from screen.stages.read.decide.questions import questions_of, tables_of
from screen.stages.read.decide.rivals import settle
from screen.stages.read.decide.verdicts import Verdicts
from screen.stages.read.field.places import join_places, placed
from screen.stages.read.field.record import read_field_record
from screen.stages.read.frames import Decided, frames_of
from screen.stages.read.ledger import build_ledger
from screen.stages.read.opening import Opened, open_sheets
from screen.stages.read.records.answers import Answers
from screen.stages.read.records.measures import Measures, limit_scales, read_basis_and_unit
from screen.stages.read.records.melt import Records, melt, melt_all
from screen.stages.read.records.owners import read_owners
from screen.stages.read.records.readings import Substances, read_numbers, read_substances
from screen.stages.read.words.ids import near_ids
from screen.stages.read.words.vocabulary import fold

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
    say = progress or (lambda _: None)
    book, problems = _book(settings)
    sources, found = find_sheets(paths)
    problems += found
    opened = open_sheets(sources, settings, book, say)
    problems += opened.problems
    say("reading the tables")
    records = _records(opened)
    numbered = [(place, table) for place, tables in enumerate(opened.tables) for table in tables]
    answers = Answers(settings.answers, opened.grids, numbered, set(opened.corrected))
    decided, grouped = _decide(records, opened, settings, book, answers)
    problems = [one for one in problems if not answers.settles(one)] + [*grouped.problems, *decided.owners.problems]
    ledger = build_ledger(opened.grids, opened.tables, records, decided.verdicts, decided.ids)
    problems += answers.problems()
    record = read_field_record(settings.field, settings)
    frames = frames_of(records, opened.grids, decided)
    samples, stations, cores, notices = join_places(frames.samples, record, settings)
    alike = _alike(frames.samples, notices)
    everything = [_sentence(one) for one in (*problems, *record.problems, *notices, *alike)]
    inputs = [{"path": one.shown, "sha256": one.sha256, "bytes": one.bytes} for one in sources]
    return Batch(
        results=placed(frames.results, samples),
        lab_totals=placed(frames.lab_totals, samples),
        qc=placed(frames.qc, samples),
        refused=frames.refused,
        samples=samples,
        stations=stations,
        cores=cores,
        ledger=_with_field(ledger, record.ledger),
        cells=sum(grid.cells for grid in opened.grids if not grid.hidden) + record.cells,
        problems=tuple(everything),
        tables=tuple(tables_of(opened.grids, opened.tables)),
        questions=(*questions_of(everything), *grouped.questions),
        inputs=(*inputs, *record.inputs),
    )


def _alike(samples: pd.DataFrame, told: Sequence[Problem]) -> list[Problem]:
    """Ids of the sheets that differ only by case, blanks, hyphens or padding, but for those that were told already."""
    said = " ".join(one.message for one in told if one.code == "sample-ids-alike")
    return [
        Problem(
            "sample-ids-alike",
            f"{', '.join(map(repr, group))} may be one sample, written differently; they are kept apart",
            "Write the id in one way.",
        )
        for group in near_ids(samples["sample"])
        if repr(group[0]) not in said
    ]


def _sentence(problem: Problem) -> Problem:
    """The problem with a full stop behind its message, so that the mend can follow."""
    ended = not problem.message or problem.message.rstrip("'\")")[-1:] in (".", "?", "!", ":")
    return problem if ended else dataclasses.replace(problem, message=f"{problem.message}.")


def _book(settings: Settings) -> tuple[NameBook, list[Problem]]:
    try:
        return name_book(settings.names), []
    except (NamesFileError, OSError) as error:
        name = settings.names.name if settings.names else ""
        problem = Problem("names-file", f"the file of own names was not used: {error}", "Mend the line.", "file", name)
        return name_book(None), [problem]


def _records(opened: Opened) -> Records:
    parts, number = [], 0
    for place, (grid, tables, words) in enumerate(
        zip(opened.corrected_grids, opened.tables, opened.words, strict=True)
    ):
        for table, said in zip(tables, words, strict=True):
            parts.append((opened.files[place], place, number, melt(grid, table, said)))
            number += 1
    if not parts:
        nothing = np.zeros(0, dtype=np.int32)
        return Records(nothing, nothing, nothing, nothing, nothing, nothing, {})
    return melt_all(parts)


def _decide(
    records: Records, opened: Opened, settings: Settings, book: NameBook, answers: Answers
) -> tuple[Decided, Grouped]:
    """Every record read, judged and chosen among."""
    verdicts = Verdicts(len(records))
    grouped = Grouped(records, opened.grids)
    answers.apply_corrections(records)
    substances = read_substances(records, book, _context(records, opened))
    printed = _printed(substances)
    verdicts.give(answers.skipped(records, printed), "ignored", "skip: set aside by an answer")
    words = [one for own in opened.words for one in own]
    files = [source.shown for source in opened.sources]
    nothing = np.zeros(len(records), dtype=bool)
    measures = read_basis_and_unit(records, substances, settings, answers, nothing)
    _shown_as_percent(records, measures, grouped)
    readings = read_numbers(records, substances, words, settings, answers, files, limit_scales(records, measures))
    orders = {place: answers.for_file(shown, "dates") or settings.dates for place, shown in enumerate(files)}
    owners = read_owners(records, opened.grids, orders, verdicts.open)
    having = equals(readings.frame["outcome"], "result")
    pointers = name_groups(substances, owners.sample, records.file, readings.coelutes, having)
    verdicts.give(
        equals(readings.frame["code"], "pointer") | (pointers & verdicts.open),
        "duplicate",
        "coelution: points to the row of its group",
    )
    verdicts.give(_slipped(records, opened), "rejected", "unquoted-comma: the cell stands under another column's name")
    judge(records, substances, measures, readings, owners, verdicts, grouped, settings.soil == "include")
    look_at_ranges(substances, measures, readings, verdicts, grouped, use=settings.water_content == "use")
    use = _yes_no(records.get("use"))
    status = _status(records.get("status"))
    why = why_not(readings, records, owners, use, status, grouped, verdicts)
    totals = verdicts.open & substances.has_role("lab-total")
    if totals.any():
        settle(
            records, substances, measures, readings, owners, verdicts, grouped, use, status, settings.conflicts, totals
        )
        verdicts.give(totals, "lab-total", "lab-total: the laboratory's own sum, compared and never added")
    settle(records, substances, measures, readings, owners, verdicts, grouped, use, status, settings.conflicts, ~totals)
    numbers = readings.frame["read_value"].to_numpy() * measures.factor
    same, other = beside_group(substances, owners.sample, numbers, verdicts.open)
    verdicts.give(same, "duplicate", "coelution: the number of its group again")
    mixed = substances.flag((substances.facts["kind"] == "mixed-peak").to_numpy())
    why[(why < 0) & mixed] = WHY_NOT.index("mixed-peak")
    why[(why < 0) & other] = WHY_NOT.index("in-a-group")
    grouped.tell(
        verdicts.open & other,
        "in-a-group",
        "a substance stands alone beside a peak that holds it; the peak counts and the single is kept apart",
        "Ask the laboratory which holds.",
    )
    grouped.tell(
        verdicts.open & mixed,
        "mixed-peak",
        "one peak of substances of different groups; it is kept and not compared",
        "Ask for a second column.",
    )
    verdicts.give(verdicts.open, "result", "")
    look_at_units(substances, measures, readings, verdicts, grouped)
    for which, remark in answers.remarks(records, printed):
        verdicts.remark(which, remark)
    ids = np.zeros(len(records), dtype=np.int64)
    is_result = verdicts.is_("result")
    ids[is_result] = np.arange(1, int(is_result.sum()) + 1)
    ask_for_basis(substances, measures, verdicts, grouped)
    return Decided(substances, measures, readings, owners, verdicts, why, ids), grouped


def _shown_as_percent(records: Records, measures: Measures, grouped: Grouped) -> None:
    """A stored 0.021 that is shown as 2.1% under a unit of per cent is 2.1 %: a hundred times what is stored."""
    shown = records.get("shown")
    percent = np.array([str(text).endswith("%") for text in shown.texts], dtype=bool)[shown.codes]
    unit = np.array([text == "%" for text in measures.canonical.texts], dtype=bool)[measures.canonical.codes]
    which = percent & unit
    measures.factor = np.where(which, measures.factor * 100.0, measures.factor)
    grouped.tell(
        which,
        "percent-format",
        "the cell stores a share and shows it in per cent; it is read as per cent, as it is shown",
        "",
    )


def _slipped(records: Records, opened: Opened) -> npt.NDArray[np.bool_]:
    """Records whose row or column an unquoted comma has moved."""
    found = np.zeros(len(records), dtype=bool)
    for number, table in enumerate(table for tables in opened.tables for table in tables):
        if table.slipped or table.slipped_rows:
            mine = records.table == number
            found |= mine & np.isin(records.column, list(table.slipped))
            found |= mine & np.isin(records.row, list(table.slipped_rows))
    return found


def _context(records: Records, opened: Opened) -> Column:
    """The name of the sheet and the header of the analyte column, as words that may tell a band."""
    texts, codes = [], np.zeros(max(sum(map(len, opened.tables)), 1), dtype=np.int32)
    number = 0
    for grid, tables in zip(opened.corrected_grids, opened.tables, strict=True):
        for table in tables:
            head = grid.cell(table.headers[0], table.anchor) if table.headers and table.layout != "samples-down" else ""
            band = "pcb congeners" if fold(head).startswith(("congener", "bz", "iupac")) else grid.sheet
            texts.append(band)
            codes[number] = number
            number += 1
    if not texts:
        return constant("", len(records))
    one = join([constant(text, 1) for text in texts])
    return Column(one.codes[records.table], one.texts, one.kinds, one.numbers)


def _printed(substances: Substances) -> Column:
    texts = np.array([*substances.names, ""], dtype=object)
    codes = np.where(substances.codes < 0, len(texts) - 1, substances.codes)
    order = np.concatenate([[len(texts) - 1], np.arange(len(texts) - 1)])
    back = np.argsort(order)
    kinds = np.where(texts[order] == "", 0, 1).astype(np.uint8)
    return Column(back[codes].astype(np.int32), texts[order], kinds, np.full(len(texts), np.nan))


def _yes_no(column: Column) -> npt.NDArray[np.int8]:
    said = {"y": 1, "yes": 1, "true": 1, "1": 1, "x": 1, "t": 1, "n": 0, "no": 0, "false": 0, "0": 0, "f": 0}
    return np.array([said.get(fold(str(text)), -1) for text in column.texts], dtype=np.int8)[column.codes]


def _status(column: Column) -> npt.NDArray[np.int8]:
    """1 final or accepted, 0 rejected, 2 preliminary, -1 not stated."""
    said = {
        "rejected": 0,
        "final": 1,
        "accepted": 1,
        "validated": 1,
        "preliminary": 2,
        "raw": 2,
        "unvalidated": 2,
        "historical": 1,
    }
    return np.array([said.get(fold(str(text)), -1) for text in column.texts], dtype=np.int8)[column.codes]


def _with_field(ledger: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """The ledger of the sheets with that of the field record under it."""
    if not len(other):
        return ledger
    columns: dict[str, object] = {}
    for name in ledger.columns:
        first, second = ledger[name], other[name]
        if isinstance(first.dtype, pd.CategoricalDtype):
            before, after = (pd.Categorical(one).rename_categories(lambda text: str(text)) for one in (first, second))
            names = before.categories.union(after.categories, sort=False)
            columns[name] = pd.Categorical.from_codes(
                np.concatenate([pd.Categorical(one).set_categories(names).codes for one in (before, after)]), names
            )
        elif name == "result_id":
            blank = pd.arrays.IntegerArray(np.zeros(len(other), dtype=np.int64), np.ones(len(other), dtype=bool))
            columns[name] = pd.concat([first, pd.Series(blank)], ignore_index=True)
        else:
            columns[name] = np.concatenate([first.to_numpy(dtype=np.float64), second.to_numpy(dtype=np.float64)])
    return pd.DataFrame(columns)
