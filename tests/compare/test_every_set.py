"""What holds of every built-in set: levels that rise, findings that rise, units that come back."""

from __future__ import annotations

import functools

import numpy as np
import pandas as pd
import pytest
from made import batch_of

from screen.model import FINDING_ORDER
from screen.reference.rules import sum_rules
from screen.reference.sets import GuidelineSet, builtin_ids, load_set
from screen.reference.substances import describe
from screen.stages.compare import compare
from screen.stages.compare.findings.levels import levels_of
from screen.stages.normalise import normalise
from screen.stages.sums import total

SETS = builtin_ids()
#: Those that have a level for a single substance.
SINGLES = [name for name in SETS if not set(load_set(name).rows["substance"]) <= set(load_set(name).sums)]
#: Multiples of the middle of a substance's levels, from far below to far above.
STEPS = (1e-4, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0, 1.1, 1.5, 2.0, 3.0, 10.0, 100.0, 1e4)


@functools.cache
def findings(name: str) -> pd.DataFrame:
    """Findings of one set for samples that have each of its single substances at each of STEPS."""
    chosen = load_set(name)
    rows: list[tuple[str, str, str]] = []
    few = chosen.rows[~chosen.rows["substance"].isin(list(chosen.sums))]
    facts = describe(list(dict.fromkeys(few["substance"])))
    levels = levels_of(chosen, sum_rules())
    for substance in facts.index:
        figures = levels.figure[list(levels.substances).index(substance)]
        middle = float(np.exp(np.nanmean(np.log(figures[figures > 0])))) if (figures > 0).any() else 1.0
        rows += [(f"{step:g}", str(substance), f"{middle * step:.6g}") for step in STEPS]
    carbon = [(f"{step:g}", "Total organic carbon", "1") for step in STEPS if "Total organic carbon" not in facts.index]
    aluminium = [(f"{step:g}", "Aluminum", "50000") for step in STEPS if "Aluminum" not in facts.index]
    batch = normalise(batch_of([*rows, *carbon, *aluminium]))
    return compare(batch.results, total(batch.results), [chosen], samples=batch.samples)


@pytest.mark.parametrize("name", SINGLES)
def test_a_finding_never_gets_milder_when_a_value_rises(name: str) -> None:
    table = findings(name)
    table = table[table["total"].isna()]
    assert len(table)
    rank = table["finding"].astype(object).map(FINDING_ORDER.index)
    step = table["sample"].astype(str).astype(float)
    ordered = table.assign(rank=rank, step=step).sort_values("step")
    for substance, own in ordered.groupby(ordered["substance"].astype(str)):
        if (own["finding"] == "not-assessed").all():
            continue  # a fine fraction, or carbon itself
        assert own["rank"].is_monotonic_increasing, substance


@pytest.mark.parametrize("name", SINGLES)
def test_a_quotient_is_the_value_over_the_level(name: str) -> None:
    table = findings(name)
    for side in ("lower", "upper"):
        quotient = table["value"] / table[f"{side}_level"]
        given = table[f"{side}_quotient"]
        known = given.notna()
        assert np.allclose(quotient[known], given[known], rtol=1e-12)


@pytest.mark.parametrize("name", SETS)
def test_levels_rise_on_one_basis(name: str) -> None:
    """But for the pairs that a source prints so: a SEL per carbon may fall below a LEL on dry weight."""
    chosen: GuidelineSet = load_set(name)
    levels = levels_of(chosen, sum_rules())
    for place in range(len(levels.substances)):
        has = ~np.isnan(levels.figure[place])
        if len(set(levels.basis[place][has])) == 1:
            assert (np.diff(levels.figure[place][has]) >= 0).all(), levels.substances[place]


@pytest.mark.parametrize("name", SETS)
def test_every_substance_is_known_or_a_sum_of_the_set(name: str) -> None:
    chosen = load_set(name)
    known = describe(list(dict.fromkeys(chosen.rows["substance"])))
    for substance, row in known.iterrows():
        assert substance in chosen.sums or row["unit"], substance


def test_all_sets_in_one_run_say_what_each_says_alone() -> None:
    rows = [
        ("S", "Lead", "100"),
        ("S", "Fluoranthene", "900"),
        ("S", "Total organic carbon", "2"),
        ("S", "Zinc", "200"),
    ]
    rows += [("S", "PCB-153", "5"), ("S", "Aluminum", "40000"), ("S", "4,4'-DDE", "3"), ("S", "Dieldrin", "<5")]
    batch = normalise(batch_of(rows))
    totals = total(batch.results)
    every = [load_set(name) for name in SETS]
    together = compare(batch.results, totals, every, samples=batch.samples)
    apart = [compare(batch.results, totals, [one], samples=batch.samples) for one in every]
    columns = ["set", "substance", "total", "basis", "value", "finding", "settled", "evidence", "note"]
    expected = pd.concat([one[columns].astype(object) for one in apart if len(one)])
    by = ["set", "substance", "total", "basis", "value"]
    first, second = (
        one.astype(object).fillna("").astype(str).drop_duplicates().sort_values(by).reset_index(drop=True)
        for one in (together[columns], expected)
    )
    pd.testing.assert_frame_equal(first, second)
