"""Open data with coordinates through the whole comparison: groups, areas, two depths.

Meuse: Rikken and Van Rijn 1993, flood-plain topsoil, 155 places, mg/kg; flood frequency 1 to 3 as decision unit. Its
Kruskal-Wallis and Mann-Whitney figures are from SciPy and R, which agree. Schelde: metals at 19 places at 5 and 20 cm
depth (Ghent University course data). Both are read as sediment.
"""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import numpy as np
import pytest
from harness import Outcome, run_siltmark, write_csv
from scipy.spatial import cKDTree

pytestmark = pytest.mark.open_data
RADIUS_M = 6_371_008.8
MIDDLE = (5.74, 50.97)


def degrees(east: float, north: float) -> tuple[float, float]:
    """Longitude and latitude whose equal-area cylinder about MIDDLE gives these metres."""
    parallel = math.cos(math.radians(MIDDLE[1]))
    rise = math.sin(math.radians(MIDDLE[1])) + north * parallel / RADIUS_M
    return MIDDLE[0] + math.degrees(east / (RADIUS_M * parallel)), math.degrees(math.asin(rise))


def places(open_data: Path) -> list[dict[str, str]]:
    with (open_data / "meuse_topsoil_155.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def metres(row: dict[str, str]) -> tuple[float, float]:
    return float(row["x"]) - 180_000.0, float(row["y"]) - 331_600.0


def screened(rows: list[dict[str, str]], folder: Path, settings: str = "") -> Outcome:
    sheet: list[list[object]] = [["Sample", "Unit", "Basis", "Zinc"]]
    field: list[list[object]] = [["station", "latitude", "longitude", "zone", "water"]]
    for number, row in enumerate(rows, 1):
        east, north = degrees(*metres(row))
        sheet.append([f"P{number:03d}", "mg/kg", "dry", row["zinc"]])
        field.append([f"P{number:03d}", f"{north:.12f}", f"{east:.12f}", f"frequency {row['ffreq']}", "fresh"])
    write_csv(folder / "zinc.csv", sheet)
    write_csv(folder / "field.csv", field)
    (folder / "settings.toml").write_text(f'field = ["field.csv"]\ntables-only = true\n{settings}', encoding="utf-8")
    out = folder / "out"
    run = run_siltmark("screen", folder / "zinc.csv", "--settings", folder / "settings.toml", "--out", out, out=out)
    assert run.status == 0, run.stderr[:2000]
    return run


def test_three_groups(open_data: Path, tmp_path: Path) -> None:
    row = screened(places(open_data), tmp_path).one("comparisons", substance="Zinc")
    assert row["test"] == "Kruskal-Wallis"
    assert float(row["statistic"]) == pytest.approx(39.8165, abs=5e-5)
    assert row["n"] == "84;48;23"
    assert row["outcome"] == "differ"


def test_two_groups(open_data: Path, tmp_path: Path) -> None:
    rows = [row for row in places(open_data) if row["ffreq"] != "2"]
    row = screened(rows, tmp_path).one("comparisons", substance="Zinc")
    assert row["test"] == "Mann-Whitney"
    assert float(row["p"]) == pytest.approx(0.00010651, abs=5e-9)


def test_the_mean_over_the_area_is_that_of_a_fine_grid(open_data: Path, tmp_path: Path) -> None:
    rows = places(open_data)
    points = np.array([metres(row) for row in rows])
    zinc = np.array([float(row["zinc"]) for row in rows])
    west, south = points.min(axis=0) - 50
    east, north = points.max(axis=0) + 50
    corners = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    ring = [list(degrees(float(x), float(y))) for x, y in corners]
    outline = {"type": "Polygon", "coordinates": [ring]}
    (tmp_path / "outline.geojson").write_text(json.dumps(outline), encoding="utf-8")
    run = screened(rows, tmp_path, '[river]\nboundary = "outline.geojson"\n')
    grid = np.stack(np.meshgrid(np.linspace(west, east, 800), np.linspace(south, north, 800)), axis=-1).reshape(-1, 2)
    _, nearest = cKDTree(points).query(grid)
    row = run.one("reach", place="all", layer="surface", substance="Zinc")
    assert float(row["mean"]) == pytest.approx(zinc.mean(), rel=1e-12)
    assert float(row["area_mean"]) == pytest.approx(zinc[nearest].mean(), rel=2e-3)


def test_two_depths_of_one_place_are_a_profile(open_data: Path, tmp_path: Path) -> None:
    with (open_data / "schelde_bank_metals_5cm_20cm_19.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    sheet: list[list[object]] = [["Sample", "Station", "Depth (cm)", "Unit", "Basis", "Water", "Lead", "Zinc"]]
    for row in rows:
        for depth, interval in (("5", "0-10"), ("20", "15-25")):
            name = f"{row['location']}-{depth}"
            sheet.append([name, row["location"], interval, "mg/kg", "dry", "", row[f"Pb{depth}"], row[f"Zn{depth}"]])
    write_csv(tmp_path / "schelde.csv", sheet)
    out = tmp_path / "out"
    sheet_path = tmp_path / "schelde.csv"
    run = run_siltmark("screen", sheet_path, "--water", "estuarine", "--out", out, "--tables-only", out=out)
    assert run.status == 0, run.stderr[:2000]
    found = {row["station"]: row for row in run.rows("cores", substance="Zinc")}
    assert len(found) == 19
    for row in rows:
        upper, lower = float(row["Zn5"]), float(row["Zn20"])
        assert float(found[row["location"]]["surface_to_peak"]) == pytest.approx(upper / max(upper, lower), rel=1e-12)
