"""The logistic models: what they would give, and that none of them is switched on."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made import batch_of

from screen.columns import texts_of
from screen.reference.index_about import about_indices
from screen.reference.locate import read_table
from screen.reference.rules import sum_rules
from screen.stages.compare.findings.source import source_of
from screen.stages.compare.indices.index_rows import as_frame
from screen.stages.compare.indices.logistic import logistic, probability
from screen.stages.normalise import normalise
from screen.stages.sums import total

MODELS = read_table("coefficients/logistic.csv")
AROCLORS = ("1016", "1221", "1232", "1242", "1248", "1260")


def made(rows: list[tuple[Any, ...]], model: str) -> pd.DataFrame:
    batch = normalise(batch_of(rows))
    names = texts_of(batch.samples["sample"])
    source = source_of(batch.results, total(batch.results), None, names, sum_rules())
    on = MODELS.assign(use=np.where(MODELS["model"] == model, "true", "false"))
    table = as_frame(logistic(source, on), names, names)
    return table.assign(substance=table["substance"].astype(object).fillna("")).set_index(["index", "substance"])


def test_none_is_switched_on_and_the_reason_is_said() -> None:
    assert set(MODELS["use"]) == {"false"}
    off = {one.id: one.off for one in about_indices() if one.off}
    assert list(off) == ["logistic-p", "logistic-pmax"]
    assert "coefficient" in off["logistic-p"]


def test_probabilities_of_three_substances() -> None:
    """Constructed: Cu 100 and Hg 0.5 mg/kg, total PCBs 200 ug/kg by the California calibration (from memory)."""
    rows = [("S", "Copper", "100"), ("S", "Mercury", "0.5"), ("S", "Aroclor 1254", "200")]
    table = made([*rows, *(("S", f"Aroclor {one}", "<1") for one in AROCLORS)], "california")
    found = [table.loc[("logistic-p", name), "value"] for name in ("Copper", "Mercury", "Total PCBs")]
    assert found == pytest.approx([0.3974, 0.2953, 0.2689], abs=0.0001)
    most = table.loc[("logistic-pmax", "")]
    assert (most["value"], most["members"]) == (pytest.approx(0.3974, abs=0.0001), "Copper")
    assert most["class"] == "0.33 to 0.49: low"


def test_a_limit_is_only_an_upper_bound() -> None:
    table = made([("S", "Copper", "<1000"), ("S", "Mercury", "0.5")], "california")
    assert ("logistic-p", "Copper") not in table.index
    most = table.loc[("logistic-pmax", "")]
    assert most["value"] == pytest.approx(0.2953, abs=0.00005)
    assert most["high"] > 0.5


@pytest.mark.parametrize("row", MODELS.to_dict("records"), ids=lambda row: f"{row['model']} {row['substance']}")
def test_coefficients_give_back_their_concentrations(row: dict[str, str]) -> None:
    """T20 and T50 of the 37 national models were mostly read (NOAA 2008); the coefficients were derived from them."""
    b0, b1 = float(row["b0"]), float(row["b1"])
    found = [float(probability(np.array([float(row[name])]), b0, b1)[0]) for name in ("t20", "t50")]
    assert found == pytest.approx([0.2, 0.5], abs=0.005)


@given(st.floats(1e-6, 1e6), st.floats(1, 1e3))
def test_a_probability_rises_with_the_concentration(figure: float, times: float) -> None:
    low, high = probability(np.array([figure, figure * times]), -5.5931, 2.5885)
    assert 0 <= low <= high <= 1


def test_no_probability_at_zero() -> None:
    assert np.isnan(probability(np.array([0.0]), -5.0, 2.0)).all()
