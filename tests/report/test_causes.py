"""Why a finding cannot be judged stands beside its word: not every one is for a limit that is too high."""

import dataclasses

import pandas as pd
import pytest
from invented import make_run
from made import compared, set_of

from screen.model import Run
from screen.stages.report.facts import Facts
from screen.stages.report.marks import CAUSES, OPEN, WORDS, word
from screen.stages.report.page.page import render

LEAD = set_of([("Lead", {"L": 10, "U": 100})])


def facts_of(findings: pd.DataFrame, totals: pd.DataFrame | None = None) -> Facts:
    run: Run = make_run()
    return Facts(dataclasses.replace(run, findings=findings, totals=run.totals.iloc[:0] if totals is None else totals))


@pytest.mark.parametrize(
    ("text", "cause"), [("<50", "limit"), ("trace 5-50", "trace"), ("trace", "trace"), (">5", "more-than")]
)
def test_of_a_single_substance(text: str, cause: str) -> None:
    (one,) = facts_of(compared([("A", "Lead", text)], LEAD)).findings
    assert (one.finding, one.cause) == ("undetermined", cause)


@pytest.mark.parametrize(
    ("value", "high", "limit", "complete", "cause"),
    [
        (5.0, 5.0, None, False, "members"),
        (None, 8.0, 8.0, False, "members"),
        (None, 80.0, 80.0, False, "limit"),
        (None, 80.0, 80.0, True, "limit"),
    ],
)
def test_of_a_sum(value: float | None, high: float, limit: float | None, complete: bool, cause: str) -> None:
    made = compared([("A", "Lead", "<50")], LEAD)
    made = made.assign(total="pcb-nst18x2", value=value, high=high)
    run = make_run()
    row = run.totals.iloc[:1].assign(sample="A", total="pcb-nst18x2", high=high, limit=limit, complete=complete)
    (one,) = facts_of(made.astype({"value": float}), row.astype({"limit": float})).findings
    assert one.cause == cause


@pytest.mark.parametrize("finding", WORDS)
def test_every_word_is_the_contracts_and_the_cause_comes_behind(finding: str) -> None:
    for cause in CAUSES:
        assert word(finding, cause=cause).startswith(WORDS[finding])


def test_the_legend_and_the_mark_say_it() -> None:
    page = render(make_run(scale=0.01, nondetects=0.0))
    assert OPEN in page
    assert "limit too high (the sum lacks members)</i>" in page
