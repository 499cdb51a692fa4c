"""Results beside blanks, as judged on rows made by hand: which count as not detected, at what limit, what is told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import batch_of

from screen.stages.normalise.blanks import five_ten
from screen.stages.normalise.notices import Notice, problems_of


def blank(name: str, text: str, basis: str | None = "dry", unit: str | None = None, **more: Any) -> tuple[Any, ...]:
    return ("MB", name, text, basis, unit, {"qc_kind": "method-blank"} | more)


def judged(rows: list[tuple[Any, ...]], blanks: list[tuple[Any, ...]]) -> tuple[pd.DataFrame, list[Notice]]:
    batch = batch_of(rows, qc=blanks)
    return five_ten(batch.results, batch.qc)


def near(rows: list[tuple[Any, ...]], blanks: list[tuple[Any, ...]]) -> list[bool]:
    return (judged(rows, blanks)[0]["limit_kind"] == "blank").tolist()


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        ("Pyrene", "10", True), ("Pyrene", "10.000000001", True), ("Pyrene", "10.0001", False), ("Pyrene", "0.1", True),
        ("Bis(2-ethylhexyl) phthalate", "20", True), ("Bis(2-ethylhexyl) phthalate", "20.0001", False),
    ],
)  # fmt: skip
def test_up_to_five_times_the_blank_or_ten(name: str, text: str, found: bool) -> None:
    assert near([("S", name, text)], [blank(name, "2")]) == [found]


def test_figures_of_such_a_result() -> None:
    table, _ = judged([("S", "Pyrene", "10"), ("S", "Pyrene", "11"), ("S", "Pyrene", "<3")], [blank("Pyrene", "2")])
    figures = table[["read_value", "read_limit", "read_low", "read_high"]].to_numpy(dtype=float)
    np.testing.assert_array_equal(figures, [[np.nan, 10, 0, 10], [11, np.nan, 11, 11], [np.nan, 3, 0, 3]])
    assert table["kind"].tolist() == ["nondetect", "exact", "nondetect"]
    assert table["detected"].tolist() == [False, True, False]
    assert table["limit_kind"].astype(object).where(table["limit_kind"].notna(), "").tolist() == ["blank", "", ""]
    assert str(table["kind"].dtype) == str(table["limit_kind"].dtype) == "category"


def test_a_limit_of_the_sheet_that_is_higher_stands() -> None:
    table, _ = judged([("S", "Pyrene", "4", "dry", None, {"read_limit": 6.0})], [blank("Pyrene", "2")])
    assert table[["read_limit", "read_high"]].to_numpy().tolist() == [[6.0, 6.0]]
    table, _ = judged([("S", "Pyrene", "4", "dry", None, {"read_limit": 3.0})], [blank("Pyrene", "2")])
    assert table[["read_limit", "read_high"]].to_numpy().tolist() == [[4.0, 4.0]]


@pytest.mark.parametrize(
    ("text", "found"),
    [("max 8", True), ("trace 1-3", False), ("<8", False), (">8", False), ("8 R", False), ("8 J", True)],
)
def test_which_kinds_are_judged(text: str, found: bool) -> None:
    assert near([("S", "Pyrene", text)], [blank("Pyrene", "2")]) == [found]


def test_another_substance_and_conventionals_stay() -> None:
    rows = [("S", "Chrysene", "1"), ("S", "Total organic carbon", "1"), ("S", "Pyrene", "1")]
    assert near(rows, [blank("Pyrene", "2"), blank("Total organic carbon", "2")]) == [False, False, True]


def test_blank_and_result_are_brought_to_one_unit() -> None:
    rows = [("S", "Pyrene", "10"), ("S", "Pyrene", "0.01", "dry", "mg/kg"), ("S", "Pyrene", "0.011", "dry", "mg/kg")]
    assert near(rows, [blank("Pyrene", "0.002", "dry", "mg/kg")]) == [True, True, False]


@pytest.mark.parametrize("more", [{"qc_kind": "field-blank"}, {"qc_kind": "matrix-spike"}, {"detected": False}])
def test_what_is_no_detected_method_blank(more: dict[str, Any]) -> None:
    assert near([("S", "Pyrene", "1")], [blank("Pyrene", "2", **more)]) == [False]


def test_a_blank_without_a_figure_is_none() -> None:
    assert near([("S", "Pyrene", "1")], [blank("Pyrene", "trace 1-3"), blank("Chrysene", "5")]) == [False]


def test_of_several_blanks_the_highest() -> None:
    assert near([("S", "Pyrene", "15")], [blank("Pyrene", "3"), blank("Pyrene", "1"), blank("Chrysene", "9")]) == [True]


def test_the_blank_of_the_results_own_file_goes_before_others() -> None:
    rows = [("S", "Pyrene", "8", "dry", None, {"file": name}) for name in ("a.csv", "b.csv", "c.csv")]
    blanks = [blank("Pyrene", "1", file="a.csv"), blank("Pyrene", "2", file="b.csv")]
    assert near(rows, blanks) == [False, True, True]


def test_the_basis_must_be_the_same_unless_the_blank_states_none() -> None:
    rows = [("S", "Pyrene", "8", "dry"), ("S", "Pyrene", "8", "wet"), ("S", "Pyrene", "8", None)]
    assert near(rows, [blank("Pyrene", "2", "dry")]) == [True, False, False]
    assert near(rows, [blank("Pyrene", "2", "wet")]) == [False, True, False]
    assert near(rows, [blank("Pyrene", "2", None)]) == [True, True, True]
    assert near(rows, [blank("Pyrene", "2", "dry"), blank("Pyrene", "1.7", None)]) == [True, True, True]


def test_a_batch_that_states_no_basis() -> None:
    assert near([("S", "Pyrene", "8", None)], [blank("Pyrene", "2", None)]) == [True]


def test_what_is_told() -> None:
    rows = [("T", "Pyrene", "1"), ("S", "Pyrene", "99"), ("S", "Pyrene", "2"), ("T", "Pyrene", "3")]
    _, notices = judged(rows, [blank("Pyrene", "2")])
    (problem,) = problems_of(notices)
    assert problem.text == (
        "lab.csv, cell C2: 3 results of samples T, S: up to 5 times the method blank (10 times for common laboratory "
        'contaminants), read as not detected, as blanks = "five-ten" asks.'
    )
    assert (problem.code, problem.severity, problem.mend) == ("blank-five-ten", "warning", "")


def test_without_a_blank_or_anything_near_one_nothing_changes_and_nothing_is_told() -> None:
    batch = batch_of([("S", "Pyrene", "99")], qc=[blank("Pyrene", "2")])
    for qc in (batch.qc, batch.qc.iloc[:0]):
        table, notices = five_ten(batch.results, qc)
        assert table is batch.results
        assert notices == []
