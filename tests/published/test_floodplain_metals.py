"""Floodplain metals from a data package: bank soil that counts as sediment when the user says so.

Source: Rikken and Van Rijn 1993, flood-plain topsoil of the Meuse, 155 places, mg/kg dry; carried by the Python package
scikit-gstat (and by sp in R).
TEC and PEC: MacDonald, Ingersoll and Berger 2000. The counts are a plain comparison in numpy.
"""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import pytest
from harness import Outcome, run_siltmark, write_csv

METALS = {"cadmium": (0.99, 4.98), "copper": (31.6, 149.0), "lead": (35.8, 128.0), "zinc": (121.0, 459.0)}
Floodplain = tuple[dict[str, list[str]], Path]


@pytest.fixture(scope="module")
def floodplain(tmp_path_factory: pytest.TempPathFactory) -> Floodplain:
    """The figures of the package as text, and a sheet with places down and metals across."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        data = pytest.importorskip("skgstat.data", reason="scikit-gstat (extra `test`) is not installed")
        columns = {name: [f"{v:.10g}" for v in np.ravel(data.meuse(variable=name)["sample"][1])] for name in METALS}
    rows: list[list[object]] = [["Sample", "Matrix", "Unit", "Basis", *(name.title() for name in METALS)]]
    for number, figures in enumerate(zip(*columns.values(), strict=True), 1):
        rows.append([f"P{number:03d}", "Soil", "mg/kg", "dry", *figures])
    return columns, write_csv(tmp_path_factory.mktemp("floodplain") / "metals.csv", rows)


@pytest.fixture(scope="module")
def run(floodplain: Floodplain) -> Outcome:
    path = floodplain[1]
    settings = path.with_name("settings.toml")
    settings.write_text('guidelines = ["consensus-2000-fresh"]\ntables-only = true\n[reading]\nsoil = "include"\n')
    out = path.with_name("out")
    return run_siltmark("screen", path, "--settings", settings, "--out", out, out=out)


def test_all_155_places_are_read(run: Outcome) -> None:
    assert run.status == 0, run.stderr[:2000]
    assert len(run.results) == 4 * 155
    assert run.record["conserved"] is True


@pytest.mark.parametrize("metal", METALS)
def test_classes_are_those_of_a_plain_comparison(run: Outcome, floodplain: Floodplain, metal: str) -> None:
    lower, upper = METALS[metal]
    values = np.array([float(text) for text in floodplain[0][metal]])
    found = [row["finding"] for row in run.rows("findings", substance=metal.title())]
    assert len(found) == 155
    assert found.count("above") == int((values > upper).sum())
    assert found.count("between") == int(((values > lower) & (values <= upper)).sum())


def test_the_21_replaced_cadmium_zeros_are_plain_values(run: Outcome) -> None:
    """Zeros in the source, replaced by 0.2 there; nothing in the sheet tells, so they are read as they stand."""
    rows = [row for row in run.rows("results", substance="Cadmium") if float(row["value"]) == 0.2]
    assert len(rows) == 21
    assert {row["kind"] for row in rows} == {"exact"}


def test_soil_is_left_out_unless_the_user_says_so(floodplain: Floodplain) -> None:
    out = floodplain[1].with_name("left_out")
    run = run_siltmark("screen", floodplain[1], "--water", "fresh", "--out", out, "--tables-only", out=out)
    assert (run.status, out.exists()) == (1, False)
    assert "soil" in run.stderr.lower()
