"""Open data with coordinates through the whole comparison: groups, areas, two depths, distance, ranking.

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
from scipy import stats
from scipy.spatial import Delaunay, cKDTree

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


def test_zinc_falls_with_the_distance_from_the_river(open_data: Path, tmp_path: Path) -> None:
    """Spearman's rho of zinc and distance is -0.78385 in R and SciPy (places of equal distance tied)."""
    rows = places(open_data)
    sheet: list[list[object]] = [["Sample", "Unit", "Basis", "Zinc"]]
    field: list[list[object]] = [["station", "river_km", "water"]]
    for number, row in enumerate(rows, 1):
        sheet.append([f"P{number:03d}", "mg/kg", "dry", row["zinc"]])
        field.append([f"P{number:03d}", row["dist.m"], "fresh"])
    write_csv(tmp_path / "zinc.csv", sheet)
    write_csv(tmp_path / "field.csv", field)
    out = tmp_path / "out"
    options = ("--field", tmp_path / "field.csv", "--tables-only", "--out", out)
    run = run_siltmark("screen", tmp_path / "zinc.csv", *options, out=out)
    assert run.status == 0, run.stderr[:2000]
    found = run.one("trends", substance="Zinc")
    zinc, distance = ([float(row[name]) for row in rows] for name in ("zinc", "dist.m"))
    assert float(found["rho"]) == pytest.approx(-0.78385, abs=5e-6)
    assert float(found["tau"]) == pytest.approx(stats.kendalltau(distance, zinc).statistic, rel=1e-12)
    assert (found["n"], found["detects"], found["outcome"]) == ("155", "155", "higher downstream")


JURA = ("Cd", "Co", "Cr", "Cu", "Ni", "Pb", "Zn")
NAMES = ("Cadmium", "Cobalt", "Chromium", "Copper", "Nickel", "Lead", "Zinc")
TEC = {"Cadmium": 0.99, "Chromium": 43.4, "Copper": 31.6, "Nickel": 22.7, "Lead": 35.8, "Zinc": 121.0}
PEC = {"Cadmium": 4.98, "Chromium": 111.0, "Copper": 149.0, "Nickel": 48.6, "Lead": 128.0, "Zinc": 459.0}


@pytest.fixture(scope="module")
def jura(open_data: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[list[dict[str, str]], Outcome]:
    """Goovaerts 1997, Swiss Jura: seven metals at 259 places (coordinates in km), the rock as decision unit."""
    with (open_data / "jura_prediction_259.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    folder = tmp_path_factory.mktemp("jura")
    sheet: list[list[object]] = [["Sample", "Unit", "Basis", *NAMES]]
    field: list[list[object]] = [["station", "latitude", "longitude", "zone", "water"]]
    for number, row in enumerate(rows, 1):
        east, north = degrees(1000 * (float(row["Xloc"]) - 3), 1000 * (float(row["Yloc"]) - 3))
        sheet.append([f"J{number:03d}", "mg/kg", "dry", *(row[one] for one in JURA)])
        field.append([f"J{number:03d}", f"{north:.12f}", f"{east:.12f}", f"rock {row['Rock']}", "fresh"])
    write_csv(folder / "metals.csv", sheet)
    write_csv(folder / "field.csv", field)
    out = folder / "out"
    run = run_siltmark("screen", folder / "metals.csv", "--field", folder / "field.csv", "--out", out, out=out)
    assert run.status == 0, run.stderr[:2000]
    return rows, run


@pytest.mark.parametrize(("metal", "name"), zip(JURA, NAMES, strict=True))
def test_jura_rocks_differ_as_scipy_says(jura: tuple[list[dict[str, str]], Outcome], metal: str, name: str) -> None:
    rows, run = jura
    groups: dict[str, list[float]] = {}
    for row in rows:
        groups.setdefault(row["Rock"], []).append(float(row[metal]))
    wanted = stats.kruskal(*(one for one in groups.values() if len(one) >= 4))
    found = run.one("comparisons", substance=name)
    assert (float(found["statistic"]), float(found["p"])) == pytest.approx((wanted.statistic, wanted.pvalue), rel=1e-9)


@pytest.mark.parametrize(("metal", "name"), zip(JURA, NAMES, strict=True))
def test_jura_means_and_upper_limits(jura: tuple[list[dict[str, str]], Outcome], metal: str, name: str) -> None:
    rows, run = jura
    figures = np.array([float(row[metal]) for row in rows])
    found = run.one("reach", place="all", layer="surface", substance=name)
    assert (int(found["n"]), float(found["median"])) == (259, pytest.approx(np.median(figures), rel=1e-12))
    assert float(found["mean"]) == pytest.approx(figures.mean(), rel=1e-12)
    error = figures.std(ddof=1) / math.sqrt(len(figures))
    skewed = stats.skewtest(figures).pvalue < 0.05
    factor = math.sqrt(1 / 0.05 - 1) if skewed else stats.t.ppf(0.95, len(figures) - 1)
    assert float(found["upper95"]) == pytest.approx(figures.mean() + factor * error, rel=1e-9)


def test_jura_means_by_area_are_those_of_a_fine_grid(jura: tuple[list[dict[str, str]], Outcome]) -> None:
    """Without an outline of the user's the polygons end at the stations' own: their convex hull."""
    rows, run = jura
    points = np.array([(1000 * (float(row["Xloc"]) - 3), 1000 * (float(row["Yloc"]) - 3)) for row in rows])
    axes = (np.linspace(points[:, at].min(), points[:, at].max(), 900) for at in (0, 1))
    grid = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
    grid = grid[Delaunay(points).find_simplex(grid) >= 0]
    _, nearest = cKDTree(points).query(grid)
    for metal, name in zip(JURA, NAMES, strict=True):
        figures = np.array([float(row[metal]) for row in rows])
        found = run.one("reach", place="all", layer="surface", substance=name)
        assert float(found["area_mean"]) == pytest.approx(figures[nearest].mean(), rel=3e-3), found["note"]


def test_jura_ranking_is_that_of_a_plain_count(jura: tuple[list[dict[str, str]], Outcome]) -> None:
    rows, run = jura
    wanted = {}
    for number, row in enumerate(rows, 1):
        figures = {name: float(row[one]) for one, name in zip(JURA, NAMES, strict=True) if name in TEC}
        above = sum(value > PEC[name] for name, value in figures.items())
        highest = max(value / PEC[name] for name, value in figures.items())
        wanted[f"J{number:03d}"] = (above, highest, sum(value > TEC[name] for name, value in figures.items()) - above)
    found = run.rows("ranking", set="consensus-2000-fresh")
    order = sorted(wanted, key=lambda name: (-wanted[name][0], -wanted[name][1], name))
    assert [(row["station"], int(row["above"]), int(row["between"])) for row in found] == [
        (name, wanted[name][0], wanted[name][2]) for name in order
    ]


def test_jura_report_has_a_map_of_every_place(jura: tuple[list[dict[str, str]], Outcome]) -> None:
    page = (jura[1].out / "report.html").read_text(encoding="utf-8")
    table = page.split('<caption class="unseen">The stations on the ground')[1].split("</table>")[0]
    assert table.count('<th scope="row">') == 259
