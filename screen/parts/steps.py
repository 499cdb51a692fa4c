"""The two steps that every part of a batch goes through. Each asks for its own part and what all parts share.

First step: records in, what became of them out (``decide_part``). Second step: results on dry weight, sums, findings,
checks and indices (``screen_part``). Both leave frames on a shelf, and may run in another process or on another
machine that sees the shelf.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import coded, lean, recoded, texts_of
from screen.model import QUALITY, Batch
from screen.order import by_sample
from screen.parts.kept import Kept, Shelf
from screen.reference.rules import sum_rules
from screen.stages.compare.findings.findings import compare
from screen.stages.compare.indices.background import Background
from screen.stages.compare.indices.indices import indices
from screen.stages.compare.places.observations import observe
from screen.stages.compare.quality.quality import quality_of_samples
from screen.stages.compare.quality.units import reported_units, values_by_unit
from screen.stages.normalise import normalised
from screen.stages.normalise.carbon import CARBON
from screen.stages.normalise.moisture import WATER_FIGURES
from screen.stages.read.decide.grouped import Told
from screen.stages.read.decide.plausible import Usual, by_substance, figures_above_zero
from screen.stages.read.deciding import Outcome, decide, tell_of_units
from screen.stages.read.field.places import placed
from screen.stages.read.frames import Frames
from screen.stages.read.gathering import Lot
from screen.stages.sums import total

if TYPE_CHECKING:
    from screen.reference.names import NameBook
    from screen.reference.sets import GuidelineSet
    from screen.settings import Settings
    from screen.stages.read.cells.grid import Grid
    from screen.stages.read.gathering import Gathered
    from screen.stages.read.records.owners import Owners

__all__ = [
    "Deciding",
    "Known",
    "Own",
    "Shared",
    "decide_part",
    "decided",
    "part_batch",
    "screen_part",
    "screened_name",
]

Ints = npt.NDArray[np.int64]
_FINES = ("Fines", "Silt", "Clay")
#: What is wanted of samples before they are compared: water, carbon, grain size, and the metals of the reference.
_EARLY = (*WATER_FIGURES, CARBON, *_FINES)


def decided(part: int) -> str:
    """The name of the first step of a part."""
    return f"decided.{part:05}"


def screened_name(part: int) -> str:
    """The name of the second step of a part."""
    return f"screened.{part:05}"


# --- first step -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Deciding:
    """What the first step of any part must know: ``gathered`` is for parts, without owners."""

    gathered: Gathered
    settings: Settings
    book: NameBook
    shelf: Shelf


def decide_part(part: int, known: Deciding, lot: Lot, which: Ints, owners: Owners, rest: pd.DataFrame) -> None:
    """Decide on the records of a lot and keep what became of them.

    ``owners`` are those of the part and ``which`` their numbers in the batch, rising; ``rest`` are the cells of no
    record that the ledger of this part tells of.
    """
    lot = Lot(lot.records, np.searchsorted(which, lot.owner).astype(np.int32), lot.places)
    outcome = decide(known.gathered, lot, owners, rest, known.settings, known.book)
    frames = outcome.frames
    figures = by_substance(figures_above_zero(frames.results))
    wanted = frames.results["substance"].isin(_EARLY) | (frames.results["group"] == "metal")
    early = frames.results[wanted.to_numpy()].reset_index(drop=True)
    known.shelf.put(
        decided(part),
        {
            "results": frames.results,
            "lab_totals": frames.lab_totals,
            "qc": frames.qc,
            "refused": frames.refused,
            "samples": frames.samples,
            "ledger": outcome.ledger,
            "early": early,
            "blanks": frames.qc[(frames.qc["qc_kind"] == "method-blank").to_numpy(dtype=bool)],
            "units": reported_units(frames.results),
        },
        {f"places_{name}": places for name, places in outcome.places.items()}
        | {
            "grids": outcome.result_grids,
            "entries": outcome.entries,
            "figures": np.concatenate([np.zeros(0), *(values for values, _ in figures.values())]),
        },
        {
            "told": outcome.told.as_plain(),
            "answers": sorted(outcome.answers_used),
            "figures": [[name, len(values), dict(units)] for name, (values, units) in figures.items()],
        },
    )


def _outcome(kept: Kept) -> Outcome:
    frames = {name: kept.frames[name].whole() for name in _FRAMES}
    places = {name: np.asarray(kept.arrays[f"places_{name}"]) for name in _FRAMES}
    return Outcome(
        Frames(**frames, rows={}),
        places,
        np.asarray(kept.arrays["grids"]),
        kept.frames["ledger"].whole(),
        np.asarray(kept.arrays["entries"]),
        Told.from_plain(kept.about["told"]),
        set(kept.about["answers"]),
    )


_FRAMES = ("results", "lab_totals", "qc", "refused", "samples")


def part_batch(
    places: Batch, results: pd.DataFrame, lab_totals: pd.DataFrame, qc: pd.DataFrame, samples: pd.DataFrame
) -> Batch:
    """The batch of a part at the stations and cores of ``places``; its ledger stands elsewhere."""
    nothing = results.iloc[:0]
    return Batch(results, lab_totals, qc, nothing, samples, places.stations, places.cores, nothing)


# --- second step ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Shared:
    """What the second step of any part must know of the whole batch; ``places`` has its stations and cores."""

    settings: Settings
    places: Batch
    sets: Sequence[GuidelineSet]
    rules: Sequence[str]
    background: Background
    blanks: pd.DataFrame
    usual: Usual
    several: frozenset[str]
    sheets: Sequence[Grid]
    shelf: Shelf


@dataclass(frozen=True, slots=True)
class Own:
    """What the second step of one part is told of its own.

    ``samples`` by place and depth, ``assigned`` the sets of each; ``names`` are these samples and the ids that are none
    of a field sample, ``ranks`` where each stands in the order of the tables; ``ids``: result_id of each result.
    """

    samples: pd.DataFrame
    assigned: pd.DataFrame
    names: Sequence[str]
    ranks: Ints
    ids: Ints


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of the whole batch before the second step: ``shared``, and what is cut into parts.

    ``samples`` are all of them, by place and depth, ``of_sample`` the part of each; ``others`` are ids of samples that
    are no field samples, ``of_other`` their parts; ``assigned``: sample, set, with the part of each row.
    """

    shared: Shared
    samples: pd.DataFrame
    of_sample: Ints
    others: Sequence[str]
    of_other: Ints
    assigned: pd.DataFrame
    of_assigned: Ints

    def own(self, part: int, ids: npt.NDArray[np.int32]) -> Own:
        """What one part is told of its own; ``ids``: result_id by place."""
        here, there = np.flatnonzero(self.of_sample == part), np.flatnonzero(self.of_other == part)
        samples = lean(self.samples.iloc[here])
        return Own(
            samples,
            lean(self.assigned.iloc[np.flatnonzero(self.of_assigned == part)]),
            [*texts_of(samples["sample"]), *(self.others[at] for at in there.tolist())],
            np.concatenate([here, len(self.samples) + there]),
            ids[self.shared.shelf.get(decided(part)).arrays["places_results"]].astype(np.int64),
        )


