"""Small batches made by hand, as reading leaves them: rows of (sample, substance, text) in, a ``Batch`` out.

Texts: ``12.3`` exact, ``<0.5`` not detected, ``ND`` not detected with no limit, ``trace`` or ``trace 1-3``, ``>500``,
``max 5`` (an estimated maximum), with a trailing `` J`` (estimated) or `` R`` (rejected by the laboratory).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from screen.model import RESULTS, RESULTS_INNER, SAMPLES, Batch
from screen.reference.substances import describe
from screen.settings import Settings
from screen.stages.normalise import normalise
from screen.stages.sums.peaks import unit_factor

_TEXT = {
    "sample", "lab_sample", "parent", "station", "core", "substance", "cas", "group", "reported", "qualifier",
    "reported_unit", "reported_basis", "kind", "limit_kind", "unit", "oc_unit", "method", "why_not", "file", "sheet",
    "column", "collected", "extracted", "analysed", "result_id", "qc_kind", "qc_of",
}  # fmt: skip


def read_rows(rows: Iterable[Sequence[Any]], **more: Any) -> pd.DataFrame:
    """Rows of (sample, substance, text, [basis], [unit], [{other columns}]) as a frame of RESULTS + RESULTS_INNER."""
    return _frame([_row(number, *row, **more) for number, row in enumerate(rows, 2)])


def dry_rows(rows: Iterable[Sequence[Any]]) -> pd.DataFrame:
    """Such rows on dry weight in any unit, with the figures that normalising would give them."""
    frame = read_rows(rows)
    made = {name: frame[f"read_{name}"] * frame["factor"] for name in ("value", "limit", "low", "high")}
    units = [_facts(str(name))["unit"] for name in frame["substance"]]
    return frame.assign(**made, unit=pd.Categorical(pd.array(units, dtype=object)))


@cache
def _facts(substance: str) -> dict[str, Any]:
    return describe([substance]).iloc[0].to_dict()


def _row(
    number: int,
    sample: str,
    substance: str,
    text: str,
    basis: str | None = "dry",
    unit: str | None = None,
    other: dict[str, Any] | None = None,
    **more: Any,
) -> dict[str, Any]:
    facts = _facts(substance)
    standard = facts["unit"] or "mg/kg"
    per_carbon = basis == "oc"
    unit = unit or ("mg/kg OC" if per_carbon else standard)
    figure, kind, low, high, limit = text, "exact", np.nan, np.nan, np.nan
    flag = next((one for one in ("J", "R", "UJ") if text.endswith(f" {one}")), "")
    figure = figure.removesuffix(f" {flag}")
    if figure.startswith("<"):
        kind, limit = "nondetect", float(figure[1:])
        low, high = 0.0, limit
    elif figure == "ND":
        kind = "nondetect"
    elif figure.startswith("trace"):
        kind, (low, high) = "trace", (0.0, np.nan)
        if " " in figure:
            low, high = (float(one) for one in figure.split()[1].split("-"))
    elif figure.startswith(">"):
        kind, low = "more-than", float(figure[1:])
    elif figure.startswith("max "):
        kind, low, high = "estimated-maximum", 0.0, float(figure[4:])
    else:
        low = high = float(figure)
    value = {"exact": low, "more-than": low, "estimated-maximum": high}.get(kind, np.nan)
    row = dict.fromkeys([*RESULTS, *RESULTS_INNER])
    row |= {
        "result_id": f"r{number}", "sample": sample, "station": sample, "substance": substance,
        "cas": facts["cas"], "group": facts["group"], "reported": text, "qualifier": flag, "reported_unit": unit,
        "reported_basis": basis, "detected": kind != "nondetect", "kind": kind, "used": flag != "R",
        "why_not": "rejected-by-lab" if flag == "R" else None, "file": "lab.csv", "row": number, "column": "C",
        "read_value": value, "read_limit": limit, "read_low": low, "read_high": high,
        "factor": unit_factor(unit.removesuffix(" OC"), standard), "estimated": flag in ("J", "UJ"),
    }  # fmt: skip
    return row | (other or {}) | more


def _frame(rows: list[dict[str, Any]], extra: Sequence[str] = ()) -> pd.DataFrame:
    columns: dict[str, Any] = {}
    for name in dict.fromkeys([*RESULTS, *RESULTS_INNER, *extra]):
        own = [row.get(name) for row in rows]
        if name in _TEXT:
            texts = [None if one == "" else one for one in own]
            columns[name] = pd.Categorical(pd.array(texts, dtype=object))
        elif name in ("detected", "used", "estimated"):
            columns[name] = np.array(own, dtype=bool)
        else:
            columns[name] = np.array([np.nan if one is None else one for one in own], dtype=np.float64)
    return pd.DataFrame(columns)


def batch_of(
    rows: Iterable[Sequence[Any]],
    lab_totals: Iterable[Sequence[Any]] = (),
    qc: Iterable[Sequence[Any]] = (),
    samples: dict[str, dict[str, Any]] | None = None,
    refused: Iterable[dict[str, Any]] = (),
) -> Batch:
    """A batch as reading leaves it; ``samples`` gives further columns by sample id."""
    results = read_rows(rows)
    qc_rows = [_row(number, *row) for number, row in enumerate(qc, 900)]
    names = list(dict.fromkeys([*results["sample"], *(samples or {})]))
    about = pd.DataFrame(
        [dict.fromkeys(SAMPLES) | {"sample": name, "station": name} | (samples or {}).get(name, {}) for name in names],
        columns=SAMPLES,
    )
    numbers = ["river_km", "latitude", "longitude", "depth_top_cm", "depth_bottom_cm"]
    about = about.astype(dict.fromkeys([*numbers, "solids_pct", "toc_pct", "fines_pct"], np.float64))
    about = about.assign(without_results=False, without_field=False)
    empty = pd.DataFrame()
    return Batch(
        results=results,
        lab_totals=read_rows(lab_totals),
        qc=_frame(qc_rows, ("qc_kind", "qc_of")),
        refused=pd.DataFrame(
            list(refused), columns=["sample", "substance", "reason", "file", "sheet", "row", "column"], dtype=object
        ),
        samples=about,
        stations=empty,
        cores=empty,
        ledger=empty,
    )


def results_of(rows: Iterable[Sequence[Any]], settings: Settings | None = None) -> pd.DataFrame:
    """Results on dry weight of such rows."""
    return normalise(batch_of(rows), settings).results


def set_of(
    rows: Iterable[tuple[str, dict[str, float]]],
    levels: Sequence[str] = ("L", "U"),
    unit: str = "mg/kg",
    basis: str | dict[str, str] = "dry",
    evidence: str | dict[str, str] = "own",
    **other: Any,
) -> Any:
    """A guideline set of (substance, {level: figure}); ``basis`` and ``evidence`` may be given by level."""
    from screen.reference.sets import ROWS, GuidelineSet

    found = [
        {
            "substance": substance,
            "cas": "",
            "level": level,
            "value": float(figure),
            "unit": unit,
            "basis": basis if isinstance(basis, str) else basis[level],
            "evidence": evidence if isinstance(evidence, str) else evidence[level],
            "source": "",
            "note": "",
        }
        for substance, figures in rows
        for level, figure in figures.items()
    ]
    standing: dict[str, Any] = {
        "id": "own",
        "title": "",
        "citation": "",
        "water": ("fresh",),
        "levels": tuple(levels),
        "lower": levels[0] if len(levels) > 1 else None,
        "upper": levels[-1],
        "basis": "dry",
        "at_level": "not-above",
        "nondetects": None,
        "caveats": (),
        "toc_range": None,
        "toc_outside": None,
        "sums": {},
        "rows": pd.DataFrame(found, columns=ROWS),
        "sha256": "",
        "own": True,
    }
    return GuidelineSet(**(standing | other))


def compared(rows: Iterable[Sequence[Any]], chosen: Any, **more: Any) -> pd.DataFrame:
    """Findings of such rows by one set: read as given, normalised, summed by the set's rule, compared."""
    from screen.stages.compare import compare
    from screen.stages.sums import total

    batch = normalise(
        batch_of(
            rows, samples=more.pop("samples", None), refused=more.pop("refused", ()), lab_totals=more.pop("lab", ())
        )
    )
    rule = more.get("nondetects", "stated")
    totals = total(
        batch.results,
        nondetects=(rule if rule != "stated" else chosen.nondetects or "zero",),
        lab_totals=batch.lab_totals,
    )
    return compare(batch.results, totals, [chosen], samples=batch.samples, refused=batch.refused, **more)


def one_finding(rows: Iterable[Sequence[Any]], chosen: Any, **more: Any) -> dict[str, Any]:
    """The only finding of such rows; its missing texts are ''."""
    found = compared(rows, chosen, **more)
    assert len(found) == 1, found.to_string()
    row = found.astype(object).to_dict("records")[0]
    return {
        str(name): ""
        if value is None or value is pd.NA or (isinstance(value, float) and np.isnan(value) and name in _WORDS)
        else value
        for name, value in row.items()
    }


_WORDS = {"total", "note", "qualifier", "highest_exceeded", "lower_name", "upper_name", "evidence", "basis", "unit"}
