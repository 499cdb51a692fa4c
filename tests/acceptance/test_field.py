"""The field record and the tables of places: stations, reach, cores, change, GeoJSON."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from harness import LONG, Outcome, run_siltmark, write_csv

Screen = Callable[..., Outcome]


def close(text: str, expected: float, tolerance: float = 1e-9) -> bool:
    return text != "" and math.isclose(float(text), expected, rel_tol=tolerance)


def lead(*pairs: tuple[str, str]) -> list[tuple[str, str, str, str, str]]:
    return [(sample, "Lead", result, "mg/kg", "dry") for sample, result in pairs]


def field(tmp_path: Path, **tables: Sequence[Sequence[object]]) -> list[str | Path]:
    """Write one CSV per table of the record and give the options that name them."""
    options: list[str | Path] = []
    for name, rows in tables.items():
        options += ["--field", write_csv(tmp_path / f"{name}.csv", rows)]
    return options


STATIONS = [
    ["Station", "River km", "Latitude", "Longitude", "Water", "Role", "Zone", "Area m2"],
    ["A", "1.5", "45.101", "-30.402", "fresh", "site", "Z1", "100"],
    ["B", "4.0", "45.112", "-30.391", "fresh", "site", "Z1", "300"],
    ["R", "9.0", "45.140", "-30.360", "fresh", "reference", "Z2", "600"],
]
SAMPLES = [
    ["Sample", "Station", "Top", "Bottom", "Depth unit", "Date", "Colour", "Odour"],
    ["A-1", "A", "0", "10", "cm", "2026-05-12", "10YR 3/1", "oily"],
    ["B-1", "B", "0", "10", "cm", "2026-05-12", "5Y 2.5/1", "none"],
    ["R-1", "R", "0", "10", "cm", "2026-05-13", "10YR 4/2", "none"],
]
THREE = lead(("A-1", "40"), ("B-1", "200"), ("R-1", "10"))


def test_the_record_gives_place_and_look(screen_csv: Screen, tmp_path: Path) -> None:
    out = screen_csv(THREE, *field(tmp_path, stations=STATIONS, samples=SAMPLES))
    row = out.one("samples", sample="A-1")
    assert (row["station"], row["zone"], row["role"], row["water"]) == ("A", "Z1", "site", "fresh")
    assert (row["colour"], row["odour"], row["collected"]) == ("10YR 3/1", "oily", "2026-05-12")
    assert close(row["river_km"], 1.5)
    assert close(row["latitude"], 45.101)


def test_findings_stand_along_the_river(screen_csv: Screen, tmp_path: Path) -> None:
    rows = lead(("R-1", "10"), ("B-1", "200"), ("A-1", "40"))
    out = screen_csv(rows, *field(tmp_path, stations=STATIONS, samples=SAMPLES))
    assert [row["sample"] for row in out.rows("findings", substance="Lead")] == ["A-1", "B-1", "R-1"]


def test_the_water_of_a_station_chooses_its_set(screen_csv: Screen, tmp_path: Path) -> None:
    stations = [[*row] for row in STATIONS]
    stations[1][4] = "marine"
    out = screen_csv(THREE, *field(tmp_path, stations=stations, samples=SAMPLES))
    assert {row["set"] for row in out.rows("findings", sample="A-1")} == {"long-1995-marine"}
    assert {row["set"] for row in out.rows("findings", sample="B-1")} == {"consensus-2000-fresh"}


def test_river_miles_become_km(screen_csv: Screen, tmp_path: Path) -> None:
    """One international mile is 1.609344 km."""
    stations = [["Station", "River mile", "Water"], ["A", "10", "fresh"]]
    out = screen_csv(lead(("A-1", "40")), *field(tmp_path, stations=stations, samples=[SAMPLES[0], SAMPLES[1]]))
    assert close(out.one("samples", sample="A-1")["river_km"], 16.09344)


@pytest.mark.parametrize(
    ("top", "bottom", "unit", "expected"),
    [
        ("4 1/2", "8", "in", (11.43, 20.32)),
        ("3 1/2", "4", "in", (8.89, 10.16)),
        ("0", "0.5", "ft", (0.0, 15.24)),
        ("0", "0.15", "m", (0.0, 15.0)),
        ("5", "10", "cm", (5.0, 10.0)),
    ],
)
def test_depths_in_other_units(
    screen_csv: Screen, tmp_path: Path, top: str, bottom: str, unit: str, expected: tuple[float, float]
) -> None:
    samples = [["Sample", "Station", "Top", "Bottom", "Depth unit"], ["A-1", "A", top, bottom, unit]]
    out = screen_csv(lead(("A-1", "40")), *field(tmp_path, stations=STATIONS, samples=samples))
    row = out.one("samples", sample="A-1")
    assert math.isclose(float(row["depth_top_cm"]), expected[0], abs_tol=1e-9)
    assert math.isclose(float(row["depth_bottom_cm"]), expected[1], abs_tol=1e-9)


def test_samples_on_one_side_only_are_named(screen_csv: Screen, tmp_path: Path) -> None:
    rows = lead(("A-1", "40"), ("X-9", "20"))
    out = screen_csv(rows, *field(tmp_path, stations=STATIONS, samples=SAMPLES))
    assert out.record["without_results"] == ["B-1", "R-1"]
    assert out.record["without_field"] == ["X-9"]


def test_stations_are_points_on_the_map(screen_csv: Screen, tmp_path: Path) -> None:
    out = screen_csv(THREE, *field(tmp_path, stations=STATIONS, samples=SAMPLES))
    found = json.loads((out.out / "tables" / "stations.geojson").read_text(encoding="utf-8"))
    assert found["type"] == "FeatureCollection"
    points = [feature["geometry"]["coordinates"] for feature in found["features"]]
    assert [-30.402, 45.101] in points
    assert len(points) == 3


def test_a_station_averages_a_pair_first(screen_csv: Screen, tmp_path: Path) -> None:
    samples = [
        ["Sample", "Station", "Top", "Bottom", "Depth unit", "Parent"],
        ["A-1", "A", "0", "10", "cm", ""],
        ["A-1-FD", "A", "0", "10", "cm", "A-1"],
        ["A-2", "A", "0", "10", "cm", ""],
    ]
    rows = lead(("A-1", "30"), ("A-1-FD", "50"), ("A-2", "10"))
    out = screen_csv(rows, *field(tmp_path, stations=STATIONS, samples=samples))
    row = out.one("stations", station="A", layer="surface", substance="Lead")
    assert (row["n"], row["detects"]) == ("2", "2")
    assert close(row["mean_low"], 25.0)
    assert close(row["mean_high"], 25.0)


def test_means_carry_their_bounds(screen_csv: Screen, tmp_path: Path) -> None:
    samples = [["Sample", "Station", "Top", "Bottom", "Depth unit"]] + [
        [f"A-{i}", "A", "0", "10", "cm"] for i in range(4)
    ]
    rows = lead(("A-0", "30"), ("A-1", "<10"), ("A-2", "20"), ("A-3", "40"))
    out = screen_csv(rows, *field(tmp_path, stations=STATIONS, samples=samples))
    row = out.one("stations", station="A", layer="surface", substance="Lead")
    assert (row["n"], row["detects"]) == ("4", "3")
    assert close(row["mean_low"], 22.5)
    assert close(row["mean_high"], 25.0)
    assert close(row["max"], 40.0)
    assert (row["upper95"], row["note"] != "") == ("", True)


def test_places_of_the_reach(screen_csv: Screen, tmp_path: Path) -> None:
    out = screen_csv(THREE, *field(tmp_path, stations=STATIONS, samples=SAMPLES), settings="[river]\nat = 3.0\n")
    places = {row["place"] for row in out.rows("reach", substance="Lead")}
    assert {"all", "site", "reference", "upstream", "downstream", "Z1", "Z2"} <= places
    assert out.rows("reach", place="downstream", substance="Lead", layer="surface")[0]["n"] == "1"


def test_a_mean_weighted_by_given_areas(screen_csv: Screen, tmp_path: Path) -> None:
    """By hand: (100 x 40 + 300 x 200 + 600 x 10) / 1000 = 70; the site alone (4000 + 60 000) / 400 = 160."""
    out = screen_csv(THREE, *field(tmp_path, stations=STATIONS, samples=SAMPLES))
    row = out.one("reach", place="all", substance="Lead", layer="surface")
    assert close(row["area_mean"], 70.0)
    assert close(out.one("reach", place="site", substance="Lead", layer="surface")["area_mean"], 160.0)


# -- down the core --------------------------------------------------------------------------------------------------
CORE = [["Core", "Station", "Penetration", "Recovered"], ["K", "A", "120 cm", "114 cm"]]
DEPTHS = ((0, 15, "1.2"), (15, 45, "6.0"), (45, 90, "2.0"), (90, 120, "<0.05"))


def core_run(screen_csv: Screen, tmp_path: Path, cut: str) -> Outcome:
    samples: list[Sequence[object]] = [["Sample", "Core", "Top", "Bottom", "Depth unit"]]
    samples += [[f"K{i}", "K", top, bottom, "cm"] for i, (top, bottom, _) in enumerate(DEPTHS)]
    rows = lead(*((f"K{i}", text) for i, (_, _, text) in enumerate(DEPTHS)))
    options = field(tmp_path, stations=STATIONS, cores=CORE, samples=samples)
    return screen_csv(rows, *options, settings=f'[cores]\ncut = "{cut}"\n')


def test_the_prism_above_a_cut(screen_csv: Screen, tmp_path: Path) -> None:
    """W21 of the worked examples (constructed): (15 x 1.2 + 30 x 6.0 + 30 x 2.0) / 75 = 3.44; the cut leaves 2.0."""
    row = core_run(screen_csv, tmp_path, "75 cm").one("cores", core="K", substance="Lead")
    assert close(row["cut_mean"], 3.44)
    assert close(row["cut_covered_pct"], 100.0)
    assert close(row["left_value"], 2.0)


def test_the_whole_core_with_a_nondetect(screen_csv: Screen, tmp_path: Path) -> None:
    """W21: 2.4000 with the nondetect as 0 and 2.4125 at its limit."""
    row = core_run(screen_csv, tmp_path, "120 cm").one("cores", core="K", substance="Lead")
    assert close(row["cut_mean_low"], 2.4)
    assert close(row["cut_mean_high"], 2.4125)


def test_the_peak_of_a_core(screen_csv: Screen, tmp_path: Path) -> None:
    row = core_run(screen_csv, tmp_path, "75 cm").one("cores", core="K", substance="Lead")
    assert (row["n"], float(row["peak_top_cm"]), float(row["peak_bottom_cm"])) == ("4", 15.0, 45.0)
    assert close(row["peak"], 6.0)
    assert close(row["surface_to_peak"], 0.2)


def test_results_keep_depths_as_recorded(screen_csv: Screen, tmp_path: Path) -> None:
    samples = [["Sample", "Core", "Top", "Bottom", "Depth unit"], ["K1", "K", "10", "20", "cm"]]
    options = field(tmp_path, stations=STATIONS, cores=CORE, samples=samples)
    out = screen_csv(lead(("K1", "40")), *options, settings='[cores]\ncompaction = "linear"\n')
    assert (float(out.one("results")["depth_top_cm"]), out.one("results")["core"]) == (10.0, "K")
    assert out.one("results")["station"] == "A"


# -- against an earlier run -----------------------------------------------------------------------------------------


def test_change_against_an_earlier_run(tmp_path: Path) -> None:
    first = write_csv(tmp_path / "first.csv", [LONG, ("S1", "Lead", "40", "mg/kg", "dry")])
    second = write_csv(tmp_path / "second.csv", [LONG, ("S1", "Lead", "100", "mg/kg", "dry")])
    options = ["--water", "fresh", "--tables-only"]
    assert run_siltmark("screen", first, "--out", tmp_path / "one", *options).status == 0
    out = run_siltmark("screen", second, "--out", tmp_path / "two", "--earlier", tmp_path / "one", *options,
                       out=tmp_path / "two")  # fmt: skip
    assert out.status == 0, out.stderr
    rows = out.rows("change", station="S1", substance="Lead")
    assert rows
    assert close(rows[0]["earlier"], 40.0)
    assert close(rows[0]["now"], 100.0)
    assert close(rows[0]["ratio"], 2.5)


def test_no_change_table_without_an_earlier_run(screen_csv: Screen) -> None:
    out = screen_csv(lead(("S1", "40")))
    assert not (out.out / "tables" / "change.csv").exists()
