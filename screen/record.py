"""What run.json says of a run. In: a finished run and the counts of its parts. Out: plain data."""

from __future__ import annotations

import dataclasses
import datetime
import os
import platform
from collections import Counter
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screen.model import FINDING_ORDER

if TYPE_CHECKING:
    import pandas as pd

    from screen.model import Run
    from screen.settings import Settings

__all__ = [
    "SCHEMA_VERSION",
    "counts_of",
    "gravest",
    "moment",
    "record_of",
    "settings_record",
    "tool_version",
    "unsettled",
    "versions",
]

SCHEMA_VERSION = "1.0"
LIBRARIES = ("pandas", "numpy", "openpyxl", "python-calamine", "jinja2", "click", "pyarrow")


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


def moment() -> str:
    """The time of SOURCE_DATE_EPOCH, else the present one, in UTC."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    now = (
        datetime.datetime.fromtimestamp(int(epoch), tz=datetime.UTC)
        if epoch.isdigit()
        else datetime.datetime.now(tz=datetime.UTC)
    )
    return now.replace(microsecond=0).isoformat()


def record_of(run: Run, counts: dict[str, int], started: str, seconds: float) -> dict[str, object]:
    """The record of a run whose cells add up. ``counts`` is from ``counts_of``."""
    batch = run.batch
    samples = batch.samples
    names = samples["sample"].astype(object)
    return {
        "schema_version": SCHEMA_VERSION,
        "tool_version": tool_version(),
        "libraries": versions(),
        "started": started,
        "seconds": round(seconds, 3),
        "inputs": [dict(one) for one in batch.inputs],
        "settings": settings_record(run.settings),
        "guideline_sets": [
            {"id": one.id, "sha256": one.sha256, "title": one.title, "citation": one.citation, "own": one.own}
            for one in run.sets
        ],
        "counts": counts,
        "conserved": True,
        "without_results": names[samples["without_results"].astype(bool)].tolist(),
        "without_field": names[samples["without_field"].astype(bool)].tolist(),
        "not_analysed": _not_analysed(run),
        "warnings": [one.record for one in run.problems],
    }


def counts_of(parts: Sequence[dict[str, int]], cells: int, stations: int, findings: pd.DataFrame) -> dict[str, int]:
    """The contract's counts from those of the parts."""
    of_parts: Counter[str] = Counter()
    for part in parts:
        of_parts.update(part)
    found = findings["finding"].value_counts()
    names = ("results", "used", "qc", "duplicate", "superseded", "rejected", "lab_total", "ignored", "samples")
    return {
        "cells": cells,
        **{name: int(of_parts[name]) for name in names},
        "stations": stations,
        "findings": len(findings),
        "below": int(found.get("below", 0)),
        "between": int(found.get("between", 0)),
        "above": int(found.get("above", 0)),
        "undetermined": int(found.get("undetermined", 0)),
        "not_assessed": int(found.get("not-assessed", 0)),
        "unsettled": int(unsettled(findings).sum()),
    }


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
    for name in ("overwrite", "resume", "cluster", "fail-on", "tables-only", "pdf", "memo"):
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


def versions(libraries: Sequence[str] = LIBRARIES) -> dict[str, str]:
    """The versions of Python and of the libraries that results may depend on, or of those that are named."""
    found = {"python": platform.python_version()}
    for name in libraries:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found
