"""Every cell, every result and every reason adds up inside each run; a run that cannot say so stops as a bug."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from harness import run_siltmark, write_csv

from screen.stages.read import deciding

HEAD = ["Sample", "Analyte", "Result", "Unit"]
ROWS = [["QE-1", "Lead", "5", "mg/kg dry"], ["QE-1", "Zinc", "<6", "mg/kg dry"], ["QE-2", "Lead", "7", "mg/kg dry"]]


def lost_entry(ledger: pd.DataFrame) -> pd.DataFrame:
    return ledger.iloc[:-1]


def lost_cell(ledger: pd.DataFrame) -> pd.DataFrame:
    return ledger.assign(cells=ledger["cells"] - (ledger.index == 1))


def another_result(ledger: pd.DataFrame) -> pd.DataFrame:
    """Two entries that name one result."""
    ids = ledger["result_id"].copy()
    named = ids.notna().to_numpy().nonzero()[0]
    ids.iloc[named[0]] = ids.iloc[named[1]]
    return ledger.assign(result_id=ids)


@pytest.mark.parametrize("fault", [lost_entry, lost_cell, another_result])
def test_a_ledger_that_does_not_add_up_stops_the_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Callable[[pd.DataFrame], pd.DataFrame]
) -> None:
    built = deciding.build_ledger

    def broken(*given: Any) -> Any:
        ledger, *rest = built(*given)
        return (fault(ledger), *rest)

    monkeypatch.setattr(deciding, "build_ledger", broken)
    path = write_csv(tmp_path / "lab.csv", [HEAD, *ROWS])
    run = run_siltmark("screen", path, "--out", tmp_path / "out", "--water", "fresh")
    assert run.status == 1
    assert "fault of the tool, not of your files" in run.stderr
    assert "report it" in run.stderr
    assert not (tmp_path / "out").exists()


def test_the_record_says_that_it_adds_up(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "lab.csv", [HEAD, *ROWS])
    run = run_siltmark(
        "screen", path, "--out", tmp_path / "out", "--water", "fresh", "--tables-only", out=tmp_path / "out"
    )
    assert run.record["conserved"] is True
    assert run.record["counts"]["cells"] == 16 == sum(int(row["cells"]) for row in run.rows("ledger"))
