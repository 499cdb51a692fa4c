"""Cores against a published length correction and a prism worked by hand."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
from made import batch_of

from screen.settings import Settings
from screen.stages.compare.places.cores import summarise_cores
from screen.stages.normalise import normalise
from screen.stages.sums import total

#: 0-15 cm 1.2; 15-45 cm 6.0; 45-90 cm 2.0; 90-120 cm <0.05 mg/kg (constructed).
PRISM = [(0, 15, "1.2"), (15, 45, "6.0"), (45, 90, "2.0"), (90, 120, "<0.05")]


def row(intervals, settings, lengths=(np.nan, np.nan)) -> pd.Series:
    rows = [(f"S-{at}", "Copper", text) for at, (_, _, text) in enumerate(intervals)]
    samples = {
        f"S-{at}": {"station": "ST-1", "core": "C-1", "depth_top_cm": top, "depth_bottom_cm": bottom}
        for at, (top, bottom, _) in enumerate(intervals)
    }
    batch = normalise(batch_of(rows, samples=samples), settings)
    cores = pd.DataFrame({"core": ["C-1"], "penetration_cm": [lengths[0]], "recovered_cm": [lengths[1]]})
    batch = dataclasses.replace(batch, cores=cores)
    return summarise_cores(batch, total(batch.results).iloc[:0], settings).iloc[0]


def test_a_prism_of_75_cm() -> None:
    found = row(PRISM, Settings(cut="75 cm"))
    assert found["cut_mean"] == pytest.approx(3.44, rel=1e-12)
    assert found[["peak_top_cm", "peak_bottom_cm"]].tolist() == [15, 45]
    assert found["surface_to_peak"] == pytest.approx(0.20)


def test_a_prism_of_120_cm_with_a_non_detect() -> None:
    found = row(PRISM, Settings(cut="120 cm"))
    expected = [2.4000, 2.40625, 2.4125]
    assert found[["cut_mean_low", "cut_mean", "cut_mean_high"]].tolist() == pytest.approx(expected, rel=1e-12)


def test_linear_stretch_of_a_drive_recovered_short() -> None:
    """T. Bishop, Rescaling for compression, 2018: of 1000 mm driven 950 mm were recovered, with the base fixed.

    Raw 1050 becomes 1000 and raw 1500 becomes 1473.7 there, counted from the top of the tube at 1000 and of the
    sediment at 1050: a sample 450 mm below the recovered top lies at 450 times 1000/950 = 473.7 mm.
    """
    found = row([(0, 45, "1"), (45, 95, "2")], Settings(compaction="linear"), (100.0, 95.0))
    assert found["peak_top_cm"] == pytest.approx(47.37, abs=0.005)
    assert found["peak_bottom_cm"] == pytest.approx(100.0)
