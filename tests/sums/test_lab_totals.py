"""Totals of the laboratory beside ours, and their rows of their own, every column by hand."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest
from made import batch_of

from screen.reference.rules import SumRules, sum_rules
from screen.stages.normalise import normalise
from screen.stages.sums import total
from screen.stages.sums.lab_totals import stand_for

PARTS = [("T", "Pyrene", "105"), ("S", "Lead", "1")]


def table_of(
    rows: list[tuple[Any, ...]], lab: list[tuple[Any, ...]], rules: SumRules | None = None
) -> list[dict[str, Any]]:
    batch = normalise(batch_of(rows, lab_totals=lab))
    found = total(batch.results, rules, lab_totals=batch.lab_totals)
    return found.astype(object).where(found.notna(), None).to_dict("records")  # type: ignore[return-value]


def of(table: list[dict[str, Any]], sample: str, name: str) -> dict[str, Any]:
    return next(row for row in table if (row["sample"], row["total"]) == (sample, name))


def test_what_a_laboratory_total_may_stand_for_the_likeliest_first() -> None:
    assert stand_for(pd.Index(["Total DDT (lab)", "Lead", "Sum DDE"])) == {
        "Total DDT (lab)": ("ddt", "ddt-6"),
        "Sum DDE": ("dde",),
    }


def test_every_column_of_a_row_of_its_own() -> None:
    lab = [("S", "Total DDT (lab)", "90 J", "dry", None, {"station": "North"})]
    assert of(table_of(PARTS, lab), "S", "ddt-lab") == {
        "sample": "S", "station": "North", "total": "ddt-lab", "name": "Sum DDT", "rule": None, "value": 90.0,
        "low": 90.0, "high": 90.0, "limit": None, "unit": "ug/kg", "detected": True, "qualifier": "J",
        "members": 2, "measured": 0, "peaks": 0, "detects": 0, "complete": False, "missing": None,
        "counted_once": None, "factor": 1.0, "lab_total": 90.0, "lab_difference_pct": None,
        "note": "summing rule unknown", "stands_for": "ddt;ddt-6",
    }  # fmt: skip


def test_a_row_of_its_own_that_was_not_detected() -> None:
    row = of(table_of(PARTS, [("S", "Total DDT (lab)", "<7")]), "S", "ddt-lab")
    assert (row["value"], row["low"], row["high"], row["limit"], row["detected"]) == (None, 0.0, 7.0, 7.0, False)
    assert row["lab_total"] is None


def test_above_the_range_is_at_least_this() -> None:
    row = of(table_of(PARTS, [("S", "Total DDT (lab)", ">7")]), "S", "ddt-lab")
    assert row["note"] == "summing rule unknown; above the measuring range: at least this"
    assert (row["value"], row["low"], row["high"]) == (7.0, 7.0, None)


@pytest.mark.parametrize(("ours", "difference"), [("105", 5.0), ("50", -50.0), ("100", 0.0)])
def test_the_difference_is_a_share_of_the_laboratorys(ours: str, difference: float) -> None:
    row = of(table_of([("T", "Pyrene", ours)], [("T", "Total PAHs, 16 (lab)", "100")]), "T", "pah-16")
    assert (row["lab_total"], row["lab_difference_pct"]) == (100.0, pytest.approx(difference))


def test_no_difference_without_a_figure_on_both_sides_or_against_nought() -> None:
    undetected = of(table_of([("T", "Pyrene", "<5")], [("T", "Total PAHs, 16 (lab)", "100")]), "T", "pah-16")
    assert (undetected["lab_total"], undetected["lab_difference_pct"]) == (100.0, None)
    nought = of(table_of([("T", "Pyrene", "5")], [("T", "Total PAHs, 16 (lab)", "0")]), "T", "pah-16")
    assert (nought["lab_total"], nought["lab_difference_pct"]) == (0.0, None)
    limit = of(table_of([("T", "Pyrene", "5")], [("T", "Total PAHs, 16 (lab)", "<9")]), "T", "pah-16")
    assert (limit["lab_total"], limit["lab_difference_pct"]) == (None, None)


def test_it_stands_beside_totals_of_its_own_sample_only() -> None:
    rows = [("T", "Pyrene", "105"), ("U", "Pyrene", "10")]
    table = table_of(rows, [("T", "Total PAHs, 16 (lab)", "100"), ("U", "Total PAHs, 16 (lab)", "20")])
    assert (of(table, "T", "pah-16")["lab_total"], of(table, "U", "pah-16")["lab_total"]) == (100.0, 20.0)
    assert (of(table, "T", "pah-18")["lab_total"], of(table, "U", "pah-18")["lab_total"]) == (None, None)


def test_the_total_of_a_stated_rule_comes_before_one_that_may_stand_for_several() -> None:
    lab = [("T", "Total PAHs (lab)", "300"), ("T", "Total PAHs, 16 (lab)", "100")]
    table = table_of(PARTS, lab)
    assert (of(table, "T", "pah-16")["lab_total"], of(table, "T", "pah-18")["lab_total"]) == (100.0, 300.0)


def test_of_two_rows_of_their_own_with_one_id_the_first_by_the_stated_rule_stays() -> None:
    lab = [("S", "Total PCBs (lab)", "300"), ("S", "Total PCB congeners (lab)", "100")]
    own = [row for row in table_of(PARTS, lab) if row["total"].endswith("-lab")]
    assert [(row["total"], row["value"], row["stands_for"]) for row in own] == [
        ("pcb-congeners-lab", 100.0, "pcb-congeners")
    ]


def test_a_second_figure_for_one_total_is_not_set_beside_it() -> None:
    lab = [("T", "Total PAHs, 16 (lab)", "100"), ("T", "Total PAHs, 16 (lab)", "200")]
    table = [row for row in table_of(PARTS, lab) if row["total"] == "pah-16"]
    assert [row["lab_total"] for row in table] == [100.0]


def test_two_of_its_own_samples_and_one_with_parts() -> None:
    lab = [("T", "Total PAHs (lab)", "5"), ("S", "Total PAHs (lab)", "7"), ("R", "Total PAHs (lab)", "9")]
    table = table_of(PARTS, lab)
    assert [(row["sample"], row["value"]) for row in table if row["total"] == "pah-13-lab"] == [("R", 9.0), ("S", 7.0)]


def test_rows_stand_by_sample() -> None:
    table = table_of(PARTS, [("S", "Total DDT (lab)", "9"), ("U", "Total DDT (lab)", "9")])
    samples = [row["sample"] for row in table]
    assert samples == sorted(samples)
    assert [row["total"] for row in table if row["sample"] in "SU"] == ["ddt-lab", "ddt-lab"]


def test_texts_stay_coded_when_rows_are_added() -> None:
    batch = normalise(batch_of(PARTS, lab_totals=[("S", "Total DDT (lab)", "9")]))
    kinds = total(batch.results, lab_totals=batch.lab_totals).dtypes.astype(str)
    coded = {"sample", "station", "total", "name", "rule", "unit", "qualifier", "missing", "counted_once", "note"}
    assert {str(name) for name in kinds.index if kinds[name] == "category"} == {*coded, "stands_for"}
    assert (kinds["value"], kinds["members"], kinds["detected"]) == ("float64", "int64", "bool")


def test_a_rejected_laboratory_total_is_left_out() -> None:
    table = table_of(PARTS, [("S", "Total DDT (lab)", "9 R"), ("T", "Total PAHs, 16 (lab)", "100 R")])
    assert [row["total"] for row in table if row["total"].endswith("-lab")] == []
    assert of(table, "T", "pah-16")["lab_total"] is None


def test_a_total_that_the_rules_do_not_know_is_left_out() -> None:
    rules = sum_rules()
    few = SumRules(rules.totals.loc[["pah-16"]], rules.members[rules.members["total"] == "pah-16"])
    table = table_of(PARTS, [("S", "Total DDT (lab)", "9")], few)
    assert [(row["sample"], row["total"]) for row in table] == [("T", "pah-16")]


def test_the_laboratorys_figure_comes_in_the_unit_of_the_total() -> None:
    rules = sum_rules()
    few = SumRules(rules.totals.loc[["pah-16"]].assign(unit="mg/kg"), rules.members[rules.members["total"] == "pah-16"])
    table = table_of(PARTS, [("T", "Total PAHs, 16 (lab)", "100"), ("S", "Total PAHs, 16 (lab)", "50")], few)
    beside, own = of(table, "T", "pah-16"), of(table, "S", "pah-16-lab")
    assert (beside["value"], beside["lab_total"]) == (0.105, pytest.approx(0.1))
    assert (own["value"], own["low"], own["high"], own["unit"]) == (*[pytest.approx(0.05)] * 3, "mg/kg")
