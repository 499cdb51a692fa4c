"""Whole rows of cores and cuts, every column by hand: two cores, one with a gap, depths as recorded and stretched.

Core C-A: lead 30 from 0 to 10 cm, 60 to 30 cm, a gap, <20 from 40 to 60 cm; 4,4'-DDE 4, then <2. Core C-B: one
interval. A grab beside them is no core. Levels of lead 35.8 and 128, of the sum of DDE 3.16 and 31.3 (MacDonald,
Ingersoll and Berger 2000).
"""

from __future__ import annotations

import dataclasses
from typing import Any

import pandas as pd
import pytest
from made import batch_of

from screen.settings import Settings
from screen.stages.compare.findings.assign import assign_sets
from screen.stages.compare.findings.findings import compare
from screen.stages.compare.places.cores import summarise_cores
from screen.stages.compare.places.cuts import compare_cuts
from screen.stages.normalise import normalise
from screen.stages.sums import total

SET = "consensus-2000-fresh"
ROWS = [
    ("A1", "Lead", "30"), ("A2", "Lead", "60"), ("A3", "Lead", "<20"), ("B1", "Lead", "5"), ("G", "Lead", "99"),
    ("A1", "4,4'-DDE", "4"), ("A2", "4,4'-DDE", "<2"),
]  # fmt: skip
SAMPLES: dict[str, dict[str, Any]] = {
    name: {"core": core, "station": station, "river_km": km, "depth_top_cm": top, "depth_bottom_cm": bottom}
    for name, core, station, km, top, bottom in (
        ("A1", "C-A", "K", 2.0, 0, 10), ("A2", "C-A", "K", 2.0, 10, 30), ("A3", "C-A", "K", 2.0, 40, 60),
        ("B1", "C-B", "L", 1.0, 0, 20), ("G", None, "M", 3.0, None, None),
    )
}  # fmt: skip
LENGTHS = pd.DataFrame(
    {
        "core": ["C-A", "C-B"], "recovery_pct": [80.0, None], "penetration_cm": [100.0, 50.0],
        "recovered_cm": [80.0, None], "bed_level_cm": [-410.0, -300.0], "datum": ["chart datum", None],
    }
)  # fmt: skip


