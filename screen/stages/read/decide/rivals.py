"""The records that may be results, put before the choice: same sample, same substance.

In: records with readings and owners. Out: verdicts, by ``choose``, and what is told of it. The method meant for a
group is data: ``guidelines/vocabulary/methods.csv``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.letters import column_letter
from screen.reference.locate import read_table
from screen.stages.read.cells.coded import pair_codes
from screen.stages.read.cells.grid import Column
from screen.stages.read.decide.case import Case
from screen.stages.read.decide.choose import Rivals, choose
from screen.stages.read.decide.grouped import Conflict
from screen.stages.read.records.readings import Substances

__all__ = ["settle"]

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
#: Figures of a sample that stand side by side when they differ: their mean or the fitting one is taken later.
_REPLICATES = ("Percent solids", "Percent moisture", "Water content (dry basis)", "Total organic carbon")
_NOT_RANKED = 99
_PRIMARY = frozenset(("p", "pr", "primary", "1", "1c", "a", "pri"))
_TELL = {
    "repeated": ("the same result stands in the batch more than once; it was counted once", ""),
    "two-columns": ("results of two columns of one instrument; one was taken", "See the ledger for the other."),
    "columns-differ": (
        "the two columns of one instrument differ by more than 40 per cent; the result is used",
        "Look whether the laboratory flags it (P); the ledger shows the other figure.",
    ),
    "two-methods": (
        "results by two methods; the one meant for the substance was taken",
        "See the ledger for the other.",
    ),
    "conflict-higher": (
        "two different results of one sample and substance; the higher was taken, as the settings ask",
        "",
    ),
}


def settle(case: Case, conflicts: str, controls: Bools, among: Bools) -> None:
    """Choose among the open records of ``among``. ``controls`` says which tables hold the laboratory's controls."""
    places = np.flatnonzero(case.verdicts.open & among)
    if not len(places):
        return
    key = (
        case.owners.sample.codes[places].astype(np.int64) * (len(case.substances.names) + 1)
        + case.substances.codes[places]
    )
    codes = pd.factorize(key)[0]
    crowded = np.bincount(codes)[codes] > 1
    places, codes = places[crowded], codes[crowded]
    if not len(places):
        return
    own = case.verdicts.at(places)
    warned = choose(_rivals(case, controls, places, codes), own, conflicts)
    decided = own.became >= 0
    case.verdicts.became[places[decided]] = own.became[decided]
    case.verdicts.reason[places[decided]] = own.reason[decided]
    for code, which in warned:
        mask = np.zeros(len(case.records), dtype=bool)
        mask[places[which]] = True
        if code == "conflict":
            _tell_conflicts(case, places[which])
        else:
            case.grouped.tell(mask, code, *_TELL[code])


def _rivals(case: Case, controls: Bools, places: Ints, group: Ints) -> Rivals:
    frame = case.readings.frame.iloc[places]
    scale = case.measures.factor[places]
    flags = _texts(case.readings.flags, places)
    method = case.records.get("method")
    column = case.records.get("gc_column")
    runs = _texts(case.owners.run, places)
    said_run = _texts(case.records.get("run"), places)
    dilution = pd.to_numeric(np.array(_texts(case.records.get("dilution"), places), dtype=object), errors="coerce")
    rejected = (frame["why_not"].astype(object) == "rejected-by-lab").to_numpy() | (case.status[places] == 0)
    doubtful = (frame["why_not"].astype(object) == "tentative").to_numpy()
    return Rivals(
        group=group.astype(np.int64),
        number=frame["read_value"].to_numpy(dtype=np.float64) * scale,
        limit=frame["read_limit"].to_numpy(dtype=np.float64) * scale,
        kind=np.asarray(frame["kind"].cat.codes, dtype=np.int64),
        basis=case.measures.basis[places].astype(np.int64),
        detected=frame["detected"].to_numpy(dtype=bool),
        rejected=rejected | doubtful,
        over_range=frame["over_range"].to_numpy(dtype=bool),
        flawed=np.array(["H" in text.split() or "*" in text.split() for text in flags], dtype=bool),
        rerun=np.array(
            [
                run == "rerun" or text.upper() in ("RE", "RX", "RA", "R1", "REEXTRACT", "REANALYSIS", "RERUN")
                for run, text in zip(runs, said_run, strict=True)
            ],
            dtype=bool,
        ),
        dilution=np.asarray(dilution, dtype=np.float64),
        method_rank=_ranks(case.substances, places, method),
        method=method.codes[places].astype(np.int64),
        column_rank=np.array(
            [0 if text.casefold() in _PRIMARY else 1 if text else 9 for text in _texts(column, places)], dtype=np.int64
        ),
        column=column.codes[places].astype(np.int64),
        use=case.use[places],
        final=np.where(case.status[places] == 2, 0, 1).astype(np.int8),
        replicates=np.isin(
            case.substances.codes[places],
            [place for place, name in enumerate(case.substances.names) if name in _REPLICATES],
        )
        | _by_several_rules(case, places, group),
        lab_sample=case.owners.lab_sample.codes[places].astype(np.int64),
        file=case.records.file[places].astype(np.int64),
        aside=controls[case.records.table[places]],
    )


