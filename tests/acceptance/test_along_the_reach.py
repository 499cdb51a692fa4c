"""Small and odd field records through the whole job: plain sentences in place of broken charts, dates, places, cuts."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from harness import Outcome, run_siltmark, write_csv

HEAD = ["Sample", "Station", "Analyte", "Result", "Unit", "Basis"]
FIELD = """station,river_km,latitude,longitude,water
K-1,4.2 km,,,fresh

core,station,date,penetration,recovered,bed_level,datum
K-1-C,K-1,2026-05-12,4 1/2 ft,39 1/2 in,-3.2 m,{datum}

sample,core,top,bottom,colour,texture
K-1-C1,K-1-C,0 in,4 1/2 in,5Y 2.5/1,clayey silt
"""


def screened(folder: Path, rows: list[list[object]], field: str = "", settings: str = "") -> Outcome:
    write_csv(folder / "lab.csv", rows)
    (folder / "field.csv").write_text(field, encoding="utf-8")
    (folder / "settings.toml").write_text(('field = ["field.csv"]\n' if field else "") + settings, encoding="utf-8")
    out = folder / "out"
    run = run_siltmark("screen", folder / "lab.csv", "--settings", folder / "settings.toml", "--out", out, out=out)
    assert run.status == 0, run.stderr[:2000]
    return run


@pytest.fixture
def one_interval(tmp_path: Path) -> Outcome:
    rows: list[list[object]] = [HEAD, ["K-1-C1", "K-1", "Lead", "55", "mg/kg", "dry"]]
    return screened(tmp_path, rows, FIELD.format(datum="chart datum"), '[cores]\ncut = "30 cm"\n')


def test_one_station_without_coordinates_and_one_interval_are_said_in_words(one_interval: Outcome) -> None:
    page = (one_interval.out / "report.html").read_text(encoding="utf-8")
    assert "at least two stations" in page
    assert not re.search(r">\s*nan|[\" ,]nan[\" ,]", page)
    assert "one interval: no profile" in one_interval.one("cores", substance="Lead")["note"]
    assert "no area mean" in one_interval.one("reach", place="all", layer="all", substance="Lead")["note"]


def test_the_report_says_which_stations_the_pictures_leave_out(tmp_path: Path) -> None:
    field = "station,river_km,latitude,longitude,water\nK-1,1 km,45.1,-30.4,fresh\nK-2,2 km,45.11,-30.4,fresh\n"
    field += "K-3,,,,fresh\n"
    rows: list[list[object]] = [
        HEAD,
        *([f"S{at}", f"K-{at}", "Lead", str(90 * at), "mg/kg", "dry"] for at in (1, 2, 3)),
    ]
    page = (screened(tmp_path, rows, field).out / "report.html").read_text(encoding="utf-8")
    assert "Not on the map, for want of coordinates: K-3." in page
    assert "In no profile and no trend, for want of a river km: K-3." in page
    assert "No trend along the river was tested: at most 2 stations" in page
    assert not re.search(r">\s*nan|[\" ,]nan[\" ,]", page)


def test_a_core_of_one_interval_and_a_batch_without_coordinates_are_said_in_words(one_interval: Outcome) -> None:
    page = (one_interval.out / "report.html").read_text(encoding="utf-8")
    assert "No map: no station has coordinates." in page
    assert "Each core of this batch has one interval: no profile down a core." in page
    assert "What the cut leaves bare was not sampled" in page


def test_lengths_in_feet_and_inches_give_recovery_elevations_and_stretched_depths(one_interval: Outcome) -> None:
    """4 1/2 ft is 137.16 cm and 39 1/2 in is 100.33 cm; 4 1/2 in is 11.43 cm."""
    sample = one_interval.one("samples", sample="K-1-C1")
    assert float(sample["depth_bottom_cm"]) == 11.43
    assert float(sample["depth_bottom_linear_cm"]) == pytest.approx(11.43 * 137.16 / 100.33, rel=1e-12)
    assert float(sample["elevation_bottom_m"]) == pytest.approx(-3.2 - 0.1143, rel=1e-12)
    core = one_interval.one("cores", substance="Lead")
    assert float(core["recovery_pct"]) == pytest.approx(100 * 100.33 / 137.16, rel=1e-12)
    assert float(core["cut_m"]) == pytest.approx(-3.5, rel=1e-12)


def test_without_a_datum_there_is_only_depth(tmp_path: Path) -> None:
    rows: list[list[object]] = [HEAD, ["K-1-C1", "K-1", "Lead", "55", "mg/kg", "dry"]]
    run = screened(tmp_path, rows, FIELD.format(datum=""))
    sample = run.one("samples", sample="K-1-C1")
    assert (sample["elevation_top_m"], sample["datum"]) == ("", "")
    assert "datum" in run.stderr


def test_a_cut_that_the_samples_cover_in_part_is_compared_and_unsettled(one_interval: Outcome) -> None:
    row = one_interval.one("cuts", substance="Lead", part="cut")
    assert (row["finding"], row["settled"], float(row["value"])) == ("between", "false", 55.0)
    assert float(row["covered_pct"]) == pytest.approx(38.1)


def test_a_colour_in_munsell_notation_is_kept(one_interval: Outcome) -> None:
    assert one_interval.one("samples", sample="K-1-C1")["colour"] == "5Y 2.5/1"


def test_dates_of_extraction_and_analysis_are_held_against_holding_times(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        [*HEAD, "Date Collected", "Extraction Date", "Analysis Date"],
        ["K-1", "K-1", "Chrysene", "55", "ug/kg", "dry", "2026-05-12", "2026-05-30", "2026-06-04"],
    ]
    run = screened(tmp_path, rows, settings='water = "fresh"\n')
    found = {row["criterion"]: row["outcome"] for row in run.rows("quality", check="holding-time")}
    assert found == {
        "at most 14 days from sampling to extraction": "outside",
        "at most 40 days from extraction to analysis": "within",
    }


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("K-2,5.0,-120.5,45.1,fresh", "swapped"),
        ("K-2,5.0,45.1,30.4,fresh", "sign of the longitude"),
        ("K-2,5.0,45 6.5 N,30 24 W,fresh", "45.108333"),
    ],
)
def test_coordinates_that_cannot_be_are_named(tmp_path: Path, row: str, words: str) -> None:
    field = "station,river_km,latitude,longitude,water\nK-1,4.2,45.10,-30.4,fresh\nK-3,4.4,45.11,-30.4,fresh\n"
    rows: list[list[object]] = [HEAD, *([f"S{at}", f"K-{at}", "Lead", "5", "mg/kg", "dry"] for at in (1, 2, 3))]
    run = screened(tmp_path, rows, field.replace("river_km", "river_km (km)") + row + "\n")
    assert words in run.stderr