def screen_part(part: int, known: Shared, own: Own) -> None:
    """Bring a part to dry weight, sum, compare and check it, and keep its tables."""
    outcome = _outcome(known.shelf.get(decided(part)))
    frames, settings, samples = outcome.frames, known.settings, own.samples
    told = tell_of_units(outcome, figures_above_zero(frames.results), known.usual, known.sheets)
    batch, notices = normalised(
        part_batch(
            known.places,
            placed(frames.results.assign(result_id=own.ids), samples),
            placed(frames.lab_totals, samples),
            placed(frames.qc, samples),
            samples,
        ),
        settings,
        known.blanks,
    )
    totals = total(batch.results, sum_rules(), nondetects=known.rules, lab_totals=batch.lab_totals)
    findings = compare(
        batch.results,
        totals,
        known.sets,
        samples=batch.samples,
        assigned=own.assigned,
        refused=frames.refused,
        duplicates=settings.duplicates,
        nondetects=settings.nondetects,
    )
    checks = quality_of_samples(batch, totals, findings, known.sets, settings).reindex(columns=QUALITY)
    nameless = checks["sample"].isna().to_numpy()
    seen = observe(batch, totals)
    tables = {
        "totals": by_sample(totals, samples, ("total", "rule")),
        "findings": by_sample(findings, samples, ("group", "substance", "set", "total")),
        "indices": by_sample(
            indices(batch, totals, known.sets, settings, known.background),
            samples,
            ("index", "substance", "set_or_source"),
        ),
        "quality": by_sample(checks[~nameless], samples, ("check", "substance", "file", "sheet", "row")),
    }
    ledger = outcome.ledger.assign(result_id=_numbered(outcome.ledger["result_id"], own.ids))
    used = batch.results[batch.results["used"].to_numpy(dtype=bool)]
    known.shelf.put(
        screened_name(part),
        tables
        | {
            "results": batch.results,
            "ledger": ledger,
            "lab_totals": batch.lab_totals,
            "qc": batch.qc,
            "refused": frames.refused,
            "nameless": checks[nameless],
            "units": values_by_unit(batch.results, known.several),
            "methods": used[["station", "substance", "method", "used"]].drop_duplicates(),
            "seen_samples": seen.samples[["sample"]],
            "seen_measures": seen.measures,
        },
        {name: _ranks(table["sample"], own) for name, table in tables.items()}
        | {name: outcome.places[name] for name in ("results", "lab_totals", "qc", "refused")}
        | {"ledger": outcome.entries}
        | {f"seen_{name}": getattr(seen, name) for name in _SEEN},
        {
            "notices": [one.placed_at(own.ids).as_plain() for one in notices],
            "told": told.as_plain(),
            "counts": _counts(batch, ledger),
            "stations": sorted(set(texts_of(batch.results["station"])) - {""}),
            "conserved": _conserved(batch.results, ledger),
        },
    )


