"""The screening done by other means: short scripts over general libraries come to the same findings, row by row.

Invented batches; levels and lists are those of `guidelines/`, the arithmetic is written anew in each script.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from harness import run_siltmark

from tests.benchmarks.agreement import DisagreementError, must_agree
from tests.benchmarks.batches import lab_batch, write_field_record, write_lab_workbook, write_long_csv
from tests.benchmarks.by_hand import with_spreadsheet

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def screened(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("long")
    write_long_csv(folder / "batch.csv", 4_000)
    outcome = run_siltmark("screen", folder / "batch.csv", "--out", folder / "out", "--tables-only", "--water", "fresh")
    assert outcome.status == 0, outcome.stderr
    return folder


@pytest.mark.parametrize("library", ["pandas", "polars"])
def test_findings_are_those_of_a_short_script(screened: Path, library: str) -> None:
    pytest.importorskip(library)
    theirs = screened / f"{library}.csv"
    script = f"tests.benchmarks.by_hand.with_{library}"
    subprocess.run([sys.executable, "-m", script, screened / "batch.csv", theirs], check=True, cwd=ROOT)
    assert must_agree(screened / "out" / "tables" / "findings.csv", theirs, library) == 40 * 23


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("soffice") is None, reason="needs LibreOffice")
def test_findings_are_those_of_a_spreadsheet(tmp_path: Path) -> None:
    write_lab_workbook(tmp_path / "lab.xlsx")
    write_field_record(tmp_path)
    field = ["--field", tmp_path / "stations.csv", "--field", tmp_path / "samples.csv"]
    outcome = run_siltmark("screen", tmp_path / "lab.xlsx", *field, "--out", tmp_path / "out", "--tables-only")
    assert outcome.status == 0, outcome.stderr
    with_spreadsheet.write_formulas(tmp_path / "formulas.xlsx", lab_batch())
    subprocess.run(with_spreadsheet.command(tmp_path / "formulas.xlsx", tmp_path), check=True, capture_output=True)
    theirs = tmp_path / "formulas-findings.csv"
    assert must_agree(tmp_path / "out" / "tables" / "findings.csv", theirs, "spreadsheet") == 60 * 29


@pytest.mark.parametrize("change", [{"value": 1.0000001}, {"finding": "below"}, {"sample": "S2"}])
def test_a_difference_ends_the_run(tmp_path: Path, change: dict[str, object]) -> None:
    row = {"sample": "S1", "substance": "Lead", "value": 1.0, "finding": "above"}
    pd.DataFrame([row]).to_csv(tmp_path / "ours.csv", index=False)
    pd.DataFrame([row | change]).to_csv(tmp_path / "theirs.csv", index=False)
    with pytest.raises(DisagreementError):
        must_agree(tmp_path / "ours.csv", tmp_path / "theirs.csv", "theirs")