def _by_several_rules(case: Case, places: Ints, group: Ints) -> Bools:
    """Totals of the laboratory that it gives under several names, such as one for each rule for nondetects."""
    roles = (case.substances.told["role"] == "lab-total").to_numpy(dtype=bool)
    named = case.substances.told_codes[places]
    names = pd.Series(named).groupby(group).transform("nunique").to_numpy()
    several: Bools = roles[named] & (names > 1)
    return several


def _texts(column: Column, places: Ints) -> list[str]:
    return [str(text) for text in column.texts[column.codes[places]]]


def _ranks(substances: Substances, places: Ints, method: Column) -> Ints:
    """The rank of each record's method for its substance, by the vocabulary; 99 where it names none."""
    which = Column(method.codes[places], method.texts, method.kinds, method.numbers)
    codes, first = pair_codes(which, substances.codes[places] + 1)
    ranks = []
    for row in first:
        place = int(substances.codes[places[row]])
        text = str(which.texts[which.codes[row]])
        group = str(substances.facts["group"].iloc[place]) if place >= 0 else ""
        ranks.append(_rank(group, substances.names[place] if place >= 0 else "", text))
    return np.array(ranks, dtype=np.int64)[codes]


@cache
def _rank(group: str, substance: str, method: str) -> int:
    if not method:
        return _NOT_RANKED
    table = read_table("vocabulary/methods.csv")
    folded = re.sub(r"[^a-z0-9. ]", " ", method.casefold())
    best = _NOT_RANKED
    own = table[(table["group"] == group) & (table["substance"] == substance)]
    rows = own if len(own) else table[(table["group"] == group) & (table["substance"] == "")]
    for rank, wanted in zip(rows["rank"], rows["method"], strict=True):
        words = re.sub(r"[^a-z0-9. ]", " ", wanted.casefold()).split()
        if all(re.search(rf"(?<![0-9]){re.escape(word)}(?![0-9])", folded) for word in words):
            best = min(best, int(rank))
    return best


def _tell_conflicts(case: Case, places: Ints) -> None:
    """Each sample and substance with results in conflict, and the files that they stand in."""
    told: dict[tuple[int, int], list[int]] = {}
    for row in places:
        told.setdefault((int(case.owners.sample.codes[row]), int(case.substances.codes[row])), []).append(int(row))
    for (sample, place), rows in told.items():
        name = f"{case.owners.sample.texts[sample]}, {case.substances.names[place]}"
        files = tuple(dict.fromkeys(case.grouped.grids[int(case.records.grid[row])].file for row in rows))
        case.grouped.conflict(rows, Conflict(name, _both(case, rows), files))


def _both(case: Case, rows: Sequence[int]) -> str:
    value = case.records.get("value")
    said = []
    for row in rows:
        grid = case.grouped.grids[int(case.records.grid[row])]
        cell = f"{column_letter(int(case.records.column[row]))}{int(case.records.row[row]) + 1}"
        where = ", ".join(part for part in (grid.file, grid.sheet and f"sheet {grid.sheet}", f"cell {cell}") if part)
        said.append(f"{value.texts[value.codes[row]]} ({where})")
    return " and ".join(said)
