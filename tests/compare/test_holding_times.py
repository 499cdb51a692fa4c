"""Holding times: days between the dates of a result against the limits on file."""

import pandas as pd
import pytest
from made import read_rows

from screen.stages.compare.quality.holding_times import holding_times

DATES = {"collected": "2026-05-12", "extracted": "2026-05-20", "analysed": "2026-06-10"}


def judged(substance: str, **dates: str) -> pd.DataFrame:
    return holding_times(read_rows([("S1", substance, "5", "dry", None, DATES | dates)]))


def outcomes(table: pd.DataFrame) -> list[tuple[float, str, str]]:
    return list(zip(table["value"], table["criterion"], table["outcome"], strict=True))


def test_extraction_and_analysis_are_two_limits() -> None:
    """EPA/600/R-05/124: 14 days to extraction and 40 days after, for PAHs."""
    assert outcomes(judged("Chrysene")) == [
        (8.0, "at most 14 days from sampling to extraction", "within"),
        (21.0, "at most 40 days from extraction to analysis", "within"),
    ]


def test_the_last_day_is_within() -> None:
    assert outcomes(judged("Chrysene", extracted="2026-05-26"))[0][2] == "within"


def test_the_day_after_is_outside() -> None:
    assert outcomes(judged("Chrysene", extracted="2026-05-27"))[0][2] == "outside"


def test_mercury_counts_from_sampling_to_analysis() -> None:
    """NOAA 2008, Screening Quick Reference Tables, p. 31: 28 days."""
    assert outcomes(judged("Mercury")) == [(29.0, "at most 28 days from sampling to analysis", "outside")]


def test_dates_in_the_wrong_order_are_said() -> None:
    table = judged("Mercury", analysed="2026-05-01")
    assert table["outcome"].tolist() == ["outside"]
    assert "before the first" in table["note"].iloc[0]


def test_a_limit_that_is_in_dispute_says_so() -> None:
    assert "conflict" in judged("PCB-118")["note"].iloc[0]


@pytest.mark.parametrize("missing", [{"collected": ""}, {"extracted": "", "analysed": ""}])
def test_without_dates_nothing_is_judged(missing: dict[str, str]) -> None:
    assert judged("Mercury", **missing).empty


def test_results_of_one_sample_and_analysis_are_one_row() -> None:
    rows = [("S1", name, "5", "dry", None, DATES) for name in ("Zinc", "Copper", "Lead")]
    assert len(holding_times(read_rows(rows))) == 1
