"""Whose each record is: sample, place, depth and date, and whether it is a field sample at all.

In: records. Out: ``Owners``: ids, the kind of sample (field, field duplicate, one of the laboratory's own controls),
the parent of a duplicate, the run. Marks of quality control count in a type column, as a suffix of the laboratory's id
where its stem is an id too, or as a whole name; an id that only looks like one is asked about (intake handbook 5.1).
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.model import Problem
from screen.stages.read.cells.coded import empty, first_of, join, pair_codes, spread, take, used
from screen.stages.read.cells.grid import Column, Grid
from screen.stages.read.records.melt import Records
from screen.stages.read.words.dates import read_dates
from screen.stages.read.words.ids import clean_id
from screen.stages.read.words.lengths import MENDS, REFUSED, WARNED, known_unit, read_interval, read_length
from screen.stages.read.words.vocabulary import fold, look_up, words

__all__ = ["QC_KINDS", "Owners", "owner_rows", "read_owners"]

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

#: Kinds that are no results of a field sample.
QC_KINDS = ("lab-duplicate", "reanalysis", "method-blank", "control-sample", "matrix-spike", "field-blank", "surrogate")
_LAB_SUFFIX = re.compile(
    r"^(?P<stem>.*?\d)[ _-]?(?P<mark>DUP|LD|LR|MSD|MS|LCSD|LCS|PB|MB|MBLK|BLK|BSD|BS|D)(?P<tail>-[A-Z])?$",
    re.IGNORECASE,
)
_LAB_PREFIX = re.compile(r"^(?P<mark>MBLK|MB|LCSD|LCS|PBS|BLK|BSD|BS|OPR)[ _-]?\d", re.IGNORECASE)
_LOOKS_QC = re.compile(r"^(?:MB|MBLK|LCS|LCSD|BLK|BSD|BS|LB|EB|RB|TB|FB|PB)(?:[ _-]?\d{1,6})?$", re.IGNORECASE)
_SPIKED = re.compile(r"^(?P<stem>.+?)[ _-](?P<mark>MSD|MS)$", re.IGNORECASE)
_RUN = re.compile(r"^(?P<stem>.+?)[ _-]?(?P<mark>DL\d?|RE\d?|RX|RA|R1|\d{1,4}X)$")
_TWIN = re.compile(r"^(?P<stem>.+?)[ _-](?:FD|DUP|D|FDUP|FIELD DUP|DUPLICATE)\d?$", re.IGNORECASE)
#: Ids that no place of sampling goes by.
_ONLY_QC = frozenset(("lcs", "lcsd", "mblk", "mbk", "pblk", "icb", "ccb", "icv", "ccv", "bsd", "opr"))
_NEEDS_PARENT = ("field-duplicate",)
#: All fields that tell whose a record is.
_TELLING = (
    *("sample", "lab_sample", "station", "core", "parent", "sample_type", "result_type"),
    *("date", "extracted", "analysed", "latitude", "longitude", "river_km", "river_mile"),
    *("depth", "depth_top", "depth_bottom", "depth_unit", "depth_rest", "depth_top_rest", "depth_bottom_rest"),
)


@dataclass(slots=True)
class Owners:
    """One entry per record. ``kind`` is a kind of ``sample_types.csv``; ``run`` is "", ``diluted`` or ``rerun``.

    ``doubtful``: sample ids that may be controls of the laboratory, each with its first record.
    """

    sample: Column
    lab_sample: Column
    station: Column
    core: Column
    parent: Column
    kind: Column
    run: Column
    river_km: Floats
    top: Floats
    bottom: Floats
    collected: Column
    extracted: Column
    analysed: Column
    latitude: Floats
    longitude: Floats
    tentative: Bools
    problems: list[Problem]
    doubtful: dict[str, int]

    def at(self, rows: npt.NDArray[np.integer]) -> Owners:
        """The owners at ``rows``, which may repeat."""
        changed: dict[str, Column | npt.NDArray[Any]] = {}
        for one in fields(self):
            values = getattr(self, one.name)
            if isinstance(values, Column):
                changed[one.name] = take(values, rows)
            elif isinstance(values, np.ndarray):
                changed[one.name] = values[rows]
        return replace(self, **changed)  # type: ignore[arg-type]

    def only(self, rows: npt.NDArray[np.integer]) -> Owners:
        """The owners at ``rows`` with no more distinct texts than they need, and nothing that is told of others."""
        some = self.at(rows)
        texts = {one.name: used(value) for one in fields(some) if isinstance(value := getattr(some, one.name), Column)}
        return replace(some, **texts, problems=[], doubtful={})  # type: ignore[arg-type]


def owner_rows(records: Records) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.int64]]:
    """Records that say the same of their owner in the same file share a number: that of each, and the first of each."""
    told = [records.fields[name] for name in _TELLING if name in records.fields]
    codes, first = pair_codes(records.file, *told)
    return codes.astype(np.int32), first


def read_owners(records: Records, grids: list[Grid], orders: dict[int, str | None], asked: Bools) -> Owners:
    """Sample, place, depth and date of all records.

    ``orders`` says for each file whether the day comes first; ``asked`` marks the records that questions may be about.
    """
    problems: list[Problem] = []
    names = {
        name: spread(records.get(name), clean_id) for name in ("sample", "lab_sample", "station", "core", "parent")
    }
    top, bottom, depth_text = _depths(records, grids, problems)
    collected, extracted, analysed = (
        _dates(records, name, grids, orders, problems) for name in ("date", "extracted", "analysed")
    )
    sample = _samples(names, depth_text, collected, records)
    sample, lab, run = _runs(sample, names["lab_sample"])
    doubtful: dict[str, int] = {}
    kind, parent = _kinds(records, sample, lab, names["parent"], names["station"], grids, problems, asked, doubtful)
    result_type = spread(records.get("result_type"), lambda text: look_up("result_types", "kind", text))
    tentative = np.array([text == "tentative" for text in result_type.texts], dtype=bool)[result_type.codes]
    surrogate = np.array([text == "surrogate" for text in result_type.texts], dtype=bool)[result_type.codes]
    if surrogate.any():
        kind = _set(kind, surrogate, "surrogate")
    latitude, longitude, km = (_plain(records.get(name)) for name in ("latitude", "longitude", "river_km"))
    miles = _plain(records.get("river_mile"))
    km = np.where(np.isnan(km), miles * 1.609344, km)  # the international mile is 1.609344 km exactly
    return Owners(
        sample,
        lab,
        names["station"],
        names["core"],
        parent,
        kind,
        run,
        km,
        top,
        bottom,
        collected,
        extracted,
        analysed,
        latitude,
        longitude,
        tentative,
        problems,
        doubtful,
    )


def _set(column: Column, which: Bools, text: str) -> Column:
    both = join(
        [
            column,
            spread(
                Column(
                    np.array([1], np.int32),
                    np.array(["", text], object),
                    np.array([0, 1], np.uint8),
                    np.full(2, np.nan),
                ),
                str,
            ),
        ]
    )
    codes = both.codes[:-1].copy()
    codes[which] = both.codes[-1]
    return Column(codes, both.texts, both.kinds, both.numbers)


def _plain(column: Column) -> Floats:
    values = pd.to_numeric(pd.Series(column.texts, dtype=object).replace("", np.nan), errors="coerce").to_numpy(
        dtype=np.float64
    )
    return values[column.codes]


# --- sample ids -------------------------------------------------------------------------------------------------------


def _samples(names: dict[str, Column], depth: Column, collected: Column, records: Records) -> Column:
    """The sample of each record: its own id, else the laboratory's, else the station and what tells samples apart."""
    sample = names["sample"]
    given = sample.codes != 0
    if given.all():
        base = sample
    else:
        base = sample
        for name in ("lab_sample", "station", "core"):
            base = first_of(base, names[name])
    parts = [base]
    if _tells_apart(base, depth, base.codes != 0):
        parts.append(depth)
    if not given.all() and _tells_apart(base, collected, (base.codes != 0) & ~given):
        parts.append(Column(np.where(given, 0, collected.codes), collected.texts, collected.kinds, collected.numbers))
    if len(parts) == 1:
        return base
    several = [_several(base, part) for part in parts[1:]]
    parts = [
        base,
        *(
            Column(np.where(many, part.codes, 0), part.texts, part.kinds, part.numbers)
            for many, part in zip(several, parts[1:], strict=True)
        ),
    ]
    codes, first = pair_codes(*parts)
    texts = [" ".join(text for part in parts if (text := str(part.texts[part.codes[row]]))) for row in first]
    places, distinct = pd.factorize(np.array(["", *texts], dtype=object))
    kinds = np.where(np.asarray(distinct, dtype=object) == "", 0, 1).astype(np.uint8)
    return Column(
        places[1:].astype(np.int32)[codes], np.asarray(distinct, dtype=object), kinds, np.full(len(distinct), np.nan)
    )


