"""Names of samples that look as if they hold station and depth: offered as a field record, never read so by itself."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from sheets_by_hand import write_text

from screen.settings import Settings
from screen.stages.read.batch import read
from screen.stages.read.field.from_names import field_lines
from screen.stages.read.summary import render, summarise


@pytest.mark.parametrize(
    ("name", "station", "top", "bottom"),
    [
        ("QE-1 (0-10 cm)", "QE-1", "0 cm", "10 cm"),
        ("QE-01-10-30cm", "QE-01", "10 cm", "30 cm"),
        ("C7_0-6 in", "C7", "0 cm", "15.24 cm"),
        ("W03, 0-0.5 ft", "W03", "0 cm", "15.24 cm"),
    ],
)
def test_station_and_depth_are_offered(name: str, station: str, top: str, bottom: str) -> None:
    rows = list(csv.reader(field_lines([name]).splitlines()))
    assert rows == [["sample", "station", "top", "bottom"], [name, station, top, bottom]]


@pytest.mark.parametrize("name", ["QE-1", "C7_0-10", "DUP-A", "10-30 cm", "QE-1 30-10 cm", "W03 5 cm", ""])
def test_nothing_is_offered_without_station_interval_and_unit(name: str) -> None:
    assert field_lines([name]) == ""


def test_the_lines_that_read_shows_make_a_field_record(tmp_path: Path) -> None:
    stations = tmp_path / "stations.csv"
    stations.write_text("station,river_km,water\nLW-01,2.1,estuarine\n", encoding="utf-8")
    rows = [["Analyte", "Units", "LW-01 (0-10 cm)"], ["Lead", "mg/kg", 30], ["Zinc", "mg/kg", 98]]
    sheet = write_text(tmp_path / "lab.csv", rows)
    before = read([sheet], Settings(field=(stations,)))
    lines = [line[2:] for line in render(summarise(before)).splitlines()]
    offered = tmp_path / "samples.csv"
    offered.write_text("\n".join(lines[lines.index("sample,station,top,bottom") :][:2]) + "\n", encoding="utf-8")
    after = read([sheet], Settings(field=(stations, offered)))
    sample = after.samples.iloc[0]
    assert (sample["station"], sample["water"], sample["depth_bottom_cm"]) == ("LW-01", "estuarine", 10.0)
    assert "sample-not-in-field-record" in {one.code for one in before.problems}
    assert "sample-not-in-field-record" not in {one.code for one in after.problems}
