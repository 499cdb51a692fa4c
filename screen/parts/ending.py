"""What only the whole batch can tell once every part is screened: places, cores, ranking, change, and the record.

In: the second steps of all parts. Out: a run without its largest tables, and those tables in pieces.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from screen.model import Batch, Problem, Run
from screen.order import by_place, by_sample
from screen.parts.kept import Kept, Rows
from screen.parts.merged import Pieces, under
from screen.stages.compare.places.change import compare_runs
from screen.stages.compare.places.comparisons import compare_places
from screen.stages.compare.places.cores import summarise_cores
from screen.stages.compare.places.cuts import compare_cuts
from screen.stages.compare.places.observations import Observations, together
from screen.stages.compare.places.ranking import rank_stations
from screen.stages.compare.places.reach import summarise_reach
from screen.stages.compare.places.stations import summarise_stations
from screen.stages.compare.places.trends import along_the_river
from screen.stages.compare.quality.rows import stacked_checks
from screen.stages.compare.quality.units import unit_slips

if TYPE_CHECKING:
    from screen.parts.steps import Known

__all__ = ["conserved", "pieces_of", "run_of"]

#: Tables that are never needed whole before they are written.
_IN_PIECES = ("results", "totals", "indices", "quality", "ledger", "lab_totals", "qc", "refused")
_LAST = np.iinfo(np.int64).max


def pieces_of(parts: Sequence[Kept], known: Known, field: pd.DataFrame) -> dict[str, Pieces]:
    """The large tables; ``field`` is the ledger of the field record, which comes last."""
    pieces = {
        name: Pieces([kept.frames[name] for kept in parts], [np.asarray(kept.arrays[name]) for kept in parts])
        for name in _IN_PIECES
    }
    if len(field):
        pieces["ledger"].rows.append(Rows(field))
        pieces["ledger"].numbers.append(np.full(len(field), _LAST))
    slips = unit_slips(pd.concat([kept.frames["units"].whole() for kept in parts], ignore_index=True))
    nameless = stacked_checks([*(kept.frames["nameless"].whole() for kept in parts), slips])
    if len(nameless):
        ordered = by_sample(nameless, known.samples, ("check", "substance", "file", "sheet", "row"))
        pieces["quality"].rows.append(Rows(ordered))
        pieces["quality"].numbers.append(np.full(len(ordered), _LAST))
    return pieces


def conserved(parts: Sequence[Kept], batch: Batch, field: pd.DataFrame) -> bool:
    """Whether the cells of all parts add up to those that were read, and every part accounts for its results."""
    cells = sum(int(kept.about["counts"]["cells"]) for kept in parts)
    of_field = int(np.nansum(field["cells"].to_numpy(dtype=np.float64)))
    return cells + of_field == batch.cells and all(kept.about["conserved"] for kept in parts)


def run_of(
    parts: Sequence[Kept], known: Known, batch: Batch, pieces: dict[str, Pieces], problems: tuple[Problem, ...]
) -> Run:
    """The run, without the rows of ``pieces`` and without its record."""
    settings, sets = known.shared.settings, known.shared.sets
    findings = _findings(parts)
    totals = pieces["totals"].whole(("sample", "total", "complete"))
    observed = _observed(parts, known.samples)
    stations = summarise_stations(batch, totals, observed=observed)
    cores = summarise_cores(batch, totals, settings, observed=observed)
    methods = under([kept.frames["methods"].whole() for kept in parts])
    empty: dict[str, Any] = {name: pieces[name].rows[0].at(slice(0, 0)) for name in pieces}
    of_batch = {name: empty.pop(name) for name in ("results", "ledger", "lab_totals", "qc", "refused")}
    return Run(
        settings=settings,
        batch=dataclasses.replace(batch, problems=problems, **of_batch),
        sets=tuple(sets),
        assigned=known.assigned,
        findings=findings,
        stations=by_place(stations, batch.stations, ("layer", "substance")),
        reach=summarise_reach(batch, totals, settings, observed=observed),
        cores=by_place(cores, batch.stations, ("core", "substance")),
        change=compare_runs(settings.earlier, stations, methods) if settings.earlier is not None else None,
        problems=problems,
        record={},
        cuts=compare_cuts(batch, totals, cores, findings, sets, known.assigned, settings),
        comparisons=compare_places(batch, totals, settings, observed=observed),
        trends=along_the_river(batch, totals, settings, observed=observed),
        ranking=rank_stations(findings, totals, batch.samples, [one.id for one in sets]),
        **empty,
    )


def _findings(parts: Sequence[Kept]) -> pd.DataFrame:
    return Pieces(
        [kept.frames["findings"] for kept in parts], [np.asarray(kept.arrays["findings"]) for kept in parts]
    ).whole()


def _observed(parts: Sequence[Kept], samples: pd.DataFrame) -> Observations:
    """The observations of all parts, one column read at a time."""
    return together(
        [kept.frames["seen_samples"].whole() for kept in parts],
        [kept.frames["seen_measures"].whole() for kept in parts],
        lambda name: [np.asarray(kept.arrays[f"seen_{name}"]) for kept in parts],
        samples,
    )
