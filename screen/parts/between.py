"""What the whole batch must know between the two steps of its parts. In: what the first step left. Out: small frames.

``between`` puts together what the parts told; ``figures_of_part`` works out the early figures of the samples of one
part (solids, carbon, fines, metals of the reference) and ``figures_of_samples`` puts those of all together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import lean, texts_of
from screen.model import Batch
from screen.order import by_sample
from screen.parts.kept import Kept, Shelf
from screen.parts.merged import under
from screen.parts.steps import decided, part_batch
from screen.reference.rules import sum_rules
from screen.stages.compare.findings.source import source_of
from screen.stages.compare.indices.background import (
    REFERENCE_COLUMNS,
    Background,
    background_of,
    reference_figures,
)
from screen.stages.compare.quality.units import in_several_units
from screen.stages.normalise import normalised
from screen.stages.read.decide.grouped import Told
from screen.stages.read.decide.plausible import Usual, usual_figures
from screen.stages.read.field.places import placed
from screen.stages.sums import total

if TYPE_CHECKING:
    from screen.settings import Settings

__all__ = ["Between", "Early", "Places", "between", "figures_of_part", "figures_of_samples", "in_order"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Between:
    """What all parts told after the first step.

    ``samples`` are those of the sheets in the order met, ``blanks`` the method blanks; ``ids`` gives the result_id of a
    record by its place, 0 for none; ``several`` are substances that are reported in several units.
    """

    samples: pd.DataFrame
    blanks: pd.DataFrame
    ids: npt.NDArray[np.int32]
    told: Told
    answers_used: set[int]
    usual: Usual
    several: frozenset[str]


def between(parts: Sequence[Kept], records: int) -> Between:
    """Put together what the first step left of all ``parts``, of a batch of so many ``records``."""
    met = np.concatenate([kept.arrays["places_samples"] for kept in parts])
    samples = under([kept.frames["samples"].whole().astype(object) for kept in parts])
    is_result = np.zeros(records, dtype=bool)
    for kept in parts:
        is_result[kept.arrays["places_results"]] = True
    ids = np.cumsum(is_result, dtype=np.int32)
    ids[~is_result] = 0
    return Between(
        samples.iloc[np.argsort(met, kind="stable")].reset_index(drop=True),
        under([kept.frames["blanks"].whole() for kept in parts]),
        ids,
        Told.together(Told.from_plain(kept.about["told"]) for kept in parts),
        {place for kept in parts for place in kept.about["answers"]},
        usual_figures([_figures(kept) for kept in parts]),
        in_several_units([kept.frames["units"].whole() for kept in parts]),
    )


def _figures(kept: Kept) -> dict[str, tuple[npt.NDArray[np.float64], Counter[str]]]:
    found, start = {}, 0
    values = kept.arrays["figures"]
    for name, count, units in kept.about["figures"]:
        found[name] = (values[start : start + count], Counter(units))
        start += count
    return found


@dataclass(frozen=True, slots=True)
class Early:
    """What the early figures of any part ask for: ``places`` is a batch without rows, with stations and cores."""

    settings: Settings
    places: Batch
    blanks: pd.DataFrame
    shelf: Shelf


_FIGURES = ("solids_pct", "toc_pct", "fines_pct")


def figures_of_part(part: int, known: Early, samples: pd.DataFrame) -> tuple[dict[str, Floats], Floats]:
    """The solids, carbon and fines that are used for each of ``samples``, those of the part, and what those of the
    reference give to the background, one row each."""
    early = placed(known.shelf.get(decided(part)).frames["early"].whole(), samples)
    batch = part_batch(known.places, early, early.iloc[:0], early.iloc[:0], samples)
    made, _ = normalised(batch, known.settings, known.blanks)
    filled = {name: made.samples[name].to_numpy(dtype=np.float64) for name in _FIGURES}
    reference = np.asarray(texts_of(samples["role"]) == "reference", dtype=bool)
    if not reference.any():
        return filled, np.zeros((0, REFERENCE_COLUMNS))
    names, parents = texts_of(made.samples["sample"]), texts_of(made.samples["parent"])
    source = source_of(made.results, total(made.results.iloc[:0], sum_rules()), None, names, sum_rules())
    return filled, reference_figures(source, reference, filled["fines_pct"], parents)


@dataclass(frozen=True, slots=True)
class Places:
    """The samples of a batch by place and depth, with the part of each."""

    samples: pd.DataFrame
    of_part: Ints

    def at(self, part: int) -> pd.DataFrame:
        """The samples of a part."""
        return lean(self.samples[self.of_part == part])


def in_order(samples: pd.DataFrame, of_sample: Ints) -> Places:
    """The samples of a batch by place and depth; ``of_sample`` is the part of each."""
    ordered = by_sample(samples.assign(_part=of_sample), samples, ())
    return Places(ordered, ordered.pop("_part").to_numpy())


def figures_of_samples(
    places: Places, found: Sequence[tuple[dict[str, Floats], Floats]], settings: Settings
) -> tuple[pd.DataFrame, Background]:
    """The samples with what ``figures_of_part`` gave for each part, and the background of the batch."""
    samples = places.samples
    filled = {name: samples[name].to_numpy(dtype=np.float64).copy() for name in _FIGURES}
    own = np.full((len(samples), REFERENCE_COLUMNS), np.nan)
    reference = np.asarray(texts_of(samples["role"]) == "reference", dtype=bool)
    for part, (figures, of_reference) in enumerate(found):
        here = np.flatnonzero(places.of_part == part)
        for name, values in filled.items():
            values[here] = figures[name]
        own[here[reference[here]]] = of_reference
    return samples.assign(**filled), background_of(own[reference], settings.background)
