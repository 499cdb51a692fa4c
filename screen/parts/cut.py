"""Which part each record of a batch belongs to: a gathered batch and a field record in, parts out.

Records of one sample stay together, and with them those of its field duplicates, laboratory duplicates and spikes.
Parts follow the order read and have a fixed number of records, whatever the machine, but for a sample that is larger.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import texts_of
from screen.parts.work import RECORDS
from screen.stages.read.records.owners import Owners

__all__ = ["Cut", "cut"]


@dataclass(frozen=True, slots=True)
class Cut:
    """``count`` parts. ``of_owner``: the part of each owner's records; ``of_sample``: that of each sample's name."""

    count: int
    of_owner: npt.NDArray[np.int32]
    of_sample: dict[str, int]

    def of_samples(self, names: npt.NDArray[np.object_]) -> npt.NDArray[np.int64]:
        """The part of each of some samples; one that has no record anywhere goes with the first part."""
        return np.array([self.of_sample.get(str(name), 0) for name in names], dtype=np.int64)


def cut(owners: Owners, records: npt.NDArray[np.int64], field: pd.DataFrame, size: int = RECORDS) -> Cut:
    """Cut a batch: ``records`` is the number of records of each owner, ``field`` the samples of the field record."""
    names = [str(text) for text in owners.sample.texts]
    place = {name: at for at, name in enumerate(names)}

    def node(name: str) -> int:
        if name not in place:
            place[name] = len(names)
            names.append(name)
        return place[name]

    sample = owners.sample.codes.astype(np.int64)
    having = np.flatnonzero(owners.parent.codes != 0)
    pairs = {(int(sample[at]), node(str(owners.parent.texts[owners.parent.codes[at]]))) for at in having}
    for own, parent in zip(texts_of(field["sample"]), texts_of(field["parent"]), strict=True):
        if own and parent:
            pairs.add((node(str(own)), node(str(parent))))
    group = _together(len(names), sorted(pairs))
    sizes = np.bincount(group[sample], weights=records, minlength=int(group.max(initial=0)) + 1)
    part_of = np.zeros(len(sizes), dtype=np.int64)
    part, filled = 0, 0.0
    for one in pd.unique(group[sample]):
        if filled and filled + sizes[one] > size:
            part, filled = part + 1, 0.0
        part_of[one] = part
        filled += float(sizes[one])
    of_sample = dict(zip(names, part_of[group].tolist(), strict=True))
    return Cut(part + 1, part_of[group[sample]].astype(np.int32), of_sample)


def _together(count: int, pairs: list[tuple[int, int]]) -> npt.NDArray[np.int64]:
    """For each of ``count`` places the first of those that ``pairs`` tie it to, itself where there is none."""
    first = list(range(count))

    def root(one: int) -> int:
        while first[one] != one:
            first[one] = first[first[one]]
            one = first[one]
        return one

    for one, other in pairs:
        low, high = sorted((root(one), root(other)))
        first[high] = low
    return np.array([root(one) for one in range(count)], dtype=np.int64)
