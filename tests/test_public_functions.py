"""The stages as plain functions, as a notebook would call them (contract, section 3)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from harness import run_siltmark, write_csv

import screen
from screen.model import FINDINGS, STATIONS, TOTALS

HEADER = ("Sample ID", "Parameter", "Result", "Units", "Basis")


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    rows = [HEADER, ("NB-1", "Lead", "140", "mg/kg", "dry"), ("NB-1", "Zinc", "20", "mg/kg", "dry")]
    return write_csv(tmp_path / "lab.csv", rows)


def test_one_path_may_stand_alone(sheet: Path) -> None:
    assert len(screen.read(str(sheet)).results) == len(screen.read([sheet]).results) == 2


def test_sets_may_be_named_by_their_ids(sheet: Path) -> None:
    batch = screen.normalise(screen.read(sheet))
    findings = screen.compare(batch.results, screen.total(batch.results), ["consensus-2000-fresh"])
    assert list(findings.columns[: len(FINDINGS)]) == list(FINDINGS)
    assert findings["finding"].astype(str).tolist() == ["above", "below"]


def test_a_set_that_does_not_exist_is_told_with_the_nearest(sheet: Path) -> None:
    batch = screen.normalise(screen.read(sheet))
    with pytest.raises(ValueError, match="Did you mean consensus-2000-fresh"):
        screen.compare(batch.results, screen.total(batch.results), ["consensus-2000"])


def test_totals_and_stations_have_the_columns_of_their_tables(sheet: Path) -> None:
    batch = screen.normalise(screen.read(sheet))
    totals = screen.total(batch.results)
    assert (list(totals), list(screen.stations(batch, totals))) == (list(TOTALS), list(STATIONS))


def test_the_whole_job_gives_a_run_and_its_report(sheet: Path, tmp_path: Path) -> None:
    screen.report(screen.run(sheet), tmp_path / "report.html")
    assert "NB-1" in (tmp_path / "report.html").read_text(encoding="utf-8")


# -- frames made by hand ----------------------------------------------------------------------------------------------

AROCLORS = [f"Aroclor {number}" for number in (1016, 1221, 1232, 1242, 1248, 1254, 1260)]


def frame(**columns: Any) -> pd.DataFrame:
    return pd.DataFrame(columns)


def of_seven(**more: Any) -> pd.DataFrame:
    """The contract's example: one Aroclor of 40 and six not detected below 33."""
    values = [None] * 5 + [40.0, None]
    limits = [33.0] * 5 + [None, 33.0]
    return frame(sample="NB-1", substance=AROCLORS, value=values, limit=limits, **more)


def one(table: pd.DataFrame, **wanted: str) -> dict[str, Any]:
    for name, text in wanted.items():
        table = table[table[name] == text]
    assert len(table) == 1, table.to_string()
    return {str(name): value for name, value in table.astype(object).to_dict("records")[0].items()}


def test_a_sum_of_a_frame_with_the_fewest_columns() -> None:
    row = one(screen.total(of_seven()), total="pcb-aroclors")
    assert (row["value"], row["low"], row["high"], row["complete"]) == (40.0, 40.0, 238.0, True)
    assert (row["measured"], row["detects"], row["station"]) == (7, 1, "NB-1")


def test_a_finding_of_a_frame_with_the_fewest_columns() -> None:
    results = of_seven()
    row = one(screen.compare(results, screen.total(results), ["consensus-2000-fresh"]))
    assert (row["finding"], row["settled"], row["high"]) == ("below", False, 238.0)


def test_one_rule_and_one_set_may_stand_alone() -> None:
    results = of_seven()
    totals = screen.total(results, nondetects="half")
    assert one(totals, total="pcb-aroclors")["value"] == 40 + 6 * 16.5
    assert screen.compare(results, totals, "consensus-2000-fresh", nondetects="half")["value"].tolist() == [139.0]


def test_figures_in_another_unit_are_converted() -> None:
    results = frame(sample="A", substance=["4,4'-DDE", "2,4'-DDE"], value=[0.002, 3.0], unit=["mg/kg", "ng/g"])
    assert one(screen.total(results), total="dde")["value"] == pytest.approx(5.0, rel=1e-12)
    lead = frame(sample=["A"], substance=["Lead"], value=[36_000.0], unit=["ug/kg"])
    row = one(screen.compare(lead, None, "consensus-2000-fresh"))
    assert (row["value"], row["unit"], row["finding"]) == (36.0, "mg/kg", "between")


def test_a_sum_in_another_unit_of_its_members() -> None:
    """PCB-126 at 50 ng/kg: 5 ng/kg as TEQ, its factor being 0.1 (van den Berg et al. 2006)."""
    results = frame(sample=["A"], substance=["PCB-126"], value=[50.0], unit=["ng/kg"])
    assert one(screen.total(results), total="teq-2005-pcb")["value"] == pytest.approx(5.0, rel=1e-12)


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"substance": ["Lead"], "value": [1.0]}, "no column sample"),
        ({"sample": ["A"], "substance": ["Lead"]}, "no column value or limit"),
        ({"sample": ["A"], "substance": ["Lead"], "value": [1.0], "unit": ["m"]}, "Lead in 'm' cannot be brought"),
        ({"sample": ["A"], "substance": ["Pb"], "value": [1.0]}, "'Pb' (its name here is 'Lead')"),
        ({"sample": ["A"], "substance": ["Lead"], "value": ["1,5"]}, "column value holds a text"),
        ({"sample": ["A"], "substance": ["Lead"], "value": [1.0], "used": ["maybe"]}, "used must hold true or false"),
        ({"sample": ["A"], "substance": ["Lead"], "value": [1.0], "detected": [False]}, "give its limit"),
    ],
)
def test_what_cannot_be_understood_is_refused(columns: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError) as told:
        screen.total(frame(**columns))
    assert said in str(told.value)


