"""Places summed up in blocks of measures give what one block gives (invented figures)."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from screen.stages.compare.places import places
from screen.stages.compare.places.observations import Observations


def test_blocks_of_measures_give_what_one_block_gives(monkeypatch: pytest.MonkeyPatch) -> None:
    dice = np.random.default_rng(4)
    size = 400
    value = np.round(np.exp(dice.normal(1, 1, size)), 3)
    detected = dice.random(size) < 0.7
    samples = pd.DataFrame({"sample": [f"QG-{one}" for one in range(50)], "core": None, "depth_top_cm": np.nan})
    measures = pd.DataFrame({"substance": list("abcdefgh"), "rule": "", "group": "metal", "unit": "mg/kg"})
    seen = Observations(
        dice.integers(0, 50, size), dice.integers(0, 8, size), np.where(detected, value, np.nan),
        np.where(detected, value, 0.0), value, detected, np.zeros(size, dtype=bool), samples, measures,
    )  # fmt: skip
    place_of = np.arange(50) % 6
    whole = places.summarise_places(seen, place_of)
    monkeypatch.setattr(places, "ROWS", 90)
    blocks = places.summarise_places(seen, place_of)
    pd.testing.assert_frame_equal(whole.astype(object), blocks.astype(object))