def plain(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows without what is empty."""
    rows = table.astype(object).where(table.notna(), None).to_dict("records")
    return [{str(name): one for name, one in row.items() if one is not None} for row in rows]


def made(cut: str | None, compaction: str = "none") -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The rows of cores and of cuts."""
    settings = Settings(guidelines=(SET,), cut=cut, compaction=compaction)
    batch = normalise(batch_of(ROWS, samples=SAMPLES), settings)
    if compaction == "linear":
        batch = dataclasses.replace(batch, cores=LENGTHS)
    totals = total(batch.results)
    totals = totals[totals["total"] == "dde"]
    cores = summarise_cores(batch, totals, settings)
    sets, assigned, _ = assign_sets(batch.samples, settings)
    findings = compare(batch.results, totals, sets, samples=batch.samples, assigned=assigned)
    return plain(cores), plain(compare_cuts(batch, totals, cores, findings, sets, assigned, settings))


GAP = "there is a gap between intervals; nothing is filled in"
DEEPER = "the peak lies below the surface"
PART = "the cut mean covers only a part of the cut"
HALF = "the cut mean takes non-detects at half their limit"
ABOVE = "the samples end above the cut: what it leaves bare is not known"
BARE = "no value in the layer left bare (not detected or not quantified)"
STRETCHED = "depths times 1.25, penetration over recovered length"


def core(**more: Any) -> dict[str, Any]:
    return {"core": "C-A", "station": "K", "unit": "mg/kg", "depth_rule": "none"} | more


LEAD = core(substance="Lead", n=3, surface=30.0, peak=60.0, peak_top_cm=10.0, peak_bottom_cm=30.0, surface_to_peak=0.5)
DDE = core(n=2, surface=4.0, peak=4.0, peak_top_cm=0.0, peak_bottom_cm=10.0, surface_to_peak=1.0, unit="ug/kg")
OTHER = core(core="C-B", station="L", substance="Lead", n=1, surface=5.0, peak=5.0, surface_to_peak=1.0)
OTHER |= {"peak_top_cm": 0.0, "peak_bottom_cm": 20.0}


def test_cores_without_a_cut() -> None:
    assert made(None)[0] == [
        OTHER | {"note": "one interval: no profile"},
        LEAD | {"note": f"{GAP}; {DEEPER}"},
        DDE | {"substance": "4,4'-DDE"},
        DDE | {"substance": "dde", "rule": "zero"},
    ]


def test_cores_with_a_cut_that_the_samples_cover_in_part() -> None:
    """Lead (10 x 30 + 20 x 60) / 30 = 50; DDE (10 x 4 + 20 x 1) / 30 = 2, at least 40 / 30, at most 80 / 30."""
    dde = DDE | {
        "cut_cm": 40.0, "cut_mean": pytest.approx(2.0), "cut_mean_low": pytest.approx(40 / 30),
        "cut_mean_high": pytest.approx(80 / 30), "cut_covered_pct": 75.0, "note": f"{HALF}; {PART}; {ABOVE}",
    }  # fmt: skip
    assert made("40 cm")[0] == [
        OTHER
        | {"cut_cm": 40.0, "cut_mean": 5.0, "cut_mean_low": 5.0, "cut_mean_high": 5.0, "cut_covered_pct": 50.0}
        | {"note": f"one interval: no profile; {PART}; {ABOVE}"},
        LEAD
        | {"cut_cm": 40.0, "cut_mean": 50.0, "cut_mean_low": 50.0, "cut_mean_high": 50.0, "cut_covered_pct": 75.0}
        | {"note": f"{GAP}; {DEEPER}; {PART}; {BARE}"},
        dde | {"substance": "4,4'-DDE"},
        dde | {"substance": "dde", "rule": "zero"},
    ]


def test_cores_stretched_with_their_levels() -> None:
    """Times 100 / 80: lead 30 to 12.5 cm, 60 to 37.5 cm; a cut at 25 cm halves each; the bed lies at -4.10 m."""
    record = {"recovery_pct": 80.0, "linear_factor": 1.25, "bed_level_m": -4.1, "datum": "chart datum"}
    common = record | {"depth_rule": "linear", "cut_cm": 25.0, "cut_covered_pct": 100.0, "cut_m": pytest.approx(-4.35)}
    dde = DDE | common | {
        "peak_bottom_cm": 12.5, "cut_mean": 2.5, "cut_mean_low": 2.0, "cut_mean_high": 3.0, "peak_top_m": -4.1,
        "peak_bottom_m": pytest.approx(-4.225), "note": f"{STRETCHED}; {HALF}; {BARE}",
    }  # fmt: skip
    missing = "penetration or recovered length is missing: depths as recorded"
    assert made("25 cm", "linear")[0] == [
        OTHER
        | {"cut_cm": 25.0, "cut_mean": 5.0, "cut_mean_low": 5.0, "cut_mean_high": 5.0, "cut_covered_pct": 80.0}
        | {"note": f"one interval: no profile; {missing}; {PART}; {ABOVE}"},
        LEAD
        | common
        | {"peak_top_cm": 12.5, "peak_bottom_cm": 37.5, "cut_mean": 45.0, "cut_mean_low": 45.0, "cut_mean_high": 45.0}
        | {"left_value": 60.0, "peak_top_m": pytest.approx(-4.225), "peak_bottom_m": pytest.approx(-4.475)}
        | {"note": f"{GAP}; {DEEPER}; {STRETCHED}"},
        dde | {"substance": "4,4'-DDE"},
        dde | {"substance": "dde", "rule": "zero"},
    ]


def row(**more: Any) -> dict[str, Any]:
    return {
        "core": "C-A", "station": "K", "part": "cut", "top_cm": 0.0, "bottom_cm": 40.0, "substance": "Lead", "set": SET,
        "basis": "dry", "unit": "mg/kg", "lower_name": "TEC", "lower_level": 35.8, "upper_name": "PEC",
        "upper_level": 128.0, "evidence": "seen", "settled": False,
    } | more  # fmt: skip


SUM = {"substance": "Sum DDE", "total": "dde", "unit": "ug/kg", "lower_level": 3.16, "upper_level": 31.3}
COVER = "the samples cover only a part of the cut"


def test_cuts_that_the_samples_cover_in_part() -> None:
    assert made("40 cm")[1] == [
        row(core="C-B", station="L", covered_pct=50.0, value=5.0, low=5.0, high=5.0, finding="below", note=COVER),
        row(covered_pct=75.0, value=50.0, low=50.0, high=50.0, finding="between", note=COVER),
        row(covered_pct=75.0, value=pytest.approx(2.0), low=pytest.approx(40 / 30), high=pytest.approx(80 / 30),
            finding="undetermined", note=COVER, **SUM),
        row(part="left", top_cm=40.0, bottom_cm=60.0, low=0.0, high=20.0, finding="below", settled=True),
    ]  # fmt: skip


def test_cuts_through_stretched_intervals() -> None:
    prism, left = {"bottom_cm": 25.0}, {"part": "left", "top_cm": 12.5, "bottom_cm": 37.5}
    assert made("25 cm", "linear")[1] == [
        row(core="C-B", station="L", covered_pct=80.0, value=5.0, low=5.0, high=5.0, finding="below", **prism)
        | {"note": COVER},
        row(covered_pct=100.0, value=45.0, low=45.0, high=45.0, finding="between", settled=True, **prism),
        row(covered_pct=100.0, value=2.5, low=2.0, high=3.0, finding="undetermined", **prism, **SUM),
        row(value=60.0, low=60.0, high=60.0, finding="between", settled=True, **left),
        row(low=0.0, high=2.0, finding="undetermined", **left, **SUM),
    ]  # fmt: skip


def test_without_a_cut_nothing_is_cut() -> None:
    assert made(None)[1] == []