def test_results_that_are_not_on_dry_weight_yet_are_refused(sheet: Path) -> None:
    with pytest.raises(ValueError, match="normalise first"):
        screen.total(screen.read(sheet).results)


@pytest.mark.parametrize(
    ("kind", "row", "low", "high"),
    [
        ("exact", {"value": 2.0}, 2, 2),
        ("nondetect", {"limit": 2.0}, 0, 2),
        ("trace", {"high": 2.0}, 0, 2),
        ("more-than", {"value": 2.0}, 2, None),
        ("estimated-maximum", {"value": 2.0}, 0, 2),
    ],
)
def test_bounds_follow_from_the_kind(kind: str, row: dict[str, float], low: float, high: float | None) -> None:
    columns = {"value": None, "limit": None, **row, "kind": kind}
    results = frame(sample=["A"], substance=["4,4'-DDE"], **{name: [text] for name, text in columns.items()})
    made = one(screen.total(results), total="dde")
    assert (made["low"], None if pd.isna(made["high"]) else made["high"]) == (low, high)


def test_an_estimate_marks_its_sum() -> None:
    results = frame(sample="A", substance=["4,4'-DDE", "2,4'-DDE"], value=[1.0, 2.0], qualifier=[None, "JB"])
    assert one(screen.total(results), total="dde")["qualifier"] == "J"


def test_a_sum_by_the_sets_own_rule_is_made_where_the_totals_lack_it(tmp_path: Path) -> None:
    text = """title = "T"
citation = "T"
water = ["fresh"]
levels = ["LOW", "HIGH"]
lower = "LOW"
upper = "HIGH"
basis = "dry"
nondetects = "half"
caveats = ["For tests only."]
[sums]
"Total PCBs" = ["pcb-aroclors"]
"""
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    (tmp_path / "own.csv").write_text("substance,LOW,HIGH,unit\nTotal PCBs,59.8,676,ug/kg\n", encoding="utf-8")
    results = of_seven()
    row = one(screen.compare(results, screen.total(results), tmp_path / "own.toml"))
    assert (row["value"], row["finding"]) == (139.0, "between")


def test_totals_made_by_hand() -> None:
    totals = frame(sample=["A", "B"], total=["pcb-aroclors", "pcb-aroclors-lab"], value=[60.0, 700.0])
    results = frame(sample=["A", "B"], substance=["Zinc", "Zinc"], value=[1.0, 1.0])
    found = screen.compare(results, totals, "consensus-2000-fresh")
    assert found[found["total"].notna()]["finding"].astype(str).tolist() == ["between", "above"]


def test_stations_of_a_frame() -> None:
    results = frame(
        sample=["A", "B", "C"], station=["S", "S", "S"], parent=[None, None, "B"], substance=["Lead"] * 3,
        value=[10.0, 20.0, 40.0], depth_top_cm=[0.0, 0.0, 0.0],
    )  # fmt: skip
    row = one(screen.stations(results), layer="surface")
    assert (row["n"], row["detects"], row["mean"], row["max"]) == (2, 2, 20.0, 30.0)


def test_tables_that_were_written_give_the_same_again(tmp_path: Path) -> None:
    """results.csv as a spreadsheet program or pandas gives it back: totals, findings and stations of the run."""
    got = run_siltmark("demo", "--out", tmp_path / "out", out=tmp_path / "out")
    assert got.status == 0
    tables = {
        name: pd.read_csv(tmp_path / "out" / "tables" / f"{name}.csv")
        for name in ("results", "totals", "findings", "stations", "samples")
    }
    totals = screen.total(tables["results"])
    ours = tables["totals"][~tables["totals"]["total"].str.endswith("-lab")]
    key = ["sample", "total"]
    together = ours.merge(totals.astype(dict.fromkeys(key, object)), on=key, suffixes=("", "_again"))
    assert len(together) == len(ours) == len(totals)
    for name in ("value", "low", "high", "limit"):
        again, written = together[f"{name}_again"].tolist(), together[name].tolist()
        assert again == pytest.approx(written, rel=1e-9, nan_ok=True), name
    for name in ("complete", "qualifier"):
        assert together[f"{name}_again"].astype(object).fillna("").tolist() == together[name].fillna("").tolist(), name
    named = dict.fromkeys(tables["findings"]["set"])
    found = screen.compare(tables["results"], tables["totals"], list(named), samples=tables["samples"])
    key = ["sample", "set", "substance", "total"]
    plain = {**dict.fromkeys(key, object), "finding": object}
    told = tables["findings"].astype(plain).fillna({"total": ""})
    told = told[told["finding"] != "not-assessed"]
    both = told.merge(found.astype(plain).fillna({"total": ""}), on=key, suffixes=("", "_again"))
    assert len(both) == len(told) > 100
    assert both["finding_again"].tolist() == both["finding"].tolist()
    places = screen.stations(tables["results"], tables["totals"], samples=tables["samples"])
    key = ["station", "layer", "substance"]
    both = tables["stations"].merge(places.astype(dict.fromkeys(key, object)), on=key, suffixes=("", "_again"))
    assert len(both) == len(places) == len(tables["stations"])
    assert both["mean_again"].tolist() == pytest.approx(both["mean"].tolist(), rel=1e-9, nan_ok=True)
