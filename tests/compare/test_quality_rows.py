"""Each check of quality by itself, whole rows and both sides of every criterion; frames made by hand, on dry weight."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import batch_of, dry_rows, set_of

from screen.model import QUALITY
from screen.settings import Settings
from screen.stages.compare.quality import quality as checks
from screen.stages.compare.quality import units as units_of
from screen.stages.compare.quality.quality_control import (
    between,
    criteria,
    field_duplicates,
    judged,
    limits_of,
    quality_control,
)
from screen.stages.compare.quality.rows import stacked_checks

RULES = criteria()


def told(parts: pd.DataFrame | list[pd.DataFrame]) -> list[dict[str, Any]]:
    """Rows as plain texts and numbers, what is empty left out."""
    table = stacked_checks(parts if isinstance(parts, list) else [parts])
    assert list(table) == QUALITY
    rows = table.astype(object).where(table.notna(), None).to_dict("records")
    return [{str(name): one for name, one in row.items() if one is not None and one != ""} for row in rows]


PLACE = {"file": "lab.csv", "row": 2.0}


def test_columns_are_coded_or_numbers_and_nothing_gives_an_empty_table() -> None:
    table = stacked_checks([pd.DataFrame(), pd.DataFrame({"check": ["x"], "value": [1]})])
    kinds = table.dtypes.astype(str).to_dict()
    assert {name for name, kind in kinds.items() if kind == "float64"} == {"value", "row"}
    assert set(kinds.values()) == {"float64", "category"}
    assert told([]) == []


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (np.nan, 5.0, "at most 5 %"),
        (5.0, np.nan, "at least 5 %"),
        (0.0, 5.0, "0 to 5 %"),
        (-5.0, 5.0, "from -5 to 5 %"),
    ],
)
def test_a_range_in_words(low: float, high: float, words: str) -> None:
    assert between(low, high, "%") == words


def test_a_group_without_a_criterion_of_its_own_has_that_of_any_other() -> None:
    found = limits_of(RULES, "spike", "recovery", np.array(["metal", "pah", "metal"], dtype=object))
    assert found.to_dict("list") == {
        "low": [75.0, 50.0, 75.0], "high": [125.0, 150.0, 125.0],
        "criterion": ["75 to 125 %", "50 to 150 %", "75 to 125 %"],
    }  # fmt: skip


def test_both_ends_of_a_criterion_are_within() -> None:
    value = np.array([74.9, 75.0, 125.0, 125.1])
    limits = pd.DataFrame({"low": 75.0, "high": 125.0, "criterion": "c"}, index=range(4))
    found = judged(pd.DataFrame({"sample": list("ABCD")}), "spike", value, limits, "said")
    assert found["outcome"].tolist() == ["outside", "within", "within", "outside"]
    assert found[["check", "criterion", "note"]].drop_duplicates().to_numpy().tolist() == [["spike", "c", "said"]]
    assert judged(pd.DataFrame({"sample": ["A"]}), "spike", value[:1], limits[:1])["note"].tolist() == [None]


def control(
    kind: str, text: str, unit: str | None = None, of: str | None = None, name: str = "Lead"
) -> tuple[Any, ...]:
    return ("Q", name, text, "dry", unit, {"qc_kind": kind, "qc_of": of})


def qc_of(*rows: tuple[Any, ...]) -> pd.DataFrame:
    frame = batch_of([("S", "Lead", "1")], qc=rows).qc
    return frame.assign(value=frame["read_value"] * frame["factor"])


@pytest.mark.parametrize("kind", ["method-blank", "field-blank"])
def test_a_blank(kind: str) -> None:
    rows = told(quality_control(qc_of(control(kind, "0.5"), control(kind, "<0.1", "ug/kg")), dry_rows([]), RULES))
    common = {"check": "blank", "sample": "Q", "substance": "Lead", "criterion": "not detected", "file": "lab.csv"}
    assert rows == [
        common | {"value": 0.5, "outcome": "detected", "note": "mg/kg as reported", "row": 900.0},
        common | {"outcome": "within", "note": "ug/kg as reported", "row": 901.0},
    ]


@pytest.mark.parametrize(
    ("kind", "check", "name", "criterion"),
    [
        ("matrix-spike", "spike", "Lead", "75 to 125 %"),
        ("matrix-spike", "spike", "Pyrene", "50 to 150 %"),
        ("control-sample", "control-sample", "Lead", "80 to 120 %"),
        ("control-sample", "control-sample", "Pyrene", "50 to 130 %"),
        ("surrogate", "surrogate", "Pyrene", "50 to 150 %"),
    ],
)
def test_a_recovery(kind: str, check: str, name: str, criterion: str) -> None:
    rows = told(quality_control(qc_of(control(kind, "160", "%", name=name)), dry_rows([]), RULES))
    assert rows == [
        {"check": check, "sample": "Q", "substance": name, "value": 160.0, "criterion": criterion,
         "outcome": "outside", "file": "lab.csv", "row": 900.0}
    ]  # fmt: skip


@pytest.mark.parametrize("unit", ["%", "percent", "% recovery", "%R"])
def test_units_of_a_recovery(unit: str) -> None:
    frame = qc_of(control("matrix-spike", "100", "%")).assign(reported_unit=unit)
    assert [row["outcome"] for row in told(quality_control(frame, dry_rows([]), RULES))] == ["within"]


def test_a_recovery_as_a_concentration_or_without_a_value_is_not_judged() -> None:
    frame = qc_of(control("matrix-spike", "10", "mg/kg"), control("matrix-spike", "<5", "%"))
    assert quality_control(frame, dry_rows([]), RULES) == []
    assert quality_control(frame.iloc[:0], dry_rows([]), RULES) == []


@pytest.mark.parametrize(("again", "outcome"), [("14", "within"), ("14.4", "outside")])
def test_a_laboratory_duplicate(again: str, outcome: str) -> None:
    """Of 10 and 14: 200 x 4 / 24 = 33.3 %; of 10 and 14.4: 36.1 %; a metal may differ by 35 %."""
    results = dry_rows([("S", "Lead", "10"), ("S", "Zinc", "99"), ("T", "Lead", "55"), ("S", "Lead", "1 R")])
    (row,) = told(quality_control(qc_of(control("lab-duplicate", again, of="S")), results, RULES))
    assert row.pop("value") == pytest.approx(200 * (float(again) - 10) / (float(again) + 10))
    assert row == {
        "check": "duplicate", "sample": "Q", "substance": "Lead", "criterion": "at most 35 %", "outcome": outcome,
        "note": "relative difference of a laboratory duplicate: S", "file": "lab.csv", "row": 900.0,
    }  # fmt: skip


def test_a_laboratory_duplicate_that_names_no_sample_is_of_its_own() -> None:
    (row,) = told(quality_control(qc_of(control("lab-duplicate", "30")), dry_rows([("Q", "Lead", "10")]), RULES))
    assert (row["value"], row["note"]) == (100.0, "relative difference of a laboratory duplicate: Q")


def test_a_laboratory_duplicate_without_a_value_on_either_side_is_not_judged() -> None:
    results = dry_rows([("S", "Lead", "<10"), ("T", "Lead", "0")])
    rows = (control("lab-duplicate", "5", of="S"), control("lab-duplicate", "<5", of="T"),
            control("lab-duplicate", "0", of="T"))  # fmt: skip
    assert told(quality_control(qc_of(*rows), results, RULES)) == []


def duplicates_of(rows: list[tuple[Any, ...]], parents: dict[str, Any]) -> list[dict[str, Any]]:
    batch = batch_of(rows, samples={name: {"parent": parent} for name, parent in parents.items()})
    results = dry_rows(rows)
    object.__setattr__(batch, "results", results)
    return told(field_duplicates(batch, RULES))


def test_a_field_duplicate() -> None:
    rows = [("S", "Pyrene", "10"), ("D", "Pyrene", "30"), ("D", "Lead", "7"), ("D", "Percent solids", "50", None),
            ("S", "Percent solids", "90", None), ("T", "Pyrene", "1")]  # fmt: skip
    assert duplicates_of(rows, {"D": "S", "T": None}) == [
        {"check": "duplicate", "sample": "D", "substance": "Pyrene", "value": 100.0, "criterion": "at most 50 %",
         "outcome": "outside", "note": "relative difference of a field duplicate: S", "file": "lab.csv", "row": 3.0}
    ]  # fmt: skip


def test_moisture_is_no_pair_and_without_duplicates_there_is_nothing() -> None:
    rows = [("S", "Percent moisture", "10", None), ("D", "Percent moisture", "30", None)]
    assert duplicates_of(rows, {"D": "S"}) == []
    assert duplicates_of(rows, {"D": "", "S": None}) == []


def finding(**more: Any) -> dict[str, Any]:
    return {
        "sample": "S", "substance": "Lead", "total": None, "set": "own", "unit": "mg/kg", "finding": "undetermined",
        "detected": False, "high": 20.0, "lower_name": "L", "lower_level": 10.0, "upper_name": "U", "upper_level": 50.0,
    } | more  # fmt: skip


def total_row(**more: Any) -> dict[str, Any]:
    return {
        "sample": "S", "total": "dde", "limit": np.nan, "high": 9.0, "complete": False, "measured": 1, "members": 2,
        "missing": "2,4'-DDE",
    } | more  # fmt: skip


def limits(findings: list[dict[str, Any]], totals: Iterable[dict[str, Any]] = ()) -> list[dict[str, Any]]:
    return told(checks._limits(pd.DataFrame(findings), pd.DataFrame(list(totals) or [total_row()])))


def test_a_limit_above_the_lower_level() -> None:
    assert limits([finding()]) == [
        {"check": "limit-above-level", "sample": "S", "substance": "Lead", "value": 20.0, "criterion": "own L 10 mg/kg",
         "outcome": "above level", "note": "not detected; the limit cannot show whether the level is met"}
    ]  # fmt: skip


def test_where_there_is_no_lower_level_the_upper_one_stands_for_it() -> None:
    (row,) = limits([finding(lower_level=np.nan, lower_name=None, high=60.0)])
    assert (row["criterion"], row["value"]) == ("own U 50 mg/kg", 60.0)


@pytest.mark.parametrize("more", [{"high": 10.0}, {"detected": True}, {"finding": "below"}])
def test_what_is_no_limit_above_a_level(more: dict[str, Any]) -> None:
    assert limits([finding(**more)]) == []


def test_of_a_total_its_single_highest_limit_decides_on_the_basis_of_the_finding() -> None:
    """The finding is on a basis twice the total's: the highest single limit of 6, of 9 in all, counts as 12."""
    (row,) = limits([finding(total="dde", high=18.0)], [total_row(limit=6.0), total_row(sample="T", limit=1.0)])
    assert row["value"] == 12.0
    assert limits([finding(total="dde", high=18.0)], [total_row(limit=5.0)]) == []


