"""A surface-weighted average worked by hand: three stations on the axis of a reach of 100 m by 40 m."""

import json
from pathlib import Path

import numpy as np
import pytest
from made import batch_of

from screen.settings import Settings
from screen.stages.compare.places.areas import EARTH_RADIUS_M
from screen.stages.compare.places.reach import summarise_reach
from screen.stages.normalise import normalise
from screen.stages.sums import total

pytest.importorskip("shapely")


def test_surface_weighted_average_of_three_stations(tmp_path: Path) -> None:
    """Limits at 25 and 65 m: 1000, 1600, 1400 m2; 8580/4000 = 2.145 mg/kg, plain mean 1.900 (constructed)."""
    metre = float(np.degrees(1 / EARTH_RADIUS_M))  # on the equator both ways
    corners = [[0, -20], [100, -20], [100, 20], [0, 20], [0, -20]]
    outline = {"type": "Polygon", "coordinates": [[[x * metre, y * metre] for x, y in corners]]}
    path = tmp_path / "reach.geojson"
    path.write_text(json.dumps(outline))
    at = {"S-1": 10, "S-2": 40, "S-3": 90}
    samples = {name: {"latitude": 0.0, "longitude": metres * metre} for name, metres in at.items()}
    rows = [("S-1", "Copper", "0.5"), ("S-2", "Copper", "4.0"), ("S-3", "Copper", "1.2")]
    batch = normalise(batch_of(rows, samples=samples), Settings())
    reach = summarise_reach(batch, total(batch.results).iloc[:0], Settings(boundary=path))
    row = reach[reach["layer"] == "surface"].iloc[0]
    assert row["area_mean"] == pytest.approx(2.145, rel=1e-6)
    assert row["mean"] == pytest.approx(1.9)
    assert "one station holds 40 % of the area" in row["note"]