def _several(base: Column, other: Column) -> Bools:
    """Records whose base has more than one different text in ``other``."""
    known = other.codes != 0
    pairs = np.unique(base.codes[known].astype(np.int64) * (len(other.texts) + 1) + other.codes[known]) // (
        len(other.texts) + 1
    )
    counts = np.bincount(pairs, minlength=len(base.texts))
    return (counts > 1)[base.codes]


def _tells_apart(base: Column, other: Column, where: Bools) -> bool:
    return bool((_several(base, other) & where & (other.codes != 0)).any())


def _runs(sample: Column, lab: Column) -> tuple[Column, Column, Column]:
    """Ids with the mark of a run taken off, where the rest is an id too: ``QE-2DL`` is the diluted run of ``QE-2``."""
    size = len(sample.codes)
    run = empty(size)
    for column in (sample, lab):
        marks = spread(column, functools.partial(_run_of, set(column.texts.tolist()), 1))
        run = first_of(run, marks)
    return spread(sample, functools.partial(_run_of, set(sample.texts.tolist()), 0)), lab, run


def _run_of(known: set[str], part: int, text: str) -> str:
    """The id without the mark of a run (part 0), or what the mark means (part 1)."""
    cut = _RUN.match(text)
    if not cut or cut["stem"] not in known:
        return (text, "")[part]
    return (cut["stem"], "rerun" if cut["mark"].startswith("R") else "diluted")[part]


