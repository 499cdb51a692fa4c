"""The stages in their order: paths and settings in, a finished run out, and its folder written.

Only this module knows the order of the stages. It opens nothing and prints nothing itself.
"""

from __future__ import annotations

import dataclasses
import datetime
import os
import platform
import time
from collections.abc import Callable, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from screen.model import FINDING_ORDER, Problem, Run
from screen.settings import Settings

if TYPE_CHECKING:
    import pandas as pd

    from screen.model import Batch
    from screen.reference.sets import GuidelineSet

__all__ = [
    "SCHEMA_VERSION",
    "InternalError",
    "NothingReadError",
    "report",
    "run",
    "run_stages",
    "tool_version",
    "write_run",
]

SCHEMA_VERSION = "1.0"
Progress = Callable[[str], None]
_LIBRARIES = ("pandas", "numpy", "scipy", "openpyxl", "python-calamine", "jinja2", "click", "pyarrow")


class InternalError(RuntimeError):
    """Something that can only be a fault of the tool; the run stops and asks to be reported."""


class NothingReadError(ValueError):
    """No result row could be read from any input, so there is nothing to write. ``problems`` says why."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("no result could be read")
        self.problems = tuple(problems)


def run(
    paths: Path | str | Sequence[Path | str], out: Path | str | None = None, settings: Settings | None = None
) -> Run:
    """Do the whole job: screen the sheets under ``paths`` and, with ``out``, write the folder that the command writes.

    Raises what ``run_stages`` raises, and OutputRefusedError (of ``screen.output``) for a folder that is not ours to
    fill; without ``settings`` the defaults hold.
    """
    from screen.output import check_output, whole_folder
    from screen.stages.report.extras import check_extras

    chosen = settings or Settings()
    folder = None if out is None else Path(out)
    if folder is not None:
        check_extras(chosen)
        check_output(folder, overwrite=chosen.overwrite)
    finished = run_stages(paths, chosen)
    if folder is not None:
        with whole_folder(folder, overwrite=chosen.overwrite) as work:
            write_run(finished, work)
    return finished


def run_stages(paths: Path | str | Sequence[Path | str], settings: Settings, progress: Progress | None = None) -> Run:
    """Read, normalise, sum and compare the sheets under ``paths``.

    Raises NothingReadError when no result row was read at all, SetError (of ``screen.reference.sets``) for a guideline
    set that does not exist or is not in order, SettingsError for an outline, a cut or an earlier run that cannot be
    used, and InternalError when the cells do not add up.
    """
    from screen.order import by_place, by_sample
    from screen.reference.rules import sum_rules
    from screen.stages.compare.assign import assign_sets
    from screen.stages.compare.change import compare_runs
    from screen.stages.compare.comparisons import compare_places
    from screen.stages.compare.cores import elevations, summarise_cores
    from screen.stages.compare.cuts import compare_cuts
    from screen.stages.compare.findings import compare
    from screen.stages.compare.indices import indices
    from screen.stages.compare.observations import observe
    from screen.stages.compare.quality import quality
    from screen.stages.compare.ranking import rank_stations
    from screen.stages.compare.reach import summarise_reach
    from screen.stages.compare.stations import summarise_stations
    from screen.stages.compare.trends import along_the_river
    from screen.stages.normalise import normalise
    from screen.stages.read.batch import read
    from screen.stages.sums import total

    began, started = time.perf_counter(), _now()
    say = progress or (lambda _: None)
    batch = read(paths, settings, progress=progress)
    if batch.results.empty:
        raise NothingReadError(batch.problems)
    say("bringing results to dry weight and standard units")
    batch = normalise(batch, settings)
    batch = dataclasses.replace(batch, samples=by_sample(batch.samples, batch.samples, ()))
    batch = dataclasses.replace(batch, samples=batch.samples.assign(**elevations(batch, settings)))
    sets, assigned, notices = assign_sets(batch.samples, settings)
    say("making sums and comparing")
    totals = total(batch.results, sum_rules(), nondetects=rules_in_use(sets, settings), lab_totals=batch.lab_totals)
    findings = compare(
        batch.results,
        totals,
        sets,
        samples=batch.samples,
        assigned=assigned,
        refused=batch.refused,
        duplicates=settings.duplicates,
        nondetects=settings.nondetects,
    )
    observed = observe(batch, totals)
    stations = summarise_stations(batch, totals, observed=observed)
    reach = summarise_reach(batch, totals, settings, observed=observed)
    cores = summarise_cores(batch, totals, settings, observed=observed)
    comparisons = compare_places(batch, totals, settings, observed=observed)
    cuts = compare_cuts(batch, totals, cores, findings, sets, assigned, settings)
    checks = quality(batch, totals, findings, sets, settings)
    index_table = indices(batch, totals, sets, settings)
    change = compare_runs(settings.earlier, stations, batch.results) if settings.earlier is not None else None
    problems = (*batch.problems, *notices)
    finished = Run(
        settings=settings,
        batch=batch,
        sets=sets,
        assigned=assigned,
        totals=by_sample(totals, batch.samples, ("total", "rule")),
        findings=by_sample(findings, batch.samples, ("group", "substance", "set", "total")),
        indices=by_sample(index_table, batch.samples, ("index", "substance", "set_or_source")),
        stations=by_place(stations, batch.stations, ("layer", "substance")),
        reach=reach,
        quality=by_sample(checks, batch.samples, ("check", "substance", "file", "sheet", "row")),
        cores=by_place(cores, batch.stations, ("core", "substance")),
        change=change,
        problems=problems,
        record={},
        cuts=cuts,
        comparisons=comparisons,
        trends=along_the_river(batch, totals, settings, observed=observed),
        ranking=rank_stations(findings, totals, batch.samples, [one.id for one in sets]),
    )
    record = _record(finished, started, time.perf_counter() - began)
    return dataclasses.replace(finished, record=record)


def write_run(run: Run, folder: Path, progress: Progress | None = None) -> None:
    """Write a finished run into ``folder`` (which exists and is empty): tables, and report and workbook unless
    ``tables_only``; ``run.json`` last. The sets used are kept beside, so that the folder explains itself.
    """
    import json

    from screen.explain import sets_met
    from screen.stages.compare.geo import stations_geojson
    from screen.stages.report.tables import write_tables
    from screen.stages.report.workbook import write_workbook

    say = progress or (lambda _: None)
    say("writing tables")
    (folder / "tables").mkdir()
    write_tables(run, folder / "tables", stations_geojson(run.batch.stations, run.findings))
    for one in sets_met(run).values():
        one.save(folder / "sets")
    if not run.settings.tables_only:
        say("writing the report")
        report(run, folder / "report.html")
        say("writing the workbook")
        write_workbook(run, folder / "workbook.xlsx")
        _write_extras(run, folder, say)
    text = json.dumps(run.record, ensure_ascii=False, indent=2, allow_nan=False)
    (folder / "run.json").write_text(text + "\n", encoding="utf-8", newline="\n")


def _write_extras(run: Run, folder: Path, say: Progress) -> None:
    """Write what ``--memo`` and ``--pdf`` ask for; ``report.html`` is there."""
    from screen.stages.report.extras import write_pdf

    if run.settings.memo:
        from screen.stages.report.memo_files import write_memo

        say("writing the memo")
        write_memo(run, folder)
    if run.settings.pdf:
        say("printing the report")
        write_pdf(folder / "report.html", folder / "report.pdf")


def report(run: Run, path: Path | str) -> None:
    """Write the report of a finished run as one HTML file at ``path``, with the chains of all flagged findings."""
    from screen.explain import chains, tables_of
    from screen.stages.report.page import write_page

    tables = tables_of(run)
    write_page(run, Path(path), lambda findings: chains(tables, findings))


def rules_in_use(sets: Sequence[GuidelineSet], settings: Settings) -> tuple[str, ...]:
    """The non-detect rules that the sums of this run are made by, each once."""
    if settings.nondetects != "stated":
        return (settings.nondetects,)
    return tuple(dict.fromkeys((one.nondetects or "zero") for one in sets)) or ("zero",)


def unsettled(findings: pd.DataFrame) -> pd.Series[bool]:
    """Which findings would differ with non-detects at their other bound."""
    return findings["settled"].eq(False).fillna(False).astype(bool)


def gravest(findings: pd.DataFrame) -> str | None:
    """The gravest finding of all, in the order of ``--fail-on``; None for no findings."""
    met = set(findings["finding"].astype(str).unique())
    return next((one for one in reversed(FINDING_ORDER) if one in met), None)


def tool_version() -> str:
    """The installed version of the distribution."""
    try:
        return version("siltmark")
    except PackageNotFoundError:
        return "0+unknown"


def _now() -> str:
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    moment = (
        datetime.datetime.fromtimestamp(int(epoch), tz=datetime.UTC)
        if epoch.isdigit()
        else datetime.datetime.now(tz=datetime.UTC)
    )
    return moment.replace(microsecond=0).isoformat()


def _record(run: Run, started: str, seconds: float) -> dict[str, object]:
    counts, batch = _counts(run), run.batch
    conserved = _conserved(batch)
    if not conserved:
        raise InternalError(
            "the cells of the input do not add up in the ledger. This is a fault of the tool, not of your files: "
            "nothing was written. Please report it with the sheet, or a cut-down copy that shows it."
        )
    samples = batch.samples
    names = samples["sample"].astype(object)
    return {
        "schema_version": SCHEMA_VERSION,
        "tool_version": tool_version(),
        "libraries": _libraries(),
        "started": started,
        "seconds": round(seconds, 3),
        "inputs": [dict(one) for one in batch.inputs],
        "settings": settings_record(run.settings),
        "guideline_sets": [
            {"id": one.id, "sha256": one.sha256, "title": one.title, "citation": one.citation, "own": one.own}
            for one in run.sets
        ],
        "counts": counts,
        "conserved": conserved,
        "without_results": names[samples["without_results"].astype(bool)].tolist(),
        "without_field": names[samples["without_field"].astype(bool)].tolist(),
        "not_analysed": _not_analysed(run),
        "warnings": [
            {
                "code": one.code,
                "message": one.text,
                "file": one.file,
                "sheet": one.sheet,
                "row": one.row,
                "column": one.column,
            }
            for one in run.problems
        ],
    }


def _counts(run: Run) -> dict[str, int]:
    batch, findings = run.batch, run.findings
    became = batch.ledger["became"].value_counts()
    found = findings["finding"].value_counts()
    return {
        "cells": int(batch.cells),
        "results": len(batch.results),
        "used": int(batch.results["used"].astype(bool).sum()),
        "qc": int(became.get("qc", 0)),
        "duplicate": int(became.get("duplicate", 0)),
        "superseded": int(became.get("superseded", 0)),
        "rejected": int(became.get("rejected", 0)),
        "lab_total": int(became.get("lab-total", 0)),
        "ignored": int(became.get("ignored", 0)),
        "samples": int(batch.results["sample"].nunique()),
        "stations": int(batch.results["station"].nunique()),
        "findings": len(findings),
        "below": int(found.get("below", 0)),
        "between": int(found.get("between", 0)),
        "above": int(found.get("above", 0)),
        "undetermined": int(found.get("undetermined", 0)),
        "not_assessed": int(found.get("not-assessed", 0)),
        "unsettled": int(unsettled(findings).sum()),
    }


def _conserved(batch: Batch) -> bool:
    """Whether the cells add up, each result has one entry in the ledger, and used and set aside are all."""
    ledger, results = batch.ledger, batch.results
    entries = ledger.loc[(ledger["became"] == "result").to_numpy(), "result_id"].to_numpy(dtype=np.int64, na_value=-1)
    ids = results["result_id"].to_numpy(dtype=np.int64)
    in_order = np.sort(ids)
    one_entry_each = bool(np.array_equal(np.sort(entries), in_order)) and not (in_order[1:] == in_order[:-1]).any()
    reasons_fit = bool((results["used"].to_numpy(dtype=bool) == results["why_not"].isna().to_numpy()).all())
    return bool(np.nansum(ledger["cells"]) == batch.cells) and one_entry_each and reasons_fit


def _not_analysed(run: Run) -> list[str]:
    """Substances that a set in use has a level for, and no sample of the batch has any row of."""
    met = set(run.findings["substance"].astype(str).unique())
    wanted = dict.fromkeys(str(name) for one in run.sets for name in one.rows["substance"])
    return [name for name in wanted if name not in met]


def settings_record(settings: Settings) -> dict[str, Any]:
    """The settings as the contract's keys with plain values; paths by their last part, never from the disk's root."""
    record: dict[str, Any] = {}
    for item in dataclasses.fields(settings):
        value = getattr(settings, item.name)
        record[item.name.replace("_", "-")] = _plain(value)
    for name in ("overwrite", "resume", "fail-on", "tables-only", "pdf", "memo"):
        record.pop(name)
    return record


def _plain(value: object) -> Any:
    if isinstance(value, Path):
        return value.name
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {name: one for name, one in dataclasses.asdict(value).items() if one is not None}
    if isinstance(value, str) and value.endswith((".csv", ".toml")):
        return Path(value).name
    return value


def _libraries() -> dict[str, str]:
    found = {"python": platform.python_version()}
    for name in _LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found
