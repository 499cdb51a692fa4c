"""Checks of data quality: each with its criterion, and none that changes a result."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest
from made import batch_of

from screen.reference.sets import load_set
from screen.settings import Settings
from screen.stages.compare import compare
from screen.stages.compare.quality.quality import quality
from screen.stages.compare.quality.quality_control import criteria
from screen.stages.normalise import normalise
from screen.stages.sums import total


def checks(rows: list[tuple[Any, ...]], sets: tuple[str, ...] = ("consensus-2000-fresh",), **more: Any) -> pd.DataFrame:
    batch = normalise(batch_of(rows, **more))
    totals = total(batch.results, lab_totals=batch.lab_totals)
    chosen = [load_set(name) for name in sets]
    findings = compare(batch.results, totals, chosen, samples=batch.samples)
    return quality(batch, totals, findings, chosen, Settings())


def one(check: str, *arguments: Any, **more: Any) -> dict[str, Any]:
    table = checks(*arguments, **more)
    rows = table[table["check"] == check]
    assert len(rows) == 1, table.to_string()
    return rows.astype(object).to_dict("records")[0]


def qc(kind: str, text: str, unit: str | None = None, of: str | None = None) -> tuple[Any, ...]:
    return ("Q", "Lead", text, "dry", unit, {"qc_kind": kind, "qc_of": of})


def test_nothing_to_check_gives_an_empty_table() -> None:
    assert checks([("S", "Lead", "1")]).empty


def test_a_limit_above_the_level() -> None:
    row = one("limit-above-level", [("S", "Arsenic", "<20")])
    assert (row["value"], row["criterion"], row["outcome"]) == (
        20,
        "consensus-2000-fresh TEC 9.79 mg/kg",
        "above level",
    )


def test_of_a_total_the_single_highest_limit_counts() -> None:
    table = checks([("S", "4,4'-DDE", "<9"), ("S", "2,4'-DDE", "<8")])
    limits = table[table["check"] == "limit-above-level"].set_index("substance")["value"]
    assert limits.to_dict() == {"Sum DDE": 9, "Total DDTs": 9}


def test_missing_members_of_a_total_that_was_compared() -> None:
    table = checks([("S", "4,4'-DDE", "9")])
    notes = table[table["check"] == "missing-member"].set_index("substance")["note"]
    assert notes["dde"] == "not measured: 2,4'-DDE"


def test_solids_and_moisture_together() -> None:
    row = one("solids", [("S", "Percent solids", "60", None), ("S", "Percent moisture", "43", None)])
    assert (row["value"], row["outcome"]) == (103, "outside")


def test_missing_carbon_where_a_set_asks_for_it() -> None:
    assert one("carbon", [("S", "Lead", "1")], ("washington-marine",))["outcome"] == "missing"


def test_carbon_out_of_the_range_of_a_set() -> None:
    row = one("carbon", [("S", "Total organic carbon", "0.3")], ("washington-marine",))
    assert (row["outcome"], row["criterion"]) == ("outside", "0.5 to 3.5 %")


def test_a_part_above_the_laboratorys_total() -> None:
    table = checks([("S", "Pyrene", "700")], lab_totals=[("S", "Total PAHs, 16 (lab)", "500")])
    rows = table[table["check"] == "part-above-total"].set_index("substance")
    assert rows.loc["Pyrene", "value"] == 700
    assert rows.loc["pah-16", "value"] == pytest.approx(40)


def test_a_figure_beyond_what_its_unit_can_mean() -> None:
    assert one("unit-suspect", [("S", "Copper", "2000000")])["outcome"] == "outside"


def test_grain_sizes_that_do_not_add_up() -> None:
    rows = [("S", name, text, None) for name, text in (("Gravel", "0"), ("Sand", "50"), ("Silt", "20"), ("Clay", "10"))]
    assert one("unit-suspect", rows)["value"] == 80


def test_two_units_of_one_substance_a_thousand_apart() -> None:
    rows = [("A", "Copper", "20", "dry", "mg/kg"), ("B", "Copper", "20", "dry", "ug/kg")]
    assert one("unit-suspect", rows)["substance"] == "Copper"


@pytest.mark.parametrize(("text", "outcome"), [("3", "detected"), ("<3", "within")])
def test_a_blank(text: str, outcome: str) -> None:
    assert one("blank", [("S", "Lead", "9")], qc=[qc("method-blank", text)])["outcome"] == outcome


@pytest.mark.parametrize(
    ("text", "outcome"),
    [
        ("74", "outside"),
        ("75", "within"),
        ("125", "within"),
        ("126", "outside"),
    ],
)
def test_a_spike_of_a_metal(text: str, outcome: str) -> None:
    assert one("spike", [("S", "Lead", "9")], qc=[qc("matrix-spike", text, "%")])["outcome"] == outcome


def test_a_laboratory_duplicate() -> None:
    """By hand: 200 x 8/32 = 50 %."""
    row = one("duplicate", [("S", "Lead", "12")], qc=[qc("lab-duplicate", "20", None, "S")])
    assert (row["value"], row["outcome"]) == (50, "outside")


def test_a_field_duplicate() -> None:
    row = one("duplicate", [("S", "Lead", "12"), ("D", "Lead", "20")], samples={"S": {}, "D": {"parent": "S"}})
    assert (row["sample"], row["value"], row["outcome"]) == ("D", 50, "within")


def test_every_criterion_names_its_source_and_evidence() -> None:
    table = criteria()
    assert (table["source"] != "").all()
    assert table["evidence"].isin(("seen", "own", "from_memory", "conflict")).all()