# --- kinds of samples -------------------------------------------------------------------------------------------------


def _kinds(
    records: Records,
    sample: Column,
    lab: Column,
    parent: Column,
    station: Column,
    grids: list[Grid],
    problems: list[Problem],
    asking: Bools,
    doubtful: dict[str, int],
) -> tuple[Column, Column]:
    types = records.get("sample_type")
    codes, first = pair_codes(sample, lab, types, parent, station)
    if not len(first):
        return empty(0), parent
    labs = {str(text) for text in lab.texts[1:]}
    samples = {str(text) for text in sample.texts[1:]}
    field_samples = set()
    table = words("sample_types", "kind")
    placed = bool((station.codes != 0).any())
    rows = [[str(one.texts[one.codes[row]]) for one in (sample, lab, types, parent, station)] for row in first]
    for name, _, kind, _, _ in rows:
        if table.get(fold(kind), "field" if not kind else "") == "field":
            field_samples.add(name)
    unknown: dict[str, int] = {}
    alone: dict[str, int] = {}
    kinds, parents = [], []
    for (name, lab_name, kind, own, place), row in zip(rows, first, strict=True):
        said = table.get(fold(kind) or kind, "") if kind else ""
        if kind and not said:
            unknown.setdefault(kind, int(row))
        if fold(kind) in _DUPLICATES:
            said = "lab-duplicate" if name in field_samples and not own else "field-duplicate"
        if not kind or said == "field":
            said = _by_ids(name, lab_name, labs, samples, table) or said or "field"
        if said == "field" and not kind:
            if placed and not place and _LOOKS_QC.match(name):
                said = table.get(fold(re.split(r"[ _\-\d]", name)[0]), "method-blank")
            elif _LOOKS_QC.match(name) and asking[row]:
                doubtful.setdefault(name, int(row))
        twin = _TWIN.match(name)
        if said in ("field", "field-duplicate", "split") and not own and twin and twin["stem"] in samples:
            own, said = twin["stem"], "field-duplicate" if said == "field" else said
        if own and said == "field" and own in samples and own != name:
            said = "field-duplicate"
        if said in _NEEDS_PARENT and not own:
            alone.setdefault(name, int(row))
        kinds.append(said or "field")
        parents.append(own if said in ("field-duplicate", "split", "lab-duplicate", "matrix-spike") else "")
    for texts, code, message, mend in (
        (
            unknown,
            "sample-type-unknown",
            "the sample type {0!r} is not known; its rows are read as field samples",
            "If they are the laboratory's controls, say so with read_as (MB, LCS) in an [[answers]] for the column.",
        ),
        (
            doubtful,
            "qc-or-sample",
            "the sample id {0!r} may be a blank or control of the laboratory; it is read as a field sample",
            "If it is none of yours, set skip = true for it in an [[answers]].",
        ),
        (
            alone,
            "parent-missing",
            "{0!r} is a field duplicate, but nothing says of which sample",
            "Give its parent in the field record or in a column Parent Sample.",
        ),
    ):
        for text, row in texts.items():
            grid = grids[int(records.grid[row])]
            problems.append(
                Problem(
                    code, message.format(text), mend, file=grid.file, sheet=grid.sheet, row=int(records.row[row]) + 1
                )
            )
    return _from_rows(codes, kinds), _from_rows(codes, parents)


_DUPLICATES = frozenset(("dup", "duplicate", "replicate", "rep"))


