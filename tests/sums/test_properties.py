"""What holds of every total, whatever is in it."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st
from made import results_of

from screen.stages.sums import total

#: Of lists of every kind: peaks, weights, factors, members that stand in two lists, sums by chlorine number.
MEMBERS = (
    "Naphthalene", "Fluorene", "Pyrene", "Chrysene", "Benzo(b,k)fluoranthene", "Anthracene", "Fluoranthene",
    "PCB-28/31", "PCB-52", "PCB-90/101/113", "PCB-118", "PCB-126", "PCB-156/157", "PCB-209", "Aroclor 1254",
    "Aroclor 1260", "Total Tetrachlorobiphenyls", "Total Decachlorobiphenyls", "4,4'-DDT", "2,4'-DDE", "4,4'-DDD",
    "2,3,7,8-TCDD", "1,2,3,7,8-PeCDD", "OCDD", "cis-Chlordane", "gamma-BHC (Lindane)", "Tributyltin", "SEM Zinc",
    "SEM Silver",
)  # fmt: skip
RULES = ("zero", "half", "root2", "full", "km")
NUMBER = st.floats(1e-3, 1e5).map(lambda x: f"{x:.6g}")
TEXT = st.one_of(
    NUMBER,
    NUMBER.map(lambda x: f"<{x}"),
    NUMBER.map(lambda x: f"max {x}"),
    NUMBER.map(lambda x: f">{x}"),
    NUMBER.map(lambda x: f"trace 0-{x}"),
    st.just("ND"),
)
SAMPLES = st.lists(st.tuples(st.sampled_from("ABC"), st.sampled_from(MEMBERS), TEXT), min_size=1, max_size=30,
                   unique_by=lambda row: row[:2])  # fmt: skip


def totals(rows: list[tuple[Any, ...]]) -> pd.DataFrame:
    return total(results_of(rows), nondetects=RULES)


@settings(max_examples=10, deadline=None)
@given(SAMPLES)
def test_low_value_high(rows: list[tuple[Any, ...]]) -> None:
    table = totals(rows)
    value, low, high = (table[name].to_numpy() for name in ("value", "low", "high"))
    assert not (low > value).any()
    assert not (value > high).any()


@settings(max_examples=10, deadline=None)
@given(SAMPLES, st.randoms(use_true_random=False))
def test_the_order_of_rows_never_matters(rows: list[tuple[Any, ...]], shuffle: random.Random) -> None:
    other = rows.copy()
    shuffle.shuffle(other)
    first, second = totals(rows), totals(other)
    for name in ("sample", "total", "rule", "missing", "note"):
        assert first[name].astype(object).fillna("").tolist() == second[name].astype(object).fillna("").tolist()
    for name in ("value", "low", "high", "limit"):
        assert first[name].to_numpy().tobytes() == second[name].to_numpy().tobytes()


@settings(max_examples=10, deadline=None)
@given(SAMPLES, NUMBER)
def test_adding_a_nondetect_never_lowers_high(rows: list[tuple[Any, ...]], limit: str) -> None:
    before = totals(rows).set_index(["sample", "total", "rule"])["high"]
    more = [*rows, *((sample, "Perylene", f"<{limit}") for sample in "ABC")]
    more += [(sample, name, f"<{limit}") for sample in "ABC" for name in ("Benzo(a)pyrene", "PCB-180", "2,4'-DDT")]
    after = totals(more).set_index(["sample", "total", "rule"])["high"].reindex(before.index)
    assert not (after < before).any()
    assert (before.isna() <= after.isna()).all()


@settings(max_examples=10, deadline=None)
@given(SAMPLES)
def test_members_are_conserved(rows: list[tuple[Any, ...]]) -> None:
    table = totals(rows)
    missing = table["missing"].astype(object).fillna("").map(lambda text: len(text.split(";")) if text else 0)
    assert (table["members"] == table["measured"] + missing).all()
    assert (table["detects"] <= table["peaks"]).all()
    assert np.isnan(table.loc[~table["detected"], "value"]).all()


@settings(max_examples=10, deadline=None)
@given(SAMPLES, st.integers(-3, 3))
def test_a_unit_of_another_size_changes_nothing_else(rows: list[tuple[Any, ...]], power: int) -> None:
    """All figures a power of ten larger or smaller: so are the sums, by every rule, and nothing else differs."""
    by = 10.0**power
    first = totals(rows)
    results = results_of(rows)
    figures = ["value", "limit", "low", "high"]
    second = total(results.assign(**{name: results[name] * by for name in figures}), nondetects=RULES)
    for name in figures:
        assert np.allclose(first[name] * by, second[name], rtol=1e-12, atol=0, equal_nan=True), name
    for name in ("total", "rule", "complete", "measured", "peaks", "detects", "missing"):
        assert first[name].astype(object).fillna("").tolist() == second[name].astype(object).fillna("").tolist(), name
