"""The stages as plain functions, as a notebook would call them (contract, section 3)."""

from __future__ import annotations

from pathlib import Path

import pytest
from harness import write_csv

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
