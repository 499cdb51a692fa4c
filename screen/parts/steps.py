"""The two steps that every part of a batch goes through, and what the whole batch must know between them.

First step: records in, what became of them out (``decide_part``). Between: ``between`` puts the samples together.
Second step: results on dry weight, sums, findings, checks and indices (``screen_part``). Both leave frames on a shelf.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import coded, recoded, texts_of
from screen.model import QUALITY, Batch
from screen.order import by_sample
from screen.parts.kept import Kept, Shelf
from screen.parts.merged import under
from screen.reference.rules import sum_rules
from screen.stages.compare.findings.findings import compare
from screen.stages.compare.findings.source import source_of
from screen.stages.compare.indices.background import (
    REFERENCE_COLUMNS,
    Background,
    background_of,
    reference_figures,
)
from screen.stages.compare.indices.indices import indices
from screen.stages.compare.places.observations import observe
from screen.stages.compare.quality.quality import quality_of_samples
from screen.stages.compare.quality.units import in_several_units, reported_units, values_by_unit
from screen.stages.normalise import normalised
from screen.stages.normalise.carbon import CARBON
from screen.stages.normalise.moisture import WATER_FIGURES
from screen.stages.read.decide.grouped import Told
from screen.stages.read.decide.plausible import Usual, by_substance, figures_above_zero, usual_figures
from screen.stages.read.deciding import Outcome, decide, tell_of_units
from screen.stages.read.field.places import placed
from screen.stages.read.frames import Frames
from screen.stages.sums import total

if TYPE_CHECKING:
    from screen.reference.names import NameBook
    from screen.reference.sets import GuidelineSet
    from screen.settings import Settings
    from screen.stages.read.cells.grid import Grid
    from screen.stages.read.gathering import Gathered
    from screen.stages.read.joining import Joined

__all__ = [
    "Between",
    "Known",
    "between",
    "decide_part",
    "decided",
    "figures_of_samples",
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


def decide_part(
    part: int, gathered: Gathered, places: Ints | None, settings: Settings, book: NameBook, shelf: Shelf
) -> None:
    """Decide on the records at ``places`` (all without them) and keep what became of them."""
    rest = gathered.rest if part == 0 else gathered.rest.iloc[:0]
    outcome = decide(gathered, places, rest, settings, book)
    frames = outcome.frames
    figures = by_substance(figures_above_zero(frames.results))
    wanted = frames.results["substance"].isin(_EARLY) | (frames.results["group"] == "metal")
    early = frames.results[wanted.to_numpy()].reset_index(drop=True)
    shelf.put(
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


# --- between ----------------------------------------------------------------------------------------------------------


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


def figures_of_samples(
    parts: Sequence[Kept], of_sample: Ints, joined: Joined, settings: Settings, blanks: pd.DataFrame
) -> tuple[pd.DataFrame, Background]:
    """The samples with the solids, carbon and fines that are used, and the background of the batch.

    ``of_sample`` is the part of each sample of ``joined``. The samples come by place and depth.
    """
    samples = by_sample(joined.samples.assign(_part=of_sample), joined.samples, ())
    of_part = samples.pop("_part").to_numpy()
    filled = {name: samples[name].to_numpy(dtype=np.float64).copy() for name in ("solids_pct", "toc_pct", "fines_pct")}
    own = np.full((len(samples), REFERENCE_COLUMNS), np.nan)
    reference = np.asarray(texts_of(samples["role"]) == "reference", dtype=bool)
    for part, kept in enumerate(parts):
        here = np.flatnonzero(of_part == part)
        early = placed(kept.frames["early"].whole(), samples)
        own_batch = _batch(early, early.iloc[:0], early.iloc[:0], samples.iloc[here], joined)
        made, _ = normalised(own_batch, settings, blanks)
        for name, values in filled.items():
            values[here] = made.samples[name].to_numpy(dtype=np.float64)
        if reference[here].any():
            names = texts_of(made.samples["sample"])
            source = source_of(made.results, total(made.results.iloc[:0], sum_rules()), None, names, sum_rules())
            parents = texts_of(made.samples["parent"])
            own[here[reference[here]]] = reference_figures(source, reference[here], filled["fines_pct"][here], parents)
    return samples.assign(**filled), background_of(own[reference], settings.background)


def _batch(
    results: pd.DataFrame, lab_totals: pd.DataFrame, qc: pd.DataFrame, samples: pd.DataFrame, joined: Joined
) -> Batch:
    nothing = results.iloc[:0]
    return Batch(
        results, lab_totals, qc, nothing, samples.reset_index(drop=True), joined.stations, joined.cores, nothing
    )


# --- second step ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Known:
    """What the second step must know of the whole batch.

    ``samples`` are all of them, by place and depth, ``of_sample`` the part of each; ``others`` are ids of samples that
    are no field samples.
    """

    settings: Settings
    joined: Joined
    samples: pd.DataFrame
    others: Sequence[str]
    of_sample: Ints
    sets: Sequence[GuidelineSet]
    assigned: pd.DataFrame
    rules: Sequence[str]
    background: Background
    blanks: pd.DataFrame
    usual: Usual
    several: frozenset[str]
    sheets: Sequence[Grid]


def screen_part(part: int, ids: npt.NDArray[np.int32], known: Known, shelf: Shelf) -> None:
    """Bring a part to dry weight, sum, compare and check it, and keep its tables. ``ids``: result_id by place."""
    outcome = _outcome(shelf.get(decided(part)))
    frames, settings = outcome.frames, known.settings
    own_ids = ids[outcome.places["results"]].astype(np.int64)
    samples = known.samples[known.of_sample == part].reset_index(drop=True)
    told = tell_of_units(outcome, figures_above_zero(frames.results), known.usual, known.sheets)
    batch, notices = normalised(
        _batch(
            placed(frames.results.assign(result_id=own_ids), samples),
            placed(frames.lab_totals, samples),
            placed(frames.qc, samples),
            samples,
            known.joined,
        ),
        settings,
        known.blanks,
    )
    assigned = known.assigned[recoded(known.assigned["sample"], texts_of(samples["sample"])) >= 0]
    totals = total(batch.results, sum_rules(), nondetects=known.rules, lab_totals=batch.lab_totals)
    findings = compare(
        batch.results,
        totals,
        known.sets,
        samples=batch.samples,
        assigned=assigned,
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
    ledger = outcome.ledger.assign(result_id=_numbered(outcome.ledger["result_id"], own_ids))
    used = batch.results[batch.results["used"].to_numpy(dtype=bool)]
    shelf.put(
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
        {name: _ranks(table["sample"], known) for name, table in tables.items()}
        | {name: outcome.places[name] for name in ("results", "lab_totals", "qc", "refused")}
        | {"ledger": outcome.entries}
        | {f"seen_{name}": getattr(seen, name) for name in _SEEN},
        {
            "notices": [one.placed_at(own_ids).as_plain() for one in notices],
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


def _ranks(names: pd.Series, known: Known) -> Ints:
    """The place of each sample in the order of the tables; those of no field sample come last."""
    return recoded(names, [*texts_of(known.samples["sample"]), *known.others])


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
