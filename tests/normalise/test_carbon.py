"""Per organic carbon: who gets a figure, and rows reported per carbon."""

from __future__ import annotations

import numpy as np
import pytest
from made import batch_of, results_of

from screen.stages.normalise import normalise


def value_of(substance: str, rows: list[tuple[object, ...]], column: str = "oc_value") -> float:
    results = results_of(rows)
    return float(results.loc[results["substance"] == substance, column].iloc[0])


@pytest.mark.parametrize("carbon", ["0", "<0.1", "ND"])
def test_no_figure_without_detected_carbon(carbon: str) -> None:
    assert np.isnan(value_of("Anthracene", [("S", "Anthracene", "10"), ("S", "Total organic carbon", carbon, None)]))


def test_no_figure_for_a_metal_nor_a_nondetect() -> None:
    rows = [("S", "Lead", "10"), ("S", "Anthracene", "<10"), ("S", "Total organic carbon", "2", None)]
    assert results_of(rows)["oc_value"].isna().all()


def test_replicates_of_carbon_give_their_mean() -> None:
    rows = [("S", "Anthracene", "500"), ("S", "Total organic carbon", "2"), ("S", "Total organic carbon", "3")]
    assert value_of("Anthracene", rows) == pytest.approx(20)
    assert "carbon-replicates" in [problem.code for problem in normalise(batch_of(rows)).problems]


def test_wet_carbon_is_converted() -> None:
    rows = [("S", "Total organic carbon", "1", "wet"), ("S", "Percent solids", "50", None)]
    assert normalise(batch_of(rows)).samples["toc_pct"].tolist() == [2]


def test_a_row_per_carbon_comes_back_to_dry_weight() -> None:
    rows = [("S", "Anthracene", "5", "oc"), ("S", "Total organic carbon", "2")]
    assert value_of("Anthracene", rows, "value") == pytest.approx(100)
    assert value_of("Anthracene", rows) == pytest.approx(5)


def test_a_row_per_carbon_without_carbon_is_refused() -> None:
    assert results_of([("S", "Anthracene", "5", "oc")])["why_not"].tolist() == ["no-carbon"]
