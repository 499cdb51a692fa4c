"""What normalising says of each sample, and whose water a quality-control row had."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made import batch_of

from screen.settings import Settings
from screen.stages.normalise import normalise


def samples_of(rows: list[tuple[Any, ...]]) -> dict[str, tuple[float, ...]]:
    found = normalise(batch_of(rows)).samples
    columns = ("solids_pct", "toc_pct", "fines_pct")
    return dict(zip(found["sample"], zip(*(found[name] for name in columns), strict=True), strict=True))


def test_the_solids_carbon_and_fines_that_were_used() -> None:
    rows = [("S", "Percent moisture", "40", None), ("S", "Total organic carbon", "2"), ("S", "Fines", "70", None),
            ("S", "Silt", "1", None), ("S", "Clay", "1", None), ("T", "Lead", "1")]  # fmt: skip
    found = samples_of(rows)
    assert found["S"] == (60.0, 2.0, 70.0)
    assert np.isnan(found["T"]).all()


@pytest.mark.parametrize(
    ("rows", "fines"),
    [
        ([("S", "Silt", "30", None), ("S", "Clay", "12", None)], 42.0),
        ([("S", "Silt", "30", None)], np.nan),
        ([("S", "Clay", "12", None)], np.nan),
        ([("S", "Silt", "30", None), ("S", "Clay", "<12", None)], np.nan),
        ([("S", "Silt", "30", None), ("S", "Clay", "12 R", None)], np.nan),
        ([("S", "Fines", "50", None), ("S", "Fines", "60", None)], 50.0),
        ([("T", "Silt", "30", None), ("S", "Clay", "12", None)], np.nan),
    ],
)
def test_fines_are_silt_and_clay_where_not_reported(rows: list[tuple[Any, ...]], fines: float) -> None:
    np.testing.assert_equal(samples_of([("S", "Lead", "1"), *rows])["S"][2], fines)


@pytest.mark.parametrize(("of", "value"), [("S", 20.0), (None, 40.0)])
def test_a_quality_control_row_has_the_water_of_the_sample_it_belongs_to(of: str | None, value: float) -> None:
    rows = [("S", "Percent solids", "50", None), ("Q", "Percent solids", "25", None)]
    qc = [("Q", "Lead", "10", "wet", None, {"qc_kind": "lab-duplicate", "qc_of": of})]
    assert normalise(batch_of(rows, qc=qc)).qc["value"].tolist() == [value]


def test_laboratory_totals_come_to_dry_weight_and_carbon_too() -> None:
    rows = [("S", "Percent solids", "50", None), ("S", "Total organic carbon", "2")]
    made = normalise(batch_of(rows, lab_totals=[("S", "Total PAHs (lab)", "10", "wet")])).lab_totals
    assert made["value"].tolist() == [20.0]
    assert (made["unit"].tolist(), made["used"].tolist()) == (["ug/kg"], [True])


def test_the_water_content_is_used_when_asked_for() -> None:
    rows = [("S", "Lead", "10", "wet"), ("S", "Water content (dry basis)", "100", None)]
    plain, asked = (
        normalise(batch_of(rows), one).samples["solids_pct"] for one in (Settings(), Settings(water_content="use"))
    )
    assert np.isnan(plain.iloc[0])
    assert asked.tolist() == [50.0]


def test_what_was_told_before_stays_first() -> None:
    batch = batch_of([("S", "Lead", "10", "wet")])
    told = normalise(batch).problems
    again = normalise(normalise(batch)).problems
    assert len(told) == 1
    assert again[:1] == told


def test_the_batch_given_stays_as_it_was() -> None:
    batch = batch_of([("S", "Lead", "10", "wet"), ("S", "Percent solids", "50", None)])
    before = batch.results.copy()
    normalise(batch)
    assert batch.results.equals(before)


def test_blanks_of_the_whole_batch_are_judged_by_when_asked() -> None:
    qc = [("MB", "Pyrene", "2", "dry", None, {"qc_kind": "method-blank"})]
    made = normalise(batch_of([("S", "Pyrene", "8")], qc=qc), Settings(blanks="five-ten"))
    assert made.results["limit"].tolist() == [8.0]
    assert [one.code for one in made.problems] == ["blank-five-ten"]
    assert normalise(batch_of([("S", "Pyrene", "8")], qc=qc)).results["value"].tolist() == [8.0]