def missing(findings: list[dict[str, Any]], totals: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return told(checks._missing(pd.DataFrame(findings), pd.DataFrame(totals)))


def test_members_that_were_not_measured() -> None:
    assert missing([finding(total="dde")], [total_row()]) == [
        {"check": "missing-member", "sample": "S", "substance": "dde", "value": 1.0, "criterion": "2 members",
         "outcome": "partial", "note": "not measured: 2,4'-DDE"}
    ]  # fmt: skip


@pytest.mark.parametrize("more", [{"complete": True}, {"measured": 0}, {"total": "ddt"}, {"sample": "T"}])
def test_what_is_no_missing_member(more: dict[str, Any]) -> None:
    assert missing([finding(total="dde"), finding(sample="T", total="ddd")], [total_row(**more)]) == []


def test_a_total_by_several_rules_is_told_once_and_others_too() -> None:
    totals = [total_row(), total_row(), total_row(sample="T", measured=2)]
    found = missing([finding(total="dde"), finding(sample="T", total="dde"), finding(total=None)], totals)
    assert [(row["sample"], row["value"]) for row in found] == [("S", 1.0), ("T", 2.0)]


@pytest.mark.parametrize(("count", "words"), [(12, "M11"), (13, "M11 and 1 more"), (20, "M11 and 8 more")])
def test_a_long_list_is_cut_after_twelve(count: int, words: str) -> None:
    (row,) = missing([finding(total="dde")], [total_row(missing=";".join(f"M{i}" for i in range(count)))])
    assert row["note"] == "not measured: " + ", ".join(f"M{i}" for i in range(11)) + f", {words}"


def solids(rows: list[tuple[Any, ...]], about: dict[str, dict[str, Any]] | None = None) -> list[dict[str, Any]]:
    batch = batch_of(rows, samples=about)
    return told(checks._solids(batch, RULES, Settings()))


@pytest.mark.parametrize(
    ("moisture", "value", "outcome"), [("40", 100.0, "within"), ("43", 103.0, "outside"), ("37", 97.0, "outside")]
)
def test_solids_and_moisture_together(moisture: str, value: float, outcome: str) -> None:
    rows = [("S", "Percent solids", "60", None), ("S", "Percent moisture", moisture, None),
            ("T", "Percent solids", "60", None)]  # fmt: skip
    assert solids(rows) == [
        {"check": "solids", "sample": "S", "substance": "Percent solids", "value": value, "criterion": "98 to 102 %",
         "outcome": outcome, "note": "solids and moisture together"}
    ]  # fmt: skip


def test_few_solids() -> None:
    rows = [("S", "Lead", "1"), ("T", "Lead", "1"), ("U", "Lead", "1")]
    about = {"S": {"solids_pct": 29.9}, "T": {"solids_pct": 30.0}}
    assert solids(rows, about) == [
        {"check": "solids", "sample": "S", "substance": "Percent solids", "value": 29.9, "criterion": "at least 30 %",
         "outcome": "outside", "note": "much water: limits are high and figures less sure"}
    ]  # fmt: skip


def test_wet_results_without_solids_are_told_once_for_each_sample() -> None:
    away = {"why_not": "no-moisture"}
    rows = [("S", "Lead", "1", "wet", None, away), ("S", "Zinc", "1", "wet", None, away),
            ("T", "Zinc", "1", None, None, {"why_not": "no-basis"})]  # fmt: skip
    assert solids(rows) == [
        {"check": "solids", "sample": "S", "substance": "Percent solids", "criterion": "known", "outcome": "missing",
         "note": "results on wet weight cannot be converted"}
    ]  # fmt: skip


def carbon(about: dict[str, float], *sets: Any) -> list[dict[str, Any]]:
    rows = [(name, "Lead", "1") for name in about if name != "Z"]
    batch = batch_of(rows, samples={name: {"toc_pct": one} for name, one in about.items()})
    return told(checks._carbon(batch, sets, RULES))


ASKING = set_of([("Pyrene", {"L": 1, "U": 2})], basis="oc", id="asking", toc_range=(0.5, 3.5))
DRY = set_of([("Lead", {"L": 1, "U": 2})], id="not-asking", toc_range=(0.5, 3.5))


def test_carbon_that_is_hardly_possible() -> None:
    assert carbon({"S": 60.1, "T": 60.0}, DRY) == [
        {"check": "carbon", "sample": "S", "substance": "Total organic carbon", "value": 60.1,
         "criterion": "at most 60 %", "outcome": "outside", "note": "hardly possible"}
    ]  # fmt: skip


def test_carbon_that_is_missing_where_a_set_asks_for_it() -> None:
    """Z has no results: nothing is asked of it."""
    other = set_of([("Pyrene", {"L": 1, "U": 2})], basis="oc-1%", id="other")
    assert carbon({"S": np.nan, "T": 1.0, "Z": np.nan}, ASKING, DRY, other) == [
        {"check": "carbon", "sample": "S", "substance": "Total organic carbon", "criterion": "known",
         "outcome": "missing", "note": "asked for by asking, other"}
    ]  # fmt: skip
    assert carbon({"S": np.nan}, DRY) == []


def test_carbon_outside_the_range_of_a_set() -> None:
    found = carbon({"S": 0.4, "T": 0.5, "U": 3.5, "V": 3.6}, ASKING, DRY)
    common = {"check": "carbon", "substance": "Total organic carbon", "criterion": "0.5 to 3.5 %", "outcome": "outside"}
    assert found == [
        common | {"sample": "S", "value": 0.4, "note": "range of asking"},
        common | {"sample": "V", "value": 3.6, "note": "range of asking"},
    ]


def lab_row(**more: Any) -> dict[str, Any]:
    return {
        "sample": "S", "total": "dde", "name": "Sum DDE", "lab_total": 10.0, "measured": 2, "complete": True,
        "lab_difference_pct": 0.0,
    } | more  # fmt: skip


def laboratory(totals: list[dict[str, Any]], rows: list[tuple[Any, ...]]) -> list[dict[str, Any]]:
    return told(checks._laboratory_totals(pd.DataFrame(totals), dry_rows(rows), RULES))


PARTS = [("S", "4,4'-DDE", "9"), ("S", "2,4'-DDE", "1")]


@pytest.mark.parametrize(
    ("difference", "outcome"), [(1.0, "within"), (1.01, "outside"), (-1.0, "within"), (-1.01, "outside")]
)
def test_a_laboratorys_total_against_its_parts(difference: float, outcome: str) -> None:
    (row,) = laboratory([lab_row(lab_difference_pct=difference)], PARTS)
    assert row == {
        "check": "part-above-total", "sample": "S", "substance": "dde", "value": difference, "criterion": "-1 to 1 %",
        "outcome": outcome,
        "note": "sum of the parts against the laboratory's total: its list, its rule for nondetects or a coelution may "
        "differ",
    }  # fmt: skip


def test_of_a_partial_total_only_more_than_the_laboratorys_says_something() -> None:
    assert laboratory([lab_row(complete=False, lab_difference_pct=-5.0)], PARTS) == []
    assert len(laboratory([lab_row(complete=False, lab_difference_pct=5.0)], PARTS)) == 1
    assert laboratory([lab_row(lab_difference_pct=np.nan)], PARTS) == []
    assert laboratory([lab_row(measured=0, lab_difference_pct=5.0)], PARTS) == []
    assert laboratory([lab_row(lab_total=np.nan)], PARTS) == []


def test_a_figure_that_may_be_one_of_several_totals_is_held_against_the_nearest() -> None:
    both = [lab_row(lab_difference_pct=-50.0), lab_row(total="ddt-6", lab_difference_pct=2.0)]
    assert [row["substance"] for row in laboratory(both, PARTS)] == ["ddt-6"]
    apart = [lab_row(lab_difference_pct=-50.0), lab_row(total="ddt-6", name="Total DDTs", lab_difference_pct=2.0)]
    assert [row["substance"] for row in laboratory(apart, PARTS)] == ["dde", "ddt-6"]


def test_one_part_above_the_laboratorys_total() -> None:
    rows = [("S", "4,4'-DDE", "10.1"), ("S", "2,4'-DDE", "10"), ("T", "4,4'-DDE", "99"), ("S", "Lead", "99"),
            ("S", "4,4'-DDE", "98 R"), ("S", "4,4'-DDE", "<97")]  # fmt: skip
    assert laboratory([lab_row(lab_difference_pct=np.nan)], rows) == [
        {"check": "part-above-total", "sample": "S", "substance": "4,4'-DDE", "value": 10.1,
         "criterion": "laboratory's total 10", "outcome": "outside", "file": "lab.csv", "row": 2.0,
         "note": "one part is more than the laboratory's total beside dde"}
    ]  # fmt: skip


def test_members_come_with_factor_weight_and_unit_of_their_total() -> None:
    scale = checks._scaled_members({"pcb-nst18x2", "teq-2005-pcb"}).set_index(["total", "part"])["scale"]
    assert scale["pcb-nst18x2", "PCB-8"] == 2.0
    assert scale["teq-2005-pcb", "PCB-126"] == pytest.approx(0.1 * 1000)


def units(rows: list[tuple[Any, ...]]) -> list[dict[str, Any]]:
    return told(units_of.unit_checks(dry_rows(rows), RULES))


@pytest.mark.parametrize(
    ("name", "text", "unit", "criterion"),
    [
        ("Lead", "1000001", "mg/kg", "0.001 to 1e+06 mg/kg"),
        ("Lead", "0.0009", "mg/kg", "0.001 to 1e+06 mg/kg"),
        ("PCB-8", "1000001", "ug/kg", "at most 1e+06 ug/kg"),
        ("Pyrene", "100000001", "ug/kg", "at most 1e+08 ug/kg"),
    ],
)
def test_a_figure_beyond_what_its_unit_can_mean(name: str, text: str, unit: str, criterion: str) -> None:
    assert units([("S", name, text)]) == [
        {"check": "unit-suspect", "sample": "S", "substance": name, "value": float(text), "criterion": criterion,
         "outcome": "outside", "note": "is the unit right?", **PLACE}
    ]  # fmt: skip


def test_figures_at_the_ends_and_in_other_units_are_not_suspect() -> None:
    rows = [("S", "Lead", "1000000"), ("S", "Zinc", "0.001"), ("S", "PCB-8", "1000000"), ("S", "Sand", "0", None)]
    assert units(rows) == []


def grain(*figures: str) -> list[dict[str, Any]]:
    return units(
        [("S", name, one, None) for name, one in zip(("Gravel", "Sand", "Silt", "Clay"), figures, strict=False)]
    )


@pytest.mark.parametrize(
    ("figures", "off"),
    [(("5", "50", "30", "15"), None), (("0", "50", "30", "15"), None), (("0", "50", "30", "14.9"), 94.9),
     (("10", "50", "30", "15"), None), (("10", "50", "30", "15.1"), 105.1), (("5", "50", "30"), None)],
)  # fmt: skip
def test_grain_sizes_that_do_not_add_up(figures: tuple[str, ...], off: float | None) -> None:
    found = grain(*figures)
    if off is None:
        assert found == []
        return
    (row,) = found
    assert row.pop("value") == pytest.approx(off)
    assert row == {
        "check": "unit-suspect", "sample": "S", "substance": "grain size", "criterion": "95 to 105 %",
        "outcome": "outside", "note": "sum of the classes",
    }  # fmt: skip


def test_units_reported_and_which_substances_have_several() -> None:
    one = dry_rows([("S", "Lead", "1"), ("T", "Lead", "2000", "dry", "ug/kg"), ("T", "Zinc", "2"), ("T", "Zinc", "3")])
    other = dry_rows([("U", "Copper", "1")])
    found = units_of.reported_units(one)
    assert found.to_numpy().tolist() == [["Lead", "mg/kg"], ["Lead", "ug/kg"], ["Zinc", "mg/kg"]]
    assert units_of.in_several_units([found, units_of.reported_units(other), found]) == {"Lead"}
    values = units_of.values_by_unit(one, {"Lead"})
    assert values.to_numpy().tolist() == [["Lead", "mg/kg", 1.0], ["Lead", "ug/kg", 2.0]]


@pytest.mark.parametrize(
    ("ratio", "told_of"), [(299.0, False), (300.0, True), (1000.0, True), (3000.0, True), (3001.0, False)]
)
def test_two_units_about_a_thousand_apart(ratio: float, told_of: bool) -> None:
    values = pd.DataFrame(
        [("Lead", "ug/kg", 0.5), ("Lead", "ug/kg", 1.5), ("Lead", "mg/kg", ratio), ("Zinc", "mg/kg", 1.0)],
        columns=["substance", "unit", "value"],
    )
    note = "medians of two units differ about 1000 times: one of them may be a slip"
    row = {
        "check": "unit-suspect", "substance": "Lead", "value": ratio, "criterion": "units of one substance agree",
        "outcome": "outside", "note": note,
    }  # fmt: skip
    assert told(units_of.unit_slips(values)) == ([row] if told_of else [])
