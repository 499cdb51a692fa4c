"""Sentences on the reach: told where values step along the river, silent where too little was measured."""

import dataclasses

import pandas as pd
import pytest
from invented import make_run

from screen.model import Run
from screen.stages.report.words.reach_words import core_sentences, reach_sentences, steps


def with_stations(run: Run, values: list[tuple[float, float]], substance: str) -> Run:
    """The run with a table of stations at 1, 2, ... km from the mouth: bounds of the mean at the surface."""
    rows = [
        {
            "station": f"K-{at}",
            "role": "site",
            "river_km": float(at),
            "layer": "surface",
            "substance": substance,
            "mean_low": low,
            "mean_high": high,
            "method": "one result",
        }
        for at, (low, high) in enumerate(values, 1)
    ]
    return dataclasses.replace(run, stations=pd.DataFrame(rows).astype({"station": "category"}))


@pytest.fixture(scope="module")
def run() -> Run:
    return make_run()


@pytest.fixture(scope="module")
def substance(run: Run) -> str:
    found = run.findings[(run.findings["finding"] != "not-assessed") & run.findings["total"].isna()]
    return str(found["substance"].astype(str).iloc[0])


def test_a_threefold_step_is_told_with_its_place(run: Run, substance: str) -> None:
    told = reach_sentences(with_stations(run, [(30, 30)] * 4 + [(10, 10)] * 4, substance))
    assert "3.0 times as high at the 4 stations downstream of K-5 as at the 4 from there upstream" in told[0]
    assert "between K-4 and K-5" in told[0]


def test_non_detects_can_leave_a_step_unsettled(run: Run, substance: str) -> None:
    made = with_stations(run, [(30, 30)] * 4 + [(0, 20)] * 4, substance)
    assert not steps(made)[0].settled
    assert steps(made)[0].least == 1.5
    assert "not settled" in reach_sentences(made)[0]


def test_too_few_stations_say_nothing(run: Run, substance: str) -> None:
    assert steps(with_stations(run, [(30, 30), (30, 30), (1, 1), (1, 1), (1, 1)], substance)) == []


def test_no_step_says_nothing(run: Run, substance: str) -> None:
    assert steps(with_stations(run, [(10, 10)] * 8, substance)) == []


def test_without_cores_nothing_is_said_of_them(run: Run) -> None:
    assert core_sentences(dataclasses.replace(run, cores=run.cores.iloc[:0])) == []
