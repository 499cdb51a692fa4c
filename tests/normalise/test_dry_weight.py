"""To dry weight: solids, moisture, what is refused and what stands."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made import batch_of, results_of

from screen.model import Batch
from screen.settings import Settings
from screen.stages.normalise import normalise


def lead(rows: list[tuple[object, ...]], settings: Settings | None = None) -> dict[str, object]:
    results = results_of(rows, settings)
    return results[results["substance"] == "Lead"].iloc[0].to_dict()


def problems(batch: Batch, settings: Settings | None = None) -> list[str]:
    return [problem.code for problem in normalise(batch, settings).problems]


def test_wet_is_divided_by_solids() -> None:
    row = lead([("S", "Lead", "12", "wet"), ("S", "Percent solids", "60", None)])
    assert row["value"] == row["low"] == row["high"] == pytest.approx(20, rel=1e-12)


def test_moisture_serves_where_no_solids_are_given() -> None:
    assert lead([("S", "Lead", "12", "wet"), ("S", "Percent moisture", "40", None)])["value"] == pytest.approx(20)


def test_limits_convert_by_the_same_factor() -> None:
    row = lead([("S", "Lead", "<12", "wet"), ("S", "Percent solids", "60", None)])
    assert (row["low"], row["limit"], row["high"]) == (0, pytest.approx(20), pytest.approx(20))
    assert np.isnan(row["value"])


def test_dry_is_not_divided_again() -> None:
    assert lead([("S", "Lead", "12"), ("S", "Percent solids", "60", None)])["value"] == 12


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ([("S", "Lead", "12", None)], "no-basis"),
        ([("S", "Lead", "12", "wet")], "no-moisture"),
        (
            [("S", "Lead", "12", "wet"), ("S", "Percent solids", "60", None), ("S", "Percent moisture", "42.1", None)],
            "moisture-conflict",
        ),
        ([("S", "Lead", "12", "wet"), ("S", "Percent moisture", "100", None)], "no-moisture"),
        ([("S", "Lead", "12", "wet"), ("S", "Percent solids", "0", None)], "no-moisture"),
        ([("S", "Lead", "12", "wet"), ("S", "Percent moisture", "150", None)], "no-moisture"),
        ([("S", "Lead", "12", "wet"), ("S", "Water content (dry basis)", "150", None)], "no-moisture"),
    ],
)
def test_refused_rows_have_a_reason_and_no_figures(rows: list[tuple[object, ...]], why: str) -> None:
    row = lead(rows)
    assert (row["why_not"], row["used"]) == (why, False)
    assert all(np.isnan(row[name]) for name in ("value", "limit", "low", "high"))


def test_a_conflict_of_exactly_two_points_is_none() -> None:
    rows = [("S", "Lead", "12", "wet"), ("S", "Percent solids", "58.1", None), ("S", "Percent moisture", "43.9", None)]
    assert lead(rows)["used"]


def test_dry_results_stand_in_a_conflict_with_a_warning() -> None:
    rows = [("S", "Lead", "12"), ("S", "Percent solids", "60", None), ("S", "Percent moisture", "45", None)]
    assert lead(rows)["value"] == 12
    assert "moisture-conflict" in problems(batch_of(rows))


def test_geotechnical_water_content_needs_consent() -> None:
    rows = [("S", "Lead", "12", "wet"), ("S", "Water content (dry basis)", "150", None)]
    assert lead(rows, Settings(water_content="use"))["value"] == pytest.approx(30)


def test_chemistry_solids_go_before_water_content() -> None:
    rows = [
        ("S", "Lead", "12", "wet"),
        ("S", "Percent solids", "60", None),
        ("S", "Water content (dry basis)", "150", None),
    ]
    assert lead(rows, Settings(water_content="use"))["value"] == pytest.approx(20)


def test_solids_of_the_own_method_go_first() -> None:
    rows = [
        ("S", "Lead", "12", "wet", None, {"method": "B"}),
        ("S", "Percent solids", "60", None, None, {"method": "A"}),
        ("S", "Percent solids", "30", None, None, {"method": "B"}),
    ]
    assert lead(rows)["value"] == pytest.approx(40)
    assert "solids-differ" in problems(batch_of(rows))


def test_low_solids_are_warned_of() -> None:
    assert "solids-low" in problems(batch_of([("S", "Lead", "1"), ("S", "Percent solids", "20", None)]))


def test_conventionals_need_no_basis() -> None:
    results = results_of([("S", "Sand", "30", None), ("S", "Total organic carbon", "2", None)])
    assert results["used"].all()


def test_the_samples_show_what_was_used() -> None:
    rows = [
        ("S", "Percent moisture", "40", None),
        ("S", "Total organic carbon", "2", None),
        ("S", "Silt", "20", None),
        ("S", "Clay", "5", None),
    ]
    row = normalise(batch_of(rows)).samples.iloc[0]
    assert (row["solids_pct"], row["toc_pct"], row["fines_pct"]) == (60, 2, 25)


def test_the_batch_given_stays_as_it_was() -> None:
    batch = batch_of([("S", "Lead", "12")])
    normalise(batch)
    assert batch.results["value"].isna().all()


def test_quality_control_has_the_water_of_its_sample() -> None:
    batch = batch_of(
        [("S", "Percent solids", "50", None)],
        qc=[("S-DUP", "Lead", "10", "wet", None, {"qc_kind": "lab-duplicate", "qc_of": "S"})],
    )
    assert normalise(batch).qc["value"].tolist() == [20]


@given(st.floats(0.01, 1e6), st.floats(1, 100))
def test_dry_to_wet_and_back(value: float, solids: float) -> None:
    wet = value * solids / 100
    row = lead([("S", "Lead", repr(wet), "wet"), ("S", "Percent solids", repr(solids), None)])
    assert row["value"] == pytest.approx(value, rel=1e-12)