def _by_ids(name: str, lab_name: str, labs: set[str], samples: set[str], table: dict[str, str]) -> str:
    """A kind that the ids themselves prove, or an empty text."""
    if (len(fold(name)) > 4 or fold(name) in _ONLY_QC) and (found := table.get(fold(name), "")) not in ("", "field"):
        return found
    if cut := _LAB_SUFFIX.match(lab_name):
        mark = cut["mark"].upper()
        if mark in ("PB", "MB", "MBLK", "BLK", "LCS", "LCSD", "BS", "BSD"):
            return table.get(mark.casefold(), "")
        if cut["stem"] + (cut["tail"] or "") in labs:
            return {"MS": "matrix-spike", "MSD": "matrix-spike"}.get(mark, "lab-duplicate")
    if cut := _LAB_PREFIX.match(lab_name):
        return table.get(cut["mark"].casefold(), "")
    if (cut := _SPIKED.match(name)) and cut["stem"] in samples:
        return "matrix-spike"
    return ""


def _from_rows(codes: npt.NDArray[np.int64], texts: list[str]) -> Column:
    places, distinct = pd.factorize(np.array(["", *texts], dtype=object))
    kinds = np.where(np.asarray(distinct, dtype=object) == "", 0, 1).astype(np.uint8)
    return Column(
        places[1:].astype(np.int32)[codes], np.asarray(distinct, dtype=object), kinds, np.full(len(distinct), np.nan)
    )


# --- depths and dates -------------------------------------------------------------------------------------------------


def _depths(records: Records, grids: list[Grid], problems: list[Problem]) -> tuple[Floats, Floats, Column]:
    size = len(records)
    nothing = np.full(size, np.nan)
    if not any(name in records.fields for name in ("depth", "depth_top", "depth_bottom")):
        return nothing, nothing.copy(), empty(size)
    parts = [
        records.get(name)
        for name in (
            "depth",
            "depth_top",
            "depth_bottom",
            "depth_unit",
            "depth_rest",
            "depth_top_rest",
            "depth_bottom_rest",
        )
    ]
    codes, first = pair_codes(*parts)
    tops, bottoms, texts = [], [], []
    seen: set[tuple[str, str]] = set()
    for row in first:
        depth, top, bottom, unit, rest, rest_top, rest_bottom = (str(one.texts[one.codes[row]]) for one in parts)
        common = known_unit(unit) or known_unit(rest)
        low, high, found = np.nan, np.nan, []
        if depth:
            low, high, code = read_interval(depth, common)
            found.append((code, depth))
        if top:
            low, code = read_length(top, known_unit(unit) or known_unit(rest_top) or common)
            found.append((code, top))
        if bottom:
            high, code = read_length(bottom, known_unit(unit) or known_unit(rest_bottom) or common)
            found.append((code, bottom))
        tops.append(low)
        bottoms.append(high)
        texts.append(depth or "-".join(one for one in (top, bottom) if one))
        for code, text in found:
            if code and (code, text) not in seen:
                seen.add((code, text))
                grid = grids[int(records.grid[row])]
                what = REFUSED.get(code) or WARNED.get(code, code)
                problems.append(
                    Problem(
                        code,
                        f"depth {text!r}: {what}",
                        MENDS.get(code, ""),
                        file=grid.file,
                        sheet=grid.sheet,
                        row=int(records.row[row]) + 1,
                    )
                )
    return np.array(tops, dtype=float)[codes], np.array(bottoms, dtype=float)[codes], _from_rows(codes, texts)


def _dates(
    records: Records, name: str, grids: list[Grid], orders: dict[int, str | None], problems: list[Problem]
) -> Column:
    date = records.fields.get(name)
    if date is None:
        return empty(len(records))
    file = Column(
        records.file + 1,
        np.array([""] * (int(records.file.max(initial=0)) + 2), dtype=object),
        np.zeros(1, np.uint8),
        np.zeros(1),
    )
    codes, first = pair_codes(date, file)
    texts = np.array([str(date.texts[date.codes[row]]) for row in first], dtype=object)
    files = records.file[first]
    answers = np.full(len(first), "", dtype=object)
    for one in np.unique(files):
        mine = np.flatnonzero(files == one)
        read = read_dates(texts[mine], orders.get(int(one)))
        answers[mine] = read["date"].to_numpy(dtype=object)
        told = set()
        for place, code in zip(mine, read["code"], strict=True):
            if code and code not in told:
                told.add(code)
                grid, row = grids[int(records.grid[first[place]])], int(records.row[first[place]])
                if code == "date-ambiguous":
                    message = (
                        f"the date {texts[place]!r} can be read with the day or the month first, "
                        "and nothing in the file settles it"
                    )
                    mend = 'Say it with dates = "day-first" or dates = "month-first" under [reading].'
                else:
                    message, mend = f"the date {texts[place]!r} is not understood", "Write it as 2026-05-12."
                problems.append(
                    Problem(
                        code, message + "; the date is left out", mend, file=grid.file, sheet=grid.sheet, row=row + 1
                    )
                )
    return _from_rows(codes, [str(one) for one in answers])
