"""Rows of a table as plain values: a column that holds nothing is read by how it is stored."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from screen.stages.report.facts import records


@pytest.mark.parametrize("name", ["p", "highest_top_cm", "value"])
def test_a_column_of_figures_that_holds_nothing_stays_one(name):
    (row,) = records(pd.DataFrame({name: pd.Series([math.nan], dtype="float64")}))
    assert math.isnan(row[name])


@pytest.mark.parametrize("column", [pd.Categorical([None]), pd.Series([None], dtype=object)])
def test_a_column_of_texts_that_holds_nothing_gives_empty_texts(column):
    assert records(pd.DataFrame({"note": column})) == [{"note": ""}]
