"""What becomes of the records of a part of a batch: a gathered batch and places of records in, an ``Outcome`` out.

Nothing here looks beyond the samples of the part: what the whole batch settles is in ``Gathered``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.model import WHY_NOT
from screen.reference.names import NameBook
from screen.settings import Settings
from screen.stages.read.cells.coded import equals
from screen.stages.read.cells.grid import Column, Grid
from screen.stages.read.decide.case import Case
from screen.stages.read.decide.grouped import Grouped, Told
from screen.stages.read.decide.judge import ask_for_basis, ask_for_water, judge, why_not
from screen.stages.read.decide.peaks import beside_group, name_groups
from screen.stages.read.decide.plausible import Figures, Usual, look_at_ranges, look_at_units
from screen.stages.read.decide.rivals import settle
from screen.stages.read.decide.verdicts import Verdicts
from screen.stages.read.frames import Decided, Frames, frames_of
from screen.stages.read.gathering import Gathered, Lot, contexts_of, printed
from screen.stages.read.ledger import build_ledger
from screen.stages.read.records.answers import Answers
from screen.stages.read.records.measures import Measures, limit_scales, read_basis_and_unit
from screen.stages.read.records.melt import Records
from screen.stages.read.records.owners import Owners
from screen.stages.read.records.readings import read_numbers, read_substances
from screen.stages.read.tables.layouts import Table
from screen.stages.read.words.vocabulary import fold

__all__ = ["Outcome", "decide", "tell_of_units"]

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]


@dataclass(slots=True)
class Outcome:
    """What became of the records of a part. Places are those among all records of the batch.

    - ``frames``: results (``result_id`` counts from 1 within the part), the laboratory's totals, quality control,
      refused rows, and what the sheets say of each sample.
    - ``places``: by the name of a frame the place of each of its rows, of a sample the one where it is met;
      ``result_grids``: the sheet of each result.
    - ``ledger``: LEDGER, with ``entries``: a number for each entry that orders those of several parts.
    """

    frames: Frames
    places: dict[str, Ints]
    result_grids: npt.NDArray[np.int32]
    ledger: pd.DataFrame
    entries: Ints
    told: Told
    answers_used: set[int]


def decide(
    gathered: Gathered, lot: Lot, owners: Owners, rest: pd.DataFrame, settings: Settings, book: NameBook
) -> Outcome:
    """Decide on the records of a lot. ``owners`` has one entry for each owner, to which the lot's numbers point.

    Records of one sample and of what belongs to it must be in one lot. ``rest`` are the cells of no record that the
    ledger of this part tells of.
    """
    records, places, owners = lot.records, lot.places, owners.at(lot.owner)
    tables = [table for _, table in gathered.tables]
    answers = Answers(settings.answers, gathered.sheets, gathered.tables)
    decided, grouped = _decide(records, owners, gathered, tables, settings, book, answers)
    frames = frames_of(records, gathered.sheets, decided)
    ledger, entries = build_ledger(gathered.sheets, records, places, decided.verdicts, decided.ids, rest)
    return Outcome(
        frames,
        {name: places[rows] for name, rows in frames.rows.items()},
        records.grid[frames.rows["results"]],
        ledger,
        entries,
        grouped.told,
        answers.used,
    )


def tell_of_units(outcome: Outcome, figures: Figures, usual: Usual, sheets: Sequence[Grid]) -> Told:
    """Warn of results a thousand times off what is usual in the batch; ``figures`` are those of the part's results."""
    results = outcome.frames.results
    columns = results["column"].cat.codes.to_numpy().astype(np.int32)
    rows: npt.NDArray[np.int32] = results["row"].to_numpy(dtype=np.int64).astype(np.int32) - np.int32(1)
    nothing = np.zeros(len(results), dtype=np.int32)
    cells = Records(nothing, outcome.result_grids, nothing, rows, columns, nothing)
    grouped = Grouped(cells, sheets)
    metal = np.asarray(equals(results["group"], "metal"), dtype=bool)
    look_at_units(figures, usual, metal, np.arange(len(results)), grouped)
    return grouped.told


def _decide(
    records: Records,
    owners: Owners,
    gathered: Gathered,
    tables: Sequence[Table],
    settings: Settings,
    book: NameBook,
    answers: Answers,
) -> tuple[Decided, Grouped]:
    """Every record read, judged and chosen among."""
    verdicts = Verdicts(len(records))
    grouped = Grouped(records, gathered.sheets)
    substances = read_substances(records, book, contexts_of(gathered.contexts, records))
    names = printed(substances)
    verdicts.give(answers.skipped(records, names), "ignored", "skip: set aside by an answer")
    measures = read_basis_and_unit(records, substances, settings, answers, gathered.silent)
    _shown_as_percent(records, measures, grouped)
    scales = limit_scales(records, measures)
    readings = read_numbers(records, substances, gathered.words, settings, gathered.decimals, scales)
    having = equals(readings.frame["outcome"], "result")
    pointers = name_groups(substances, owners.sample, records.file, readings.coelutes, having)
    verdicts.give(
        equals(readings.frame["code"], "pointer") | (pointers & verdicts.open),
        "duplicate",
        "coelution: points to the row of its group",
    )
    verdicts.give(_slipped(records, tables), "rejected", "unquoted-comma: the cell stands under another column's name")
    use, status = _yes_no(records.get("use")), _status(records.get("status"))
    case = Case(records, substances, measures, readings, owners, verdicts, grouped, use, status)
    judge(case, settings.soil == "include")
    look_at_ranges(case, water_content=settings.water_content == "use")
    why = why_not(case)
    totals = verdicts.open & substances.has_role("lab-total")

    if totals.any():
        settle(case, settings.conflicts, gathered.controls, totals)
        verdicts.give(totals, "lab-total", "lab-total: the laboratory's own sum, compared and never added")
    settle(case, settings.conflicts, gathered.controls, ~totals)
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
    for which, remark in answers.remarks(records, names):
        verdicts.remark(which, remark)
    ids = np.zeros(len(records), dtype=np.int64)
    is_result = verdicts.is_("result")
    ids[is_result] = np.arange(1, int(is_result.sum()) + 1)
    ask_for_basis(case)
    if settings.water_content != "use":
        ask_for_water(case)
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


def _slipped(records: Records, tables: Sequence[Table]) -> Bools:
    """Records whose row or column an unquoted comma has moved."""
    found = np.zeros(len(records), dtype=bool)
    for number, table in enumerate(tables):
        if table.slipped or table.slipped_rows:
            mine = records.table == number
            found |= mine & np.isin(records.column, list(table.slipped))
            found |= mine & np.isin(records.row, list(table.slipped_rows))
    return found


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
