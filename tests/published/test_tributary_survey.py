"""A federal survey of 71 tributary bed sediments, 2017: the laboratory's own PAH totals are the answers.

Source: United States Geological Survey, Great Lakes tributary PAH study, 2017 (public); read from the folder that
SILTMARK_OPEN_DATA names. The sheet has no sample column: station stands for sample (one visit each).
"""

from __future__ import annotations

import math
from pathlib import Path

import pandas as pd
import pytest
from harness import Outcome, filled_cells, run_siltmark

pytestmark = pytest.mark.open_data
LONG = "great_lakes_tributary_pah_2017_long.csv"
SECOND = "great_lakes_tributary_pah_2017_second_lab.csv"


@pytest.fixture(scope="module")
def sheet(open_data: Path) -> pd.DataFrame:
    frame = pd.read_csv(open_data / LONG, dtype=str, keep_default_na=False)
    return frame.assign(row=range(2, 2 + len(frame)))


@pytest.fixture(scope="module")
def run(open_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    out = tmp_path_factory.mktemp("tributary") / "out"
    arguments = ["screen", open_data / LONG, "--out", out, "--guidelines", "consensus-2000-fresh", "--tables-only"]
    return run_siltmark(*arguments, out=out)


def joined(run: Outcome, sheet: pd.DataFrame, kind: str) -> pd.DataFrame:
    results = run.results.assign(row=run.results["row"].astype(int))
    return sheet[sheet["parameter_class"] == kind].merge(results, on="row")


def test_nothing_is_lost(run: Outcome, open_data: Path) -> None:
    assert run.status == 0, run.stderr[:2000]
    cells = filled_cells(open_data / LONG)
    assert run.record["counts"]["cells"] == cells
    assert run.ledger["cells"].replace("", "0").astype(int).sum() == cells
    assert run.record["conserved"] is True


def test_there_are_71_samples_named_by_their_station(run: Outcome, sheet: pd.DataFrame) -> None:
    assert set(run.results["station"]) == set(sheet["station_id"])
    assert run.results["sample"].nunique() == 71


def test_every_pah_row_is_a_result(run: Outcome, sheet: pd.DataFrame) -> None:
    assert len(joined(run, sheet, "PAH")) == 2556
    assert len(joined(run, sheet, "CON")) == 71


def test_the_134_flagged_zeros_are_nondetects_at_their_limit(run: Outcome, sheet: pd.DataFrame) -> None:
    rows = pd.concat([joined(run, sheet, "PAH"), joined(run, sheet, "CON")])
    rows = rows[rows["lab_qualifier"] == "U"]
    assert len(rows) == 134
    assert set(rows["kind"]) == {"nondetect"}
    assert (rows["limit"].astype(float) == rows["detect_limit"].astype(float)).all()


def test_the_9_grain_size_zeros_are_zeros(run: Outcome, sheet: pd.DataFrame) -> None:
    rows = joined(run, sheet, "GS_P")
    rows = rows[rows["result_x" if "result_x" in rows else "result"].astype(float) == 0]
    assert len(rows) == 9
    assert set(rows["kind"]) == {"exact"}
    assert (rows["value"].astype(float) == 0).all()


def test_surrogates_and_totals_are_no_results(run: Outcome, sheet: pd.DataFrame) -> None:
    assert len(joined(run, sheet, "PAH_SURR")) == 0
    assert len(joined(run, sheet, "PAH_TOT")) == 0
    assert len(run.rows("ledger", became="lab-total")) == 142
    assert len(run.rows("ledger", became="qc")) == 284


def test_the_laboratorys_16_pah_total_is_met_in_71_of_71(run: Outcome, sheet: pd.DataFrame) -> None:
    rows = sheet[sheet["parameter_description"] == "Priority Pollutant PAH_SUM"]
    wanted = dict(zip(rows["station_id"], rows["result"].astype(float), strict=True))
    ours = {row["station"]: row for row in run.rows("totals", total="pah-16")}
    assert len(wanted) == len(ours) == 71
    assert [k for k, v in wanted.items() if not math.isclose(float(ours[k]["value"]), v, rel_tol=1e-9)] == []


def test_the_laboratorys_total_stands_beside_ours(run: Outcome) -> None:
    rows = run.rows("totals", total="pah-16")
    assert all(row["lab_total"] for row in rows)
    assert max(abs(float(row["lab_difference_pct"])) for row in rows) < 1e-9


def test_38_samples_are_warned_of_solids_and_moisture(run: Outcome) -> None:
    rows = run.rows("quality", check="solids", note="solids and moisture together")
    assert len({row["sample"] for row in rows if row["outcome"] == "outside"}) == 38
    assert "solids and moisture" in run.stderr


def test_dry_results_stand_beside_solids_that_do_not_add_up(run: Outcome, sheet: pd.DataFrame) -> None:
    rows = joined(run, sheet, "PAH")
    assert set(rows["used"]) == {"true"}


def test_the_sample_without_carbon_has_none(run: Outcome) -> None:
    rows = [row for row in run.rows("samples") if row["station"] == "04119300"]
    assert [row["toc_pct"] for row in rows] == [""]


def test_findings_are_those_of_a_plain_comparison(run: Outcome, sheet: pd.DataFrame) -> None:
    """TEC and PEC of pyrene, 195 and 1520 ug/kg (MacDonald, Ingersoll and Berger 2000), against the sheet's ng/g."""
    rows = sheet[sheet["parameter_description"] == "Pyrene"]
    for station, text in zip(rows["station_id"], rows["result"], strict=True):
        value = float(text)
        expected = "above" if value > 1520 else "between" if value > 195 else "below"
        found = [r for r in run.rows("findings", substance="Pyrene") if r["station"] == station]
        assert [row["finding"] for row in found] == [expected], station


def test_the_second_laboratory(open_data: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    out = tmp_path_factory.mktemp("second") / "out"
    # the basis stands only inside the names ("..., dry weight, micrograms per kilogram")
    arguments = ["screen", open_data / SECOND, "--out", out, "--water", "fresh", "--basis", "dry", "--tables-only"]
    run = run_siltmark(*arguments, out=out)
    assert run.status == 0, run.stderr[:2000]
    assert run.record["counts"]["cells"] == filled_cells(open_data / SECOND)
    assert run.record["conserved"] is True
    # 209 rows are flagged "<" and carry 0 and no limit
    frame = pd.read_csv(open_data / SECOND, dtype=str, keep_default_na=False)
    flagged = {i + 2 for i in frame.index[(frame["lab_qualifier"] == "<") & (frame["units"] == "ug/kg")]}
    results = run.results[run.results["row"].astype(int).isin(flagged)]
    assert set(results["detected"]) <= {"false"}
    assert set(results["value"]) <= {""}
    # recoveries are quality control, not concentrations
    assert not [row for row in run.rows("results") if row["reported_unit"] == "%"]


def test_both_laboratories_in_one_batch_lose_nothing(open_data: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    out = tmp_path_factory.mktemp("both") / "out"
    paths = [open_data / LONG, open_data / SECOND]
    arguments = ["screen", *paths, "--out", out, "--guidelines", "consensus-2000-fresh", "--tables-only"]
    run = run_siltmark(*arguments, out=out)
    assert run.status == 0, run.stderr[:2000]
    assert run.record["counts"]["cells"] == sum(filled_cells(path) for path in paths)
    assert run.results["station"].nunique() == 71