_SEEN = ("sample", "measure", "value", "low", "high", "detected", "partial")


def _numbered(own: pd.Series, ids: Ints) -> Any:
    """The result_id of each entry from its number within the part; missing stays missing."""
    none = own.isna().to_numpy()
    place = own.to_numpy(dtype=np.int64, na_value=0)
    return pd.arrays.IntegerArray(np.append(0, ids)[place], none)


def _ranks(names: pd.Series, own: Own) -> Ints:
    """The place of each sample in the order of the tables; those of no field sample come last."""
    place = recoded(names, own.names)
    return np.append(own.ranks, -1)[place]


def _counts(batch: Batch, ledger: pd.DataFrame) -> dict[str, int]:
    codes, words = coded(ledger["became"])
    became = np.bincount(codes[codes >= 0], minlength=len(words))
    return {
        "cells": int(np.nansum(ledger["cells"].to_numpy(dtype=np.float64))),
        "results": len(batch.results),
        "used": int(batch.results["used"].to_numpy(dtype=bool).sum()),
        "samples": int(batch.results["sample"].nunique()),
        **{str(word).replace("-", "_"): int(count) for word, count in zip(words, became, strict=True)},
    } | {"result": 0}


def _conserved(results: pd.DataFrame, ledger: pd.DataFrame) -> bool:
    """Whether each result has one entry in the ledger, and used and set aside are all."""
    entries = ledger.loc[(ledger["became"] == "result").to_numpy(), "result_id"].to_numpy(dtype=np.int64, na_value=-1)
    in_order = np.sort(results["result_id"].to_numpy(dtype=np.int64))
    one_entry_each = bool(np.array_equal(np.sort(entries), in_order)) and not (in_order[1:] == in_order[:-1]).any()
    reasons_fit = bool((results["used"].to_numpy(dtype=bool) == results["why_not"].isna().to_numpy()).all())
    return one_entry_each and reasons_fit
