"""Rows of the table of indices and their classes: in go blocks of figures, out comes the frame INDICES."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts, by_code, spread, stacked
from screen.model import INDICES
from screen.reference.locate import read_table
from screen.stages.compare.findings.levels import EVIDENCE

__all__ = ["IndexRows", "as_frame", "class_of", "weakest"]


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


def class_of(index: str, value: Floats) -> tuple[Codes, pd.DataFrame]:
    """Which class each value is in (-1 for none), as rows of the second: class, source and evidence of ``index``.

    Classes are listed upwards and leave no gap: each begins where the one before ends, and a value on that limit goes
    to the one of the two that the data say.
    """
    own = _classes()
    own = own[own["index"] == index]
    place = np.full(len(value), -1, dtype=np.int64)
    for at, (top, belongs_to) in enumerate(zip(own["up_to"], own["limit_belongs_to"], strict=True)):
        # "upper": the limit belongs to this class, whose upper end it is; "lower": to the next, whose lower end it is
        below = np.where(_tie(value, top), belongs_to == "upper", value < top)
        inside = ~np.isnan(value) if np.isnan(top) else below
        place[inside & (place < 0)] = at
    return place, own


def _tie(value: Floats, limit: float) -> Flags:
    """Values that are a limit but for the last digits of the arithmetic (contract 2: within 1e-9)."""
    with np.errstate(invalid="ignore"):
        return np.asarray(np.abs(value - limit) <= 1e-9 * max(1.0, abs(limit)))


def as_frame(blocks: Sequence[IndexRows], samples: Texts, stations: Texts) -> pd.DataFrame:
    """All blocks as one frame with the columns INDICES, by sample, then in the order of the blocks."""
    if not blocks:
        return pd.DataFrame(columns=INDICES)
    sample = np.concatenate([block.sample for block in blocks])
    order = by_code(sample)
    texts = [_texts(block) for block in blocks]
    columns: dict[str, Floats | pd.Categorical] = {
        "sample": spread(sample[order], samples),
        "station": spread(sample[order], stations),
    }
    for name in ("value", "low", "high"):
        columns[name] = np.concatenate([getattr(block, name) for block in blocks])[order]
    for name in texts[0]:
        codes, distinct = stacked([one[name] for one in texts])
        columns[name] = spread(codes[order], distinct)
    return pd.DataFrame(columns)[INDICES]


def _texts(block: IndexRows) -> dict[str, tuple[Codes, Texts]]:
    """The text columns of one block, as codes and texts."""
    place, own = class_of(block.index, block.value)
    shown = place if block.classify is None else np.where(block.classify, place, -1)
    place = np.where(place < 0, len(own), place)  # the last text is that of no class
    marks = [_weaker(mark, block.evidence) for mark in [*own["evidence"], ""]]
    source, sources = _coded(block.source, len(place))
    classified = [*(f"; classes: {one}" if one else "" for one in own["source"]), ""]
    both = [f"{first}{second}" for first in sources for second in classified]
    return {
        "index": _coded(block.index, len(place)),
        "substance": _coded(block.substance, len(place)),
        "unit": _coded(block.unit, len(place)),
        "class": (shown, own["class"].to_numpy(dtype=object)),
        "set_or_source": (source * len(classified) + place, np.array(both, dtype=object)),
        "members": _coded(block.members, len(place)),
        "evidence": (place, np.array(marks, dtype=object)),
        "note": _coded(block.note, len(place)),
    }


def _coded(text: str | Texts, rows: int) -> tuple[Codes, Texts]:
    if isinstance(text, str):
        return np.zeros(rows, dtype=np.int64), np.array([text], dtype=object)
    codes, texts = pd.factorize(text)
    return codes.astype(np.int64), texts


def weakest(marks: Iterable[str]) -> str:
    """The weakest of evidence marks, "" for none."""
    return max((mark for mark in marks if mark), key=_rank, default="")


def _weaker(of_class: str, own: str) -> str:
    """The weaker mark of a class and of the coefficients behind the value; without any, from memory."""
    return weakest([of_class or own or "from_memory", own])


def _rank(mark: str) -> int:
    return EVIDENCE.index(mark) if mark in EVIDENCE else EVIDENCE.index("from_memory")
