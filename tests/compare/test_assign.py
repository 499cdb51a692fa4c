"""Which sets are compared for which sample, and what a user is told of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from screen.settings import Settings
from screen.stages.compare.findings.assign import assign_sets

MARINE, FRESH = "long-1995-marine", "consensus-2000-fresh"


def assigned(
    waters: list[str | None], *, carbon: list[float] | None = None, **settings: Any
) -> tuple[list[str], list[tuple[str, str]], tuple[Any, ...]]:
    names = [f"S{number}" for number in range(1, len(waters) + 1)]
    samples = pd.DataFrame(
        {"sample": names, "water": pd.Series(waters, dtype=object), "toc_pct": carbon or [np.nan] * len(waters)}
    )
    sets, pairs, problems = assign_sets(samples, Settings(**settings))
    assert pairs.dtypes.astype(str).to_dict() == {"sample": "category", "set": "category"}
    return [one.id for one in sets], list(pairs.astype(object).itertuples(index=False, name=None)), problems


def test_named_sets_are_compared_for_every_sample_once_in_the_order_given() -> None:
    sets, pairs, problems = assigned(["fresh", None], guidelines=(MARINE, FRESH, MARINE))
    assert sets == [MARINE, FRESH]
    assert pairs == [("S1", MARINE), ("S2", MARINE), ("S1", FRESH), ("S2", FRESH)]
    assert problems == ()


@pytest.mark.parametrize(("water", "sets"), [("fresh", [FRESH]), ("marine", [MARINE]), ("estuarine", [MARINE, FRESH])])
def test_defaults_by_the_samples_own_water_and_then_by_that_of_the_settings(water: str, sets: list[str]) -> None:
    for waters, settings in (([water], "marine" if water == "fresh" else "fresh"), ([None], water)):
        found, pairs, problems = assigned(waters, water=settings)
        assert (found, pairs, problems) == (sets, [("S1", one) for one in sets], ())


def test_the_water_of_most_samples_leads() -> None:
    assert assigned(["marine", "fresh", "fresh"])[0] == [FRESH, MARINE]
    assert assigned(["marine", "marine", "fresh"])[0] == [MARINE, FRESH]
    assert assigned(["fresh", "marine", "marine", "fresh"])[0] == [FRESH, MARINE]


def test_each_sample_has_the_sets_of_its_own_water() -> None:
    assert assigned(["marine", "fresh", "estuarine"])[1] == [
        ("S1", MARINE), ("S2", FRESH), ("S3", MARINE), ("S3", FRESH),
    ]  # fmt: skip


def test_an_unknown_water_takes_both_and_is_told_with_its_mend() -> None:
    sets, pairs, problems = assigned(["fresh", None, None])
    assert sorted(sets) == [FRESH, MARINE]
    assert sorted(pairs) == sorted([("S1", FRESH), *((one, name) for one in ("S2", "S3") for name in sets)])
    (problem,) = problems
    assert (problem.code, problem.severity) == ("water-unknown", "warning")
    assert problem.text == (
        "samples S2, S3: no water type is stated, so the levels for fresh and for salt water are both used. "
        "Give the water in the field record, or with --water fresh, estuarine or marine."
    )


@pytest.mark.parametrize(
    ("carbon", "outside"),
    [([1.0, 2.0], False), ([0.5, 3.5], False), ([0.49, 1.0], True), ([1.0, 3.51], True), ([np.nan, 1.0], False)],
)
def test_a_set_that_takes_anothers_place_comes_last_where_carbon_needs_it(carbon: list[float], outside: bool) -> None:
    sets, pairs, _ = assigned(["marine", "marine"], carbon=carbon, guidelines=("washington-marine", MARINE))
    assert sets == ["washington-marine", MARINE] + ["washington-marine-dry"] * outside
    assert {name for _, name in pairs} == {"washington-marine", MARINE}


def test_a_set_that_is_named_already_is_not_added_again() -> None:
    chosen = ("washington-marine-dry", "washington-marine")
    assert assigned(["marine"], carbon=[9.0], guidelines=chosen)[0] == list(chosen)
