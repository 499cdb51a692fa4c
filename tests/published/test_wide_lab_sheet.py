"""A laboratory's own workbook, sheet by sheet as text files: samples, duplicate, blanks, control sample, spike.

Source: batch workbook of the Great Lakes tributary PAH study, 2017 (public); read from the folder that
SILTMARK_OPEN_DATA names. Cells are in place: eight empty rows, a block of sample attributes, analytes down.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from harness import Outcome, filled_cells, run_siltmark

pytestmark = pytest.mark.open_data
SHEETS = [f"wide_lab_sheet_batch_A_{kind}.csv" for kind in ("Main", "DUP", "PB", "LCS", "MS")]
MAIN = SHEETS[0]
ANALYTES = 37  # 36 PAHs and alkyl groups, biphenyl


@pytest.fixture(scope="module")
def cells(open_data: Path) -> list[list[str]]:
    with (open_data / MAIN).open(encoding="utf-8", newline="") as handle:
        return list(csv.reader(handle))


@pytest.fixture(scope="module")
def run(open_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    out = tmp_path_factory.mktemp("wide") / "out"
    paths = [open_data / name for name in SHEETS]
    arguments = ["screen", *paths, "--out", out, "--guidelines", "consensus-2000-fresh", "--tables-only"]
    return run_siltmark(*arguments, out=out)


def row_of(cells: list[list[str]], name: str) -> dict[str, str]:
    """One line of the main sheet by sample."""
    line = next(line for line in cells if line[0] == name)
    heads = next(line for line in cells if line[0] == "Client ID")
    return {head: line[i] for i, head in enumerate(heads) if i and head}


def test_nothing_is_lost(run: Outcome, open_data: Path) -> None:
    assert run.status == 0, run.stderr[:2000]
    wanted = sum(filled_cells(open_data / name) for name in SHEETS)
    assert run.record["counts"]["cells"] == wanted
    assert run.ledger["cells"].replace("", "0").astype(int).sum() == wanted
    assert run.record["conserved"] is True


def test_twenty_samples_are_read_and_no_blank_or_spike(run: Outcome, cells: list[list[str]]) -> None:
    wanted = set(row_of(cells, "Client ID"))
    assert len(wanted) == 20
    assert set(run.results["sample"]) == wanted
    assert set(run.samples["sample"]) == wanted


def test_each_sample_has_every_pah_once(run: Outcome) -> None:
    pahs = run.results[run.results["unit"] == "ug/kg"]
    counts = pahs.groupby("sample").size()
    assert set(counts) == {ANALYTES}


def test_figures_are_those_of_the_cells(run: Outcome, cells: list[list[str]]) -> None:
    for name in ("Naphthalene", "Pyrene", "Benzo(a)pyrene", "Perylene"):
        for sample, text in row_of(cells, name).items():
            row = run.one("results", sample=sample, substance=name)
            assert float(row["value"] or row["limit"]) == float(text), (sample, name)


def test_the_flag_beside_a_cell_is_read(run: Outcome) -> None:
    """ICR-SED-PAH: C4-naphthalenes 0.21 U, naphthalene 0.43 J."""
    row = run.one("results", sample="ICR-SED-PAH", substance="C4-Naphthalenes")
    assert (row["kind"], row["qualifier"], float(row["limit"])) == ("nondetect", "U", 0.21)
    row = run.one("results", sample="ICR-SED-PAH", substance="Naphthalene")
    assert (row["qualifier"], row["detected"]) == ("J", "true")


def test_units_and_moisture_come_from_the_attributes(run: Outcome, cells: list[list[str]]) -> None:
    assert set(run.results.loc[run.results["group"] == "pah", "reported_basis"]) == {"dry"}
    for sample, text in row_of(cells, "% Moisture").items():
        assert math.isclose(float(run.one("samples", sample=sample)["solids_pct"]), 100 - float(text)), sample


def test_the_parents_on_other_sheets_are_counted_once(run: Outcome) -> None:
    repeated = [row for row in run.rows("ledger", became="duplicate") if row["file"] != MAIN]
    # the parent of the duplicate and of the spike, 37 rows each
    assert len(repeated) >= 2 * ANALYTES


def test_duplicate_blanks_control_sample_and_spike_are_quality_control(run: Outcome) -> None:
    for name in SHEETS[1:]:
        assert len(run.rows("ledger", became="qc", file=name)) >= ANALYTES, name
        assert run.rows("ledger", became="result", file=name) == [], name


def test_surrogates_are_quality_control(run: Outcome) -> None:
    assert len(run.rows("ledger", became="qc", file=MAIN)) == 4 * 20


def test_the_laboratorys_16_pah_total_is_met(run: Outcome, cells: list[list[str]]) -> None:
    for sample, text in row_of(cells, "Priority Pollutant PAH").items():
        row = run.one("totals", sample=sample, total="pah-16")
        assert math.isclose(float(row["value"]), float(text), rel_tol=1e-9), sample
        assert float(row["lab_total"]) == float(text)


def test_totals_are_no_results(run: Outcome) -> None:
    assert len(run.rows("ledger", became="lab-total", file=MAIN)) == 40


def test_the_compilation_of_many_studies_loses_nothing(
    open_data: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """USGS Open-File Report 02-403 (Buchholtz ten Brink and others 2002): 975 samples, free-text flags and depths."""
    out = tmp_path_factory.mktemp("compilation") / "out"
    path = open_data / "gulf_of_maine_pcb_pesticides_975.csv"
    run = run_siltmark("screen", path, "--out", out, "--water", "marine", "--basis", "dry", "--tables-only", out=out)
    assert run.status in (0, 1), run.stderr[:2000]
    assert run.record["counts"]["cells"] == filled_cells(path)
    assert run.record["conserved"] is True
    assert len(run.results) > 1000


def test_an_export_of_water_results_gives_no_result(open_data: Path, tmp_path: Path) -> None:
    """A true export in the WQX 3 result profile whose medium is water: nothing is compared with sediment levels."""
    out = tmp_path / "out"
    path = open_data / "wqx3_result_export_water_67.csv"
    run = run_siltmark("screen", path, "--out", out, "--tables-only", out=out)
    assert (run.status, out.exists()) == (1, False)
    assert "water" in run.stderr.lower()


def test_reading_the_export_of_water_results_counts_every_row_as_ignored(open_data: Path) -> None:
    import json

    path = open_data / "wqx3_result_export_water_67.csv"
    found = json.loads(run_siltmark("read", path, "--json").stdout)
    assert found["counts"]["results"] == 0
    assert found["counts"]["ignored"] == 67
