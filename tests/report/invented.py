"""A finished run of an invented estuary, made without the stages: invented stations, ids and figures, real levels.

Levels are those of the consensus values of 2000 and the effects ranges of 1995 for a few substances; all else is
invented. The comparing here is a plain re-telling of the contract's table, so that there is something to say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from screen import model
from screen.model import Batch, Problem, Run
from screen.settings import Settings

_LEVELS = {
    "consensus-2000-fresh": {
        "Arsenic": (9.79, 33.0),
        "Cadmium": (0.99, 4.98),
        "Copper": (31.6, 149.0),
        "Lead": (35.8, 128.0),
        "Zinc": (121.0, 459.0),
        "Phenanthrene": (204.0, 1170.0),
        "Benzo(a)pyrene": (150.0, 1450.0),
        "Total PAHs": (1610.0, 22800.0),
        "Total PCBs": (59.8, 676.0),
    },
    "long-1995-marine": {
        "Arsenic": (8.2, 70.0),
        "Cadmium": (1.2, 9.6),
        "Copper": (34.0, 270.0),
        "Lead": (46.7, 218.0),
        "Zinc": (150.0, 410.0),
        "Phenanthrene": (240.0, 1500.0),
        "Benzo(a)pyrene": (430.0, 1600.0),
        "Total PAHs": (4022.0, 44792.0),
        "Total PCBs": (22.7, 180.0),
    },
}
_GROUP = {"Phenanthrene": "pah", "Benzo(a)pyrene": "pah", "Total PAHs": "pah", "Total PCBs": "pcb-congener"}
_UNIT = {"pah": "ug/kg", "pcb-congener": "ug/kg", "metal": "mg/kg"}
_TOTAL = {"Total PAHs": "pah-13", "Total PCBs": "pcb-nst18x2"}


@dataclass(frozen=True)
class FakeSet:
    """As much of a guideline set as the report reads."""

    id: str
    title: str
    citation: str
    water: tuple[str, ...]
    levels: tuple[str, ...]
    lower: str
    upper: str
    caveats: tuple[str, ...]
    rows: pd.DataFrame
    basis: str = "dry"
    at_level: str = "not-above"
    nondetects: str | None = "zero"
    own: bool = False
    sums: dict[str, tuple[tuple[str, ...], ...]] = field(default_factory=dict)


def _set(name: str, title: str, lower: str, upper: str, water: str, citation: str) -> FakeSet:
    rows = [
        {
            "substance": substance,
            "cas": "",
            "level": level,
            "value": value,
            "unit": _UNIT[_GROUP.get(substance, "metal")],
            "basis": "dry",
            "evidence": "from_memory" if (substance, name) == ("Zinc", "long-1995-marine") else "seen",
            "source": "NOAA 2008, Screening Quick Reference Tables, OR&R Report 08-1",
            "note": "",
        }
        for substance, pair in _LEVELS[name].items()
        for level, value in zip((lower, upper), pair, strict=True)
    ]
    caveats = ("Derived from mixtures in the field; an exceedance by one substance does not name it as the cause.",)
    return FakeSet(name, title, citation, (water,), (lower, upper), lower, upper, caveats, pd.DataFrame(rows))


SETS = (
    _set(
        "long-1995-marine",
        "Effects range low and median, marine and estuarine",
        "ERL",
        "ERM",
        "marine",
        "Long ER, MacDonald DD, Smith SL, Calder FD. 1995. Environmental Management 19:81-97.",
    ),
    _set(
        "consensus-2000-fresh",
        "Consensus-based threshold and probable effect concentrations, fresh water",
        "TEC",
        "PEC",
        "fresh",
        "MacDonald DD, Ingersoll CG, Berger TA. 2000. Arch. Environ. Contam. Toxicol. 39:20-31.",
    ),
)


def _frame(rows: list[dict[str, Any]], columns: list[str]) -> pd.DataFrame:
    frame = pd.DataFrame(rows).reindex(columns=columns)
    for name in columns:
        column = frame[name]
        if column.map(lambda v: isinstance(v, str)).any():
            frame[name] = pd.Categorical(column.map(lambda v: v if isinstance(v, str) and v else None))
        elif column.map(lambda v: isinstance(v, bool)).any():
            frame[name] = column.astype("boolean")
        else:
            frame[name] = pd.to_numeric(column, errors="coerce").astype("float64")
    return frame


def _judge(value: float, low: float, high: float, limit: float, pair: tuple[float, float], partial: bool) -> str:
    lower, upper = pair
    if not math.isnan(value):
        if value > upper:
            return "above"
        if value > lower:
            return "between"
        return "undetermined" if partial else "below"
    if math.isnan(limit):
        return "not-assessed"
    return "undetermined" if limit > lower or partial else "below"


def make_run(
    settings: Settings | None = None,
    *,
    stations: int = 14,
    scale: float = 1.0,
    nondetects: float = 0.15,
    assessed: bool = True,
    cores: bool = True,
    sample_text: str = "",
) -> Run:
    """The run; ``scale`` multiplies every concentration, ``nondetects`` is their share, ``sample_text`` ends ids."""
    rng = np.random.default_rng(20260501)
    settings = settings or Settings(title="Wendle estuary, spring survey", prepared_by="Desk three", memo_no="7")
    places, samples, results, totals, findings, ledger = [], [], [], [], [], []
    for at in range(stations):
        name, km = f"W{at + 1:02d}", round(0.8 + 26.7 * at / max(1, stations - 1), 1)
        fresh = at >= stations * 0.6
        station = {
            "station": name,
            "river_km": km,
            "latitude": 51 + km / 200,
            "longitude": -1.2 + math.sin(km / 4) / 50,
            "water": "fresh" if fresh else "estuarine",
            "role": "reference" if at == stations - 1 and stations > 1 else "site",
            "zone": "upper" if fresh else "lower",
        }
        places.append(station)
        cored = cores and at in (3, 6, 9)
        layers = [(0.0, 10.0), (10.0, 30.0), (30.0, 60.0), (70.0, 100.0)] if cored else [(0.0, 10.0)]
        for number, (top, bottom) in enumerate(layers, 1):
            sample = f"{name}-{number}{sample_text}"
            record = {
                **station,
                "sample": sample,
                "lab_sample": f"L{at:03d}{number}",
                "core": f"C{at}" if cored else "",
                "collected": "2026-05-04" if at < 8 else "2026-05-06",
                "depth_top_cm": top,
                "depth_bottom_cm": bottom,
                "solids_pct": 48.0 + at,
                "toc_pct": 2.1,
                "fines_pct": 61.0,
                "texture": ("silt", "silty clay", "sand", "clay")[number - 1],
                "colour": ("black", "grey", "brown", "grey")[number - 1],
                "odour": "sulfide" if number == 2 else "",
                "without_results": False,
                "without_field": False,
            }
            samples.append(record)
            hot = math.exp(-(((at - 6) / 3) ** 2)) * (1 + 1.5 * (number == 3))
            for substance in _LEVELS["long-1995-marine"]:
                group = _GROUP.get(substance, "metal")
                base = _LEVELS["consensus-2000-fresh"][substance][0]
                value = scale * base * (0.2 + 9 * hot * (0.3 + (group != "metal"))) * float(rng.lognormal(0, 0.35))
                missing = rng.random() < nondetects
                partial = substance == "Total PAHs" and at == 2
                known = assessed and not (substance == "Cadmium" and at == 4)
                limit = value if missing and known else math.nan
                exact = value if not missing and known else math.nan
                total = _TOTAL.get(substance, "")
                low = 0.0 if missing else value * (0.9 if total else 1)
                high = value * (1.25 if total and not missing else 1)
                row = 2 + len(ledger)
                base_row = {**record, "substance": substance, "group": group, "unit": _UNIT[group]}
                if not total:
                    identity = f"r{len(results) + 1}"
                    results.append(
                        {
                            **base_row,
                            "result_id": identity,
                            "reported": f"{'<' if missing else ''}{value:.4g}",
                            "reported_unit": _UNIT[group],
                            "reported_basis": "dry" if known else "",
                            "detected": not missing,
                            "kind": "nondetect" if missing else "exact",
                            "value": exact,
                            "limit": limit,
                            "limit_kind": "reporting" if missing else "",
                            "low": low if known else math.nan,
                            "high": high if known else math.nan,
                            "used": bool(known),
                            "why_not": "" if known else "no-basis",
                            "file": "wendle-metals.xlsx" if group == "metal" else "wendle-organics.csv",
                            "sheet": "Results" if group == "metal" else "",
                            "row": row,
                            "column": "D",
                            "method": "",
                        }
                    )
                    ledger.append(
                        {
                            "file": results[-1]["file"],
                            "sheet": results[-1]["sheet"],
                            "row": row,
                            "column": "D",
                            "cells": 2,
                            "text": results[-1]["reported"],
                            "became": "result",
                            "reason": "value",
                            "result_id": identity,
                        }
                    )
                elif known:
                    totals.append(
                        {
                            **base_row,
                            "total": total,
                            "name": substance,
                            "rule": "zero",
                            "value": exact,
                            "low": low,
                            "high": high,
                            "limit": limit,
                            "detected": not missing,
                            "qualifier": "J" if at % 3 == 0 else "",
                            "members": 13 if total == "pah-13" else 18,
                            "measured": 11 if partial else (13 if total == "pah-13" else 18),
                            "peaks": 11 if partial else (13 if total == "pah-13" else 17),
                            "detects": 0 if missing else 9,
                            "complete": not partial,
                            "missing": "Acenaphthene;Fluorene" if partial else "",
                            "counted_once": "" if total == "pah-13" else "PCB-28/31",
                            "factor": 1.0 if total == "pah-13" else 2.0,
                            "lab_total": value * 1.04 if at == 1 else math.nan,
                            "lab_difference_pct": -3.846153846 if at == 1 else math.nan,
                            "note": "",
                        }
                    )
                for one in SETS if not fresh else SETS[1:]:
                    pair = _LEVELS[one.id][substance]
                    found = _judge(exact, low, high, limit, pair, partial)
                    settled: bool | None = None
                    if found == "undetermined":
                        settled = False
                    elif found != "not-assessed":
                        ends = {_judge(low, low, low, math.nan, pair, False), _judge(high, 0, 0, math.nan, pair, False)}
                        settled = ends == {found} and not partial
                    findings.append(
                        {
                            **base_row,
                            "total": total,
                            "set": one.id,
                            "basis": "dry",
                            "value": exact,
                            "low": low if known else math.nan,
                            "high": high if known else math.nan,
                            "detected": not missing,
                            "qualifier": "J" if total and at % 3 == 0 else "",
                            "lower_name": one.lower,
                            "lower_level": pair[0],
                            "upper_name": one.upper,
                            "upper_level": pair[1],
                            "lower_quotient": exact / pair[0],
                            "upper_quotient": exact / pair[1],
                            "finding": found,
                            "highest_exceeded": {"above": one.upper, "between": one.lower}.get(found, ""),
                            "settled": settled,
                            "evidence": "from_memory" if substance == "Zinc" and one is SETS[0] else "seen",
                            "note": "no stated basis" if found == "not-assessed" else "",
                        }
                    )
    samples.append(
        {
            **samples[-1],
            "sample": f"X99-1{sample_text}",
            "station": "X99",
            "river_km": math.nan,
            "without_results": True,
        }
    )
    return _assemble(settings, places, samples, results, totals, findings, ledger, sample_text)


def _assemble(settings, places, samples, results, totals, findings, ledger, sample_text) -> Run:  # type: ignore[no-untyped-def]
    frames = {
        "results": _frame(results, [*model.RESULTS, *model.RESULTS_LATER]),
        "totals": _frame(totals, model.TOTALS),
        "findings": _frame(findings, model.FINDINGS),
        "ledger": _frame(ledger, model.LEDGER),
    }
    sample_frame = _frame(samples, [*model.SAMPLES, "without_results", "without_field"])
    problems = (
        Problem(
            "no-basis",
            "this result states neither wet nor dry weight.",
            "Ask the laboratory, or give --basis.",
            "warning",
            "wendle-metals.xlsx",
            "Results",
            12,
            "D",
        ),
    )
    found = frames["findings"]["finding"].astype(str).value_counts()
    record: dict[str, object] = {
        "schema_version": "1.0",
        "tool_version": "0.1.0",
        "libraries": {"python": "3.11", "pandas": "3.1"},
        "started": "2026-05-20T10:00:00+00:00",
        "seconds": 1.5,
        "inputs": [{"path": "wendle-metals.xlsx", "sha256": "ab" * 32, "bytes": 18230}],
        "settings": {"title": settings.title, "guidelines": [], "nondetects": settings.nondetects},
        "guideline_sets": [{"id": one.id, "sha256": "cd" * 32} for one in SETS],
        "counts": {
            "cells": int(frames["ledger"]["cells"].sum()),
            "results": len(results),
            "used": int(frames["results"]["used"].sum()),
            "qc": 0,
            "duplicate": 0,
            "superseded": 0,
            "rejected": 3,
            "lab_total": 1,
            "ignored": 0,
            "samples": frames["results"]["sample"].nunique(),
            "stations": frames["results"]["station"].nunique(),
            "findings": len(findings),
            **{name.replace("-", "_"): int(found.get(name, 0)) for name in model.FINDING_ORDER},
            "unsettled": int(frames["findings"]["settled"].eq(False).sum()),
        },
        "conserved": True,
        "without_results": [f"X99-1{sample_text}"],
        "without_field": [],
        "not_analysed": ["Dieldrin", "Chlordane"],
        "warnings": [{"code": p.code, "message": p.text} for p in problems],
    }
    batch = Batch(
        results=frames["results"],
        lab_totals=_frame([], model.RESULTS),
        qc=_frame([], model.RESULTS),
        refused=pd.DataFrame(columns=["sample", "substance", "reason", "file", "sheet", "row", "column"]),
        samples=sample_frame,
        stations=pd.DataFrame(places),
        cores=pd.DataFrame({"core": ["C3", "C6", "C9"], "station": ["W04", "W07", "W10"]}),
        ledger=frames["ledger"],
        cells=int(frames["ledger"]["cells"].sum()),
        problems=problems,
        inputs=tuple(record["inputs"]),  # type: ignore[arg-type]
    )
    assigned = frames["findings"][["sample", "set"]].drop_duplicates()
    quality = _frame(
        [
            {
                "check": "limit-above-level",
                "sample": samples[0]["sample"],
                "substance": "Total PCBs",
                "value": 120.0,
                "criterion": "at most 22.7 ug/kg",
                "outcome": "fail",
                "note": "",
                "file": "wendle-organics.csv",
                "row": 4,
            },
            {
                "check": "solids",
                "sample": samples[1]["sample"],
                "substance": "",
                "value": 28.0,
                "criterion": "at least 30 %",
                "outcome": "warn",
                "note": "ask how much was extracted",
                "file": "",
                "row": 2,
            },
            {
                "check": "blank",
                "sample": "",
                "substance": "Zinc",
                "value": 0.4,
                "criterion": "below the limit",
                "outcome": "pass",
                "note": "",
                "file": "wendle-metals.xlsx",
                "row": 40,
            },
        ],
        model.QUALITY,
    )
    reach = _frame(
        [
            {
                "place": place,
                "layer": "surface",
                "substance": "Total PCBs",
                "n": n,
                "detects": n - 1,
                "mean": 310.2,
                "mean_low": 300.0,
                "mean_high": 318.4,
                "median": 92.0,
                "max": 1260.0,
                "upper95": math.nan,
                "unit": "ug/kg",
                "method": "mean",
                "note": "upper95: n < 8" if n < 8 else "",
            }
            for place, n in (("all", 14), ("site", 13), ("reference", 1))
        ],
        model.REACH,
    )
    cores = _frame(
        [
            {
                "core": core,
                "station": station,
                "substance": "Total PCBs",
                "n": 4,
                "surface": 310.0,
                "peak": 1240.0,
                "peak_top_cm": 30.0,
                "peak_bottom_cm": 60.0,
                "surface_to_peak": 0.25,
                "unit": "ug/kg",
                "depth_rule": "as recorded",
                "note": "60 to 70 cm not sampled",
            }
            for core, station in (("C3", "W04"), ("C6", "W07"), ("C9", "W10"))
            if any(row["core"] == core for row in samples)
        ],
        model.CORES,
    )
    return Run(
        settings=settings,
        batch=batch,
        sets=SETS,  # type: ignore[arg-type]
        assigned=assigned,
        totals=frames["totals"],
        findings=frames["findings"],
        indices=_frame([], model.INDICES),
        stations=_frame([], model.STATIONS),
        reach=reach,
        quality=quality,
        cores=cores,
        change=None,
        problems=problems,
        record=record,
    )
