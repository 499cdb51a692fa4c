"""What was understood of a batch, before anything is compared: a batch in, a plain dict and its text out.

The dict is the contract's for ``siltmark read --json``: ``tables, samples, substances, missing, questions, counts,
warnings``; and ``units`` and ``basis``, which say how often each was met.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import pandas as pd

from screen.model import BECAME, Batch
from screen.reference.substances import describe
from screen.stages.read.field.from_names import field_lines

__all__ = ["FIELD_WORDS", "LAYOUTS", "render", "summarise"]

#: What a batch may lack, with what that costs. The substances are the attributes of a sample, not analytes.
_CARBON = "Total organic carbon"
_SOLIDS = ("Percent solids", "Percent moisture")
_NAMED_AT_MOST = 12


def summarise(batch: Batch) -> dict[str, Any]:
    """The summary of a batch as plain values, fit for JSON."""
    results = batch.results
    became = batch.ledger["became"].value_counts()
    return {
        "tables": [dict(one) for one in batch.tables],
        "samples": _met(results["sample"]),
        "substances": _met(results["substance"]),
        "units": _counted(results["reported_unit"]),
        "basis": _bases(results),
        "missing": _missing(batch),
        "questions": [dict(one) for one in batch.questions],
        "counts": {
            "cells": int(batch.cells),
            "results": len(results),
            **{name.replace("-", "_"): int(became.get(name, 0)) for name in BECAME if name != "result"},
            "samples": int(results["sample"].nunique()),
            "substances": int(results["substance"].nunique()),
        },
        "warnings": [one.record for one in batch.problems],
    }


def render(summary: Mapping[str, Any]) -> str:
    """The summary as text for a terminal."""
    counts = summary["counts"]
    lines = [
        f"{_several(counts['results'], 'result')} of {_several(counts['substances'], 'substance')} in "
        f"{_several(counts['samples'], 'sample')}, from {_several(counts['cells'], 'cell')} with something in them.",
        "",
        "Tables",
    ]
    if not summary["tables"]:
        lines += ["  none was recognised"]
    for table in summary["tables"]:
        place = ", ".join(part for part in (table["file"], f"sheet {table['sheet']}" if table["sheet"] else "") if part)
        lines += [f"  {place}, {table['range']}: {LAYOUTS[table['layout']]}"]
        lines += [f"    taken for a table because {table['why']}"]
        lines += [f"    fields: {_fields(table['fields'])}"]
    lines += ["", f"Samples: {_listed(summary['samples'])}", f"Substances: {_listed(summary['substances'])}"]
    lines += [f"Units: {_tally(summary['units'])}", f"Basis: {_tally(summary['basis'])}"]
    others = [f"{counts[key]} {word}" for key, word in _OUTCOMES.items() if counts[key]]
    lines += [f"Other entries of the ledger: {', '.join(others)}." if others else "No other cells."]
    lines += ["", "Missing"]
    nothing = (
        "nothing that the comparison needs" if counts["results"] else "results: the messages say why none was read"
    )
    lines += [f"  {line}" for text in summary["missing"] for line in text.split("\n")] or [f"  {nothing}"]
    lines += ["", "Questions only you can answer"]
    for question in summary["questions"]:
        place = ", ".join(part for part in (question["file"], question["sheet"], question["cell"]) if part)
        lines += [f"  {place}: {question['text']}", "    To answer, put into a settings file (--settings):"]
        lines += [f"      {line}" for line in str(question["answer"]).splitlines()]
    if not summary["questions"]:
        lines += ["  none"]
    return "\n".join(lines)


_OUTCOMES = {
    "qc": "of quality control",
    "duplicate": "repeated",
    "superseded": "superseded by a dilution or rerun",
    "rejected": "refused",
    "lab_total": "totals of the laboratory",
    "ignored": "ignored",
    "context": "of heads, titles and notes",
}


#: Layouts and fields of tables in words.
LAYOUTS = {
    "long": "one result a row",
    "analytes-down": "substances down, samples across",
    "samples-down": "samples down, substances across",
}
FIELD_WORDS = {
    "analyte": "substance",
    "cas": "CAS number",
    "lab_sample": "the laboratory's sample id",
    "mdl": "detection limit",
    "rl": "reporting limit",
    "maximum": "estimated maximum",
    "not_detected": "not detected",
    "qualifier": "flags",
    "validator": "the validator's flags",
    "sample_type": "kind of sample",
    "matrix": "medium",
    "gc_column": "column of the instrument",
    "value": "results",
}


def _several(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _bases(results: pd.DataFrame) -> dict[str, int]:
    """How often each basis was met; what needs none (moisture, grain size) is counted as such."""
    names = results["substance"].astype(object).drop_duplicates().tolist()
    needs = dict(zip(names, describe(names)["needs_basis"], strict=True)) if names else {}
    stated = results["reported_basis"].astype(object).fillna("")
    free = (stated == "") & ~results["substance"].astype(object).map(needs).astype(bool)
    return _counted(stated.mask(free, "not needed"))


def _met(column: pd.Series[Any]) -> list[str]:
    return [str(one) for one in column.dropna().drop_duplicates()]


def _counted(column: pd.Series[Any]) -> dict[str, int]:
    text = column.astype(object).fillna("")
    return {str(name): int(number) for name, number in text.value_counts(sort=False).items()}


def _missing(batch: Batch) -> list[str]:
    results, samples = batch.results, batch.samples
    found = []
    carbon = set(results.loc[results["substance"] == _CARBON, "sample"])
    organic = set(results.loc[~results["group"].isin(["metal", "conventional"]), "sample"])
    if lacking := _sorted_as(results, organic - carbon):
        found.append(f"organic carbon for {_listed(lacking)}: no comparison per carbon there")
    solids = set(results.loc[results["substance"].isin(_SOLIDS), "sample"])
    wet = set(results.loc[results["reported_basis"] == "wet", "sample"])
    if lacking := _sorted_as(results, wet - solids):
        found.append(f"moisture or solids for {_listed(lacking)}: their wet results cannot be brought to dry weight")
    if lacking := samples.loc[samples["without_results"].astype(bool), "sample"].astype(str).tolist():
        found.append(f"results for {_listed(lacking)}, which the field record names")
    if lacking := samples.loc[samples["without_field"].astype(bool), "sample"].astype(str).tolist():
        found.append(f"a line in the field record for {_listed(lacking)}{_offered(lacking)}")
    return found


def _offered(names: Sequence[str]) -> str:
    """Lines of a field record where the names look as if they hold station and depth."""
    lines = field_lines(names)
    if not lines:
        return ""
    said = ". If these names hold station and depth, save these lines as a .csv file and give it with --field too"
    return f"{said}:\n{lines.rstrip()}"


def _sorted_as(results: pd.DataFrame, wanted: set[str]) -> list[str]:
    return [name for name in _met(results["sample"]) if name in wanted]


def _listed(names: Iterable[str]) -> str:
    every = list(names)
    if not every:
        return "none"
    rest = len(every) - _NAMED_AT_MOST
    return ", ".join(every[:_NAMED_AT_MOST]) + (f" and {rest} more" if rest > 0 else "")


def _tally(counts: Mapping[str, int]) -> str:
    return ", ".join(f"{name or 'not stated'} ({number})" for name, number in counts.items()) or "none"


def _fields(fields: object) -> str:
    if isinstance(fields, Mapping):
        return ", ".join(
            f"{FIELD_WORDS.get(name, name.replace('_', ' '))} in {place}" for name, place in fields.items()
        )
    if isinstance(fields, (list, tuple)):
        return ", ".join(str(one) for one in fields)
    return str(fields)
