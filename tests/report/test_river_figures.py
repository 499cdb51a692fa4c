"""Figures in the sentences on the river, the cores and the cut of the demo: each is looked up in the tables."""

import re

import pandas as pd
import pytest

from screen.stages.report.facts import Facts
from screen.stages.report.numbers import MINUS, figure
from screen.stages.report.page.along import said
from screen.stages.report.words import sentences


@pytest.fixture(scope="module")
def told(demo_run):
    return said(Facts(demo_run))


def shown(column: pd.Series, digits: int = 3) -> set[str]:
    return {figure(float(one), digits) for one in column.dropna()}


def test_figures_of_the_cut_are_those_of_its_table(demo_run, told):
    lines = [text for text in told[1] if text.startswith("Cut in core")]
    assert len(lines) > 1
    known = shown(demo_run.cuts["value"])
    found = [one for text in lines for one in re.findall(r" at ([\d,.]+) [um]g/kg", text)]
    assert len(found) > 5
    assert set(found) <= known


def test_elevations_are_those_of_the_cores(demo_run, told):
    known = {f"{one:.2f}" for name in ("peak_top_m", "peak_bottom_m") for one in demo_run.cores[name].dropna()}
    found = [
        one.replace(MINUS, "-")
        for text in told[1]
        for pair in re.findall(rf"elevation ({MINUS}?[\d.]+) to ({MINUS}?[\d.]+) m", text)
        for one in pair
    ]
    assert found
    assert set(found) <= known


def test_the_trend_names_stations_and_reach(demo_run, told):
    (text,) = [one for one in told[0] if one.startswith("Trend along the river")]
    tested = demo_run.trends[demo_run.trends["p"].notna()]
    assert f"at {int(tested['n'].max())} stations" in text
    assert f"for all {len(demo_run.trends)} substances and sums" in text


def test_figures_of_the_depths_are_those_of_the_cores(demo_run):
    (text,) = [one.text for one in sentences.aside(Facts(demo_run)) if one.lead == "Depth"]
    found = re.findall(r"([\d,.]+) [um]g/kg against ([\d,.]+) at the surface", text)
    pairs = {
        (figure(float(a)), figure(float(b)))
        for a, b in zip(demo_run.cores["peak"], demo_run.cores["surface"], strict=True)
    }
    assert found
    assert set(found) <= pairs
