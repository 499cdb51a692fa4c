"""Rows as plain dicts: a column without any figure is still one of figures."""

import math

import pandas as pd
import pytest

from screen import model
from screen.stages.report.facts import records

#: What each table holds as text; all else are figures or flags.
TEXTS = frozenset(
    "sample lab_sample parent station core zone role water collected texture colour odour inclusions note "
    "substance set total basis unit lower_name upper_name finding evidence layer groups n detects medians test sided "
    "outcome highest_level highest_substance highest_total highest_sample datum depth_rule rule part place method "
    "qualifier group highest_exceeded".split()
)
FLAGS = {"settled", "detected"}


@pytest.mark.parametrize(
    "table", ["CUTS", "TRENDS", "RANKING", "REACH", "STATIONS", "CORES", "FINDINGS", "CHANGE", "SAMPLES"]
)
def test_an_empty_column_of_figures_gives_nan(table: str) -> None:
    names = [*getattr(model, table), *getattr(model, f"{table}_LATER", [])]
    figures = [name for name in names if name not in TEXTS | FLAGS]
    (row,) = records(pd.DataFrame({key: [None] for key in figures}, dtype=object))
    assert [name for name, value in row.items() if not (isinstance(value, float) and math.isnan(value))] == []


def test_an_empty_column_of_texts_gives_an_empty_text() -> None:
    assert records(pd.DataFrame({"note": [None]}, dtype=object)) == [{"note": ""}]
