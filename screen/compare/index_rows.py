"""Rows of the table of indices and their classes: in go blocks of figures, out comes the frame INDICES."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts
from screen.model import INDICES
from screen.reference.locate import read_table

__all__ = ["IndexRows", "as_frame", "class_of"]


@dataclass(frozen=True, slots=True)
class IndexRows:
    """One index for some samples. ``sample``: codes; figures of one length; texts of one length or one for all.

    ``classify`` false leaves the class empty where class limits do not apply as derived.
    """

    sample: Codes
    index: str
    substance: str | Texts
    value: Floats
    low: Floats
    high: Floats
    unit: str
    source: str | Texts
    members: str | Texts
    note: str | Texts
    classify: Flags | None = None
    evidence: str = ""


@cache
def _classes() -> pd.DataFrame:
    table = read_table("coefficients/index_classes.csv")
    for name in ("above", "up_to"):
        table[name] = pd.to_numeric(table[name].replace("", None)).astype(np.float64)
    return table


def class_of(index: str, value: Floats) -> tuple[Texts, Texts, Texts]:
    """Class, source and evidence of each value (None where the index has no classes or the value is missing).

    A value on a limit goes to the class that the data say: classes leave no gap.
    """
    own = _classes()
    own = own[own["index"] == index]
    shape = len(value)
    out = tuple(np.full(shape, None, dtype=object) for _ in range(3))
    for row in own.to_dict("records"):
        above = -np.inf if np.isnan(row["above"]) else row["above"]
        up_to = np.inf if np.isnan(row["up_to"]) else row["up_to"]
        # "upper": a limit belongs to the class below it, which it is the upper end of; "lower": to the class above it
        if row["limit_belongs_to"] == "upper":
            inside = (value > above) & (value <= up_to)
        else:
            inside = (value >= above) & (value < up_to)
        for texts, name in zip(out, ("class", "source", "evidence"), strict=True):
            texts[inside] = row[name]
    return out[0], out[1], out[2]


def as_frame(blocks: Sequence[IndexRows], samples: Texts, stations: Texts) -> pd.DataFrame:
    """All blocks as one frame with the columns INDICES, by sample, then in the order of the blocks."""
    parts = []
    for number, block in enumerate(blocks):
        classes, source, evidence = class_of(block.index, block.value)
        if block.classify is not None:
            classes[~block.classify] = None
        marks = np.array([mark or block.evidence or "from_memory" for mark in evidence], dtype=object)
        if block.evidence and _rank(block.evidence) > 0:
            marks = np.array([max(mark, block.evidence, key=_rank) for mark in marks], dtype=object)
        parts.append(
            pd.DataFrame(
                {
                    "_number": number,
                    "_sample": block.sample,
                    "index": block.index,
                    "substance": block.substance,
                    "value": block.value,
                    "low": block.low,
                    "high": block.high,
                    "unit": block.unit,
                    "class": classes,
                    "set_or_source": _sources(block.source, source),
                    "members": block.members,
                    "evidence": marks,
                    "note": block.note,
                }
            )
        )
    if not parts:
        return pd.DataFrame(columns=INDICES)
    table = pd.concat(parts, ignore_index=True).sort_values(["_sample", "_number"], kind="stable", ignore_index=True)
    sample = table["_sample"].to_numpy(dtype=np.int64)
    table = table.assign(sample=samples[sample], station=stations[sample])[INDICES]
    texts = [name for name in INDICES if name not in ("value", "low", "high")]
    return table.assign(**{name: table[name].replace("", None).astype("category") for name in texts})


def _rank(mark: str) -> int:
    marks = ("seen", "own", "from_memory", "conflict")
    return marks.index(mark) if mark in marks else 2


def _sources(own: str | Texts, classes: Texts) -> Texts:
    return np.array(
        [
            f"{first}; classes: {second}" if second else first
            for first, second in zip(
                np.broadcast_to(np.asarray(own, dtype=object), classes.shape), classes, strict=True
            )
        ],
        dtype=object,
    )
