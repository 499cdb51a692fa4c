"""Classes of values, and blocks of figures as rows of the table of indices: every column, by a small table."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from screen.model import INDICES
from screen.stages.compare.indices import index_rows
from screen.stages.compare.indices.index_rows import IndexRows, as_frame, class_of, weakest

CLASSES = pd.DataFrame(
    [
        ("other", "odd", np.nan, 5.0, "upper", "X 1990", "seen"),
        ("mine", "few", np.nan, 1.0, "upper", "A 2001, table 1", "seen"),
        ("mine", "some", 1.0, 2000.0, "lower", "", "conflict"),
        ("mine", "many", 2000.0, np.nan, "upper", "B 2002", "seen"),
    ],
    columns=["index", "class", "above", "up_to", "limit_belongs_to", "source", "evidence"],
)


@pytest.fixture(autouse=True)
def small_table(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index_rows, "_classes", lambda: CLASSES)


@pytest.mark.parametrize(
    ("value", "name"),
    [
        (-5.0, "few"), (0.99, "few"), (1.0, "few"), (1.0 + 0.9e-9, "few"), (1.0 + 1.1e-9, "some"), (1999.0, "some"),
        (2000.0, "many"), (2000.0 - 1.9e-6, "many"), (2000.0 - 2.1e-6, "some"), (1e9, "many"),
    ],
)  # fmt: skip
def test_the_class_of_a_value(value: float, name: str) -> None:
    place, own = class_of("mine", np.array([value]))
    assert own["class"].iloc[place[0]] == name


def test_a_tie_near_nought_is_absolute(monkeypatch: pytest.MonkeyPatch) -> None:
    small = CLASSES.assign(up_to=CLASSES["up_to"].replace(1.0, 0.001))
    monkeypatch.setattr(index_rows, "_classes", lambda: small)
    assert class_of("mine", np.array([0.001 + 0.9e-9, 0.001 + 1.1e-9]))[0].tolist() == [0, 1]


def test_no_value_and_no_table_have_no_class() -> None:
    assert class_of("mine", np.array([np.nan]))[0].tolist() == [-1]
    assert class_of("unknown", np.array([1.0]))[0].tolist() == [-1]


def block(**more: Any) -> IndexRows:
    given: dict[str, Any] = {
        "sample": np.array([1, 0]), "index": "mine", "substance": np.array(["Lead", "Zinc"], dtype=object),
        "value": np.array([3.0, 0.5]), "low": np.array([2.0, 0.25]), "high": np.array([4.0, 0.75]), "unit": "%",
        "source": "own set", "members": np.array(["two of 3", ""], dtype=object), "note": "told", "evidence": "seen",
    }  # fmt: skip
    return IndexRows(**(given | more))


def rows_of(*blocks: IndexRows) -> list[dict[str, Any]]:
    samples, stations = np.array(["A", "B"], dtype=object), np.array(["North", ""], dtype=object)
    table = as_frame(blocks, samples, stations)
    assert list(table) == INDICES
    return table.astype(object).where(table.notna(), None).to_dict("records")  # type: ignore[return-value]


def test_every_column_by_sample_and_then_by_block() -> None:
    second = block(sample=np.array([0]), index="other", substance="", value=np.array([9.0]), low=np.array([8.0]),
                   high=np.array([np.nan]), unit="umol/g", source=np.array(["a paper"], dtype=object), members="",
                   note=np.array([""], dtype=object), evidence="from_memory")  # fmt: skip
    assert rows_of(block(), second) == [
        {
            "sample": "A", "station": "North", "index": "mine", "substance": "Zinc", "value": 0.5, "low": 0.25,
            "high": 0.75, "unit": "%", "class": "few", "set_or_source": "own set; classes: A 2001, table 1",
            "members": None, "evidence": "seen", "note": "told",
        },
        {
            "sample": "A", "station": "North", "index": "other", "substance": None, "value": 9.0, "low": 8.0,
            "high": None, "unit": "umol/g", "class": None, "set_or_source": "a paper", "members": None,
            "evidence": "from_memory", "note": None,
        },
        {
            "sample": "B", "station": None, "index": "mine", "substance": "Lead", "value": 3.0, "low": 2.0,
            "high": 4.0, "unit": "%", "class": "some", "set_or_source": "own set", "members": "two of 3",
            "evidence": "conflict", "note": "told",
        },
    ]  # fmt: skip


def test_texts_are_coded_and_numbers_are_numbers() -> None:
    table = as_frame([block()], np.array(["A", "B"], dtype=object), np.array(["", ""], dtype=object))
    assert {name for name, kind in table.dtypes.astype(str).items() if kind == "float64"} == {"value", "low", "high"}
    assert set(table.dtypes.astype(str)) == {"float64", "category"}


def test_where_classes_do_not_apply_the_class_is_empty_and_its_source_still_told() -> None:
    first, second = rows_of(block(classify=np.array([False, True])))
    assert (first["class"], second["class"], second["set_or_source"]) == ("few", None, "own set")


@pytest.mark.parametrize(
    ("of_block", "value", "mark"),
    [("seen", 0.5, "seen"), ("conflict", 0.5, "conflict"), ("seen", 3.0, "conflict"), ("", 0.5, "seen")],
)
def test_the_weaker_mark_of_class_and_coefficients(of_block: str, value: float, mark: str) -> None:
    rows = rows_of(block(value=np.array([value, value]), evidence=of_block))
    assert {row["evidence"] for row in rows} == {mark}


def test_without_any_mark_it_is_from_memory() -> None:
    assert {row["evidence"] for row in rows_of(block(index="unknown", evidence=""))} == {"from_memory"}


@pytest.mark.parametrize(
    ("marks", "weakest_of_all"),
    [
        (["seen", "own"], "own"),
        (["from_memory", "own", "seen"], "from_memory"),
        (["seen", "conflict", "from_memory"], "conflict"),
        (["own", "some other word"], "some other word"),
        (["conflict", "some other word"], "conflict"),
        (["", "seen"], "seen"),
        (["", ""], ""),
        ([], ""),
    ],
)
def test_the_weakest_of_several_marks(marks: list[str], weakest_of_all: str) -> None:
    assert weakest(marks) == weakest_of_all


def test_no_blocks_make_an_empty_table_of_the_same_columns() -> None:
    assert rows_of() == []
