"""From decided records to the frames of a batch: results, the laboratory's totals and controls, refused rows, samples.

In: records and what became of them. Out: frames with the columns of ``model``, in the order read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.model import GROUPS, KINDS, RESULTS, RESULTS_INNER, SAMPLES, WHY_NOT
from screen.stages.read.cells.coded import first_of
from screen.stages.read.cells.grid import Column, Grid
from screen.stages.read.decide.verdicts import Verdicts
from screen.stages.read.ledger import letters
from screen.stages.read.records.measures import Measures
from screen.stages.read.records.melt import Records
from screen.stages.read.records.owners import Owners
from screen.stages.read.records.readings import Readings, Substances
from screen.stages.read.words.meanings import BASES

__all__ = ["Decided", "Frames", "frames_of"]

Ints = npt.NDArray[np.int64]
_REFUSED = ["sample", "substance", "reason", "file", "sheet", "row", "column"]


@dataclass(slots=True)
class Decided:
    """Everything known of the records once each has its verdict; ``ids`` are the result ids, 0 for none."""

    substances: Substances
    measures: Measures
    readings: Readings
    owners: Owners
    verdicts: Verdicts
    why_not: npt.NDArray[np.int8]
    ids: Ints


@dataclass(frozen=True, slots=True)
class Frames:
    """The frames that ``Batch`` takes from reading; ``samples`` is what the sheets say of each sample.

    ``rows`` tells by the name of a frame the record of each of its rows; of a sample the one that it is met in.
    """

    results: pd.DataFrame
    lab_totals: pd.DataFrame
    qc: pd.DataFrame
    refused: pd.DataFrame
    samples: pd.DataFrame
    rows: dict[str, Ints]


def frames_of(records: Records, grids: Sequence[Grid], decided: Decided) -> Frames:
    """All frames of one batch."""
    verdicts = decided.verdicts
    rows = np.flatnonzero(verdicts.is_("result"))
    results = _results(records, grids, decided, rows)
    total_rows = np.flatnonzero(verdicts.is_("lab-total"))
    totals = _results(records, grids, decided, total_rows)
    qc_rows = np.flatnonzero(verdicts.is_("qc"))
    qc = _results(records, grids, decided, qc_rows)
    qc["qc_kind"] = _text(decided.owners.kind, qc_rows)
    reasons = pd.Series([text.partition(":")[0] for text in verdicts.reasons], dtype=object)
    kind = reasons.to_numpy(dtype=object)[verdicts.reason[qc_rows]]
    qc["qc_kind"] = pd.Categorical(kind)
    same = np.isin(kind, ["lab-duplicate", "matrix-spike", "reanalysis"])
    own = Column(np.where(same, decided.owners.sample.codes[qc_rows], 0), *_rest(decided.owners.sample))
    parent = Column(decided.owners.parent.codes[qc_rows], *_rest(decided.owners.parent))
    qc["qc_of"] = _text(first_of(parent, own), np.arange(len(qc_rows)))
    samples, met = _samples(records, decided)
    refused, refused_rows = _refused(records, grids, decided)
    return Frames(
        results,
        totals,
        qc,
        refused,
        samples,
        {"results": rows, "lab_totals": total_rows, "qc": qc_rows, "refused": refused_rows, "samples": met},
    )


def _rest(column: Column) -> tuple[npt.NDArray[np.object_], npt.NDArray[np.uint8], npt.NDArray[np.float64]]:
    return column.texts, column.kinds, column.numbers


def _text(column: Column, rows: Ints) -> pd.Categorical:
    """The column at ``rows`` as a categorical of the texts that occur."""
    codes = column.codes[rows]
    places, distinct = pd.factorize(codes)
    texts = column.texts[distinct] if len(distinct) else np.array([], dtype=object)
    empty = np.array([text == "" for text in texts], dtype=bool)
    if not empty.any() and len(set(texts.tolist())) == len(texts):
        return pd.Categorical.from_codes(places, pd.Index(texts, dtype=object))
    again, own = pd.factorize(np.array([*(None if text == "" else text for text in texts), None], dtype=object))
    return pd.Categorical.from_codes(np.asarray(again, dtype=np.int64)[places], pd.Index(own, dtype=object))


def _results(records: Records, grids: Sequence[Grid], decided: Decided, rows: Ints) -> pd.DataFrame:
    substances, measures, readings, owners = decided.substances, decided.measures, decided.readings, decided.owners
    frame = readings.frame
    codes = substances.codes[rows]
    names = pd.Index(pd.unique(np.array(substances.names, dtype=object)), dtype=object)

    def fact(name: str) -> pd.Categorical:
        listed = (
            [text if isinstance(text, str) and text else None for text in substances.facts[name]]
            if len(substances.facts)
            else []
        )
        places, distinct = pd.factorize(np.array([*listed, None], dtype=object))
        own = np.asarray(places, dtype=np.int64)[codes]
        return pd.Categorical.from_codes(own, pd.Index(distinct, dtype=object))

    def picked(name: str) -> pd.Categorical:
        one = frame[name].cat
        return pd.Categorical.from_codes(one.codes.to_numpy()[rows], one.categories)

    value = records.get("value")
    text_value = records.fields.get("value_text")
    reported = _text(value, rows) if text_value is None else _text(first_of(text_value, value), rows)
    nan = np.full(len(rows), np.nan)
    blank = pd.Categorical.from_codes(np.full(len(rows), -1), pd.Index([], dtype=object))
    bases = np.where(measures.basis[rows] > 3, 0, measures.basis[rows]).astype(np.int64)
    why = pd.Categorical.from_codes(decided.why_not[rows], pd.Index(WHY_NOT))
    group = fact("group")
    files, sheets = _places(grids, records.grid[rows])
    columns: dict[str, object] = {
        "result_id": decided.ids[rows],
        "sample": _text(owners.sample, rows),
        "lab_sample": _text(owners.lab_sample, rows),
        "parent": _text(owners.parent, rows),
        "station": _text(owners.station, rows),
        "core": _text(owners.core, rows),
        "river_km": owners.river_km[rows],
        "depth_top_cm": owners.top[rows],
        "depth_bottom_cm": owners.bottom[rows],
        "collected": _text(owners.collected, rows),
        "substance": pd.Categorical.from_codes(codes, names),
        "cas": fact("cas"),
        "group": pd.Categorical(group, categories=list(GROUPS)),
        "reported": reported,
        "qualifier": _text(readings.flags, rows),
        "reported_unit": _text(measures.unit, rows),
        "reported_basis": pd.Categorical.from_codes(bases - 1, pd.Index(BASES[1:4])),
        "detected": frame["detected"].to_numpy(dtype=bool)[rows],
        "kind": pd.Categorical(picked("kind"), categories=list(KINDS)),
        "value": nan,
        "limit": nan.copy(),
        "limit_kind": picked("limit_kind"),
        "low": nan.copy(),
        "high": nan.copy(),
        "unit": blank,
        "oc_value": nan.copy(),
        "oc_unit": blank.copy(),
        "method": _text(records.get("method"), rows),
        "used": why.codes < 0,
        "why_not": why,
        "file": files,
        "sheet": sheets,
        "row": (records.row[rows] + 1).astype(np.int64),
        "column": letters(records.column[rows]),
        "read_value": frame["read_value"].to_numpy()[rows],
        "read_limit": frame["read_limit"].to_numpy()[rows],
        "read_low": frame["read_low"].to_numpy()[rows],
        "read_high": frame["read_high"].to_numpy()[rows],
        "factor": measures.factor[rows],
        "estimated": frame["estimated"].to_numpy(dtype=bool)[rows],
        "extracted": _text(owners.extracted, rows),
        "analysed": _text(owners.analysed, rows),
    }
    return pd.DataFrame(columns, columns=[*RESULTS, *RESULTS_INNER], copy=False)


def _places(grids: Sequence[Grid], codes: npt.NDArray[np.int32]) -> tuple[pd.Categorical, pd.Categorical]:
    made = []
    for texts in ([grid.file for grid in grids], [grid.sheet for grid in grids]):
        places, distinct = pd.factorize(np.array([*(text or None for text in texts), None], dtype=object))
        made.append(
            pd.Categorical.from_codes(np.asarray(places, dtype=np.int64)[codes], pd.Index(distinct, dtype=object))
        )
    return made[0], made[1]


def _refused(records: Records, grids: Sequence[Grid], decided: Decided) -> tuple[pd.DataFrame, Ints]:
    """Refused rows whose sample and substance are known, and the record of each."""
    known = (decided.owners.sample.codes != 0) & (decided.substances.codes >= 0)
    rows = np.flatnonzero(decided.verdicts.is_("rejected") & known)
    names = pd.Index(decided.substances.names, dtype=object)
    files, sheets = _places(grids, records.grid[rows])
    reasons = np.array(decided.verdicts.reasons, dtype=object)[decided.verdicts.reason[rows]]
    frame = pd.DataFrame(
        {
            "sample": _text(decided.owners.sample, rows),
            "substance": pd.Categorical.from_codes(decided.substances.codes[rows], names),
            "reason": pd.Categorical(reasons),
            "file": files,
            "sheet": sheets,
            "row": (records.row[rows] + 1).astype(np.int64),
            "column": letters(records.column[rows]),
        },
        columns=_REFUSED,
    )
    return frame, rows


def _samples(records: Records, decided: Decided) -> tuple[pd.DataFrame, Ints]:
    """What the sheets say of each field sample, in the order met: the first text of each kind that is not empty; and
    the record that it is met in."""
    owners = decided.owners
    kept = ~(decided.verdicts.is_("qc") | decided.verdicts.is_("ignored")) & (owners.sample.codes != 0)
    kept |= decided.verdicts.is_("ignored") & _reasoned(decided.verdicts, "not-analysed") & (owners.sample.codes != 0)
    rows = np.flatnonzero(kept)
    codes, order = pd.factorize(owners.sample.codes[rows])
    size = len(order)
    frame: dict[str, object] = {name: np.full(size, None, dtype=object) for name in SAMPLES}
    frame["sample"] = owners.sample.texts[order] if size else np.array([], dtype=object)
    for name in ("lab_sample", "parent", "station", "core", "collected"):
        column: Column = getattr(owners, name)
        texts = np.full(size, None, dtype=object)
        filled = np.flatnonzero(column.codes[rows] != 0)
        first, at = np.unique(codes[filled], return_index=True)
        texts[first] = column.texts[column.codes[rows[filled[at]]]]
        frame[name] = texts
    for name, values in (
        ("depth_top_cm", owners.top),
        ("depth_bottom_cm", owners.bottom),
        ("river_km", owners.river_km),
        ("latitude", owners.latitude),
        ("longitude", owners.longitude),
    ):
        numbers = np.full(size, np.nan)
        filled = np.flatnonzero(~np.isnan(values[rows]))
        first, at = np.unique(codes[filled], return_index=True)
        numbers[first] = values[rows[filled[at]]]
        frame[name] = numbers
    for name in ("solids_pct", "toc_pct", "fines_pct"):
        frame[name] = np.full(size, np.nan)
    return pd.DataFrame(frame, columns=SAMPLES), rows[np.unique(codes, return_index=True)[1]]


def _reasoned(verdicts: Verdicts, code: str) -> npt.NDArray[np.bool_]:
    own = np.array([text.partition(":")[0] == code for text in verdicts.reasons], dtype=bool)
    return own[verdicts.reason]
