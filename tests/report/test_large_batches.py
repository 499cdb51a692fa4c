"""Size and time of the page for large batches, and many sets: by the rules that the page itself states."""

from __future__ import annotations

import dataclasses
import re
import time

import pandas as pd
import pytest
from invented import SETS, make_run

from screen.stages.report.facts import Facts
from screen.stages.report.page.page import render
from screen.stages.report.pictures import figures
from screen.stages.report.words import sentences


def many_substances(run, times):
    """The findings over again under made-up names, so that 200 samples have ``times`` as many substances."""
    frames = []
    for at in range(times):
        frame = run.findings.copy()
        if at:
            frame["substance"] = pd.Categorical([f"{name} {at}" for name in frame["substance"].astype(str)])
        frames.append(frame.astype({"substance": object}))
    findings = pd.concat(frames, ignore_index=True)
    return dataclasses.replace(run, findings=findings)


def many_sets(run, number):
    """The first set of the run again under other ids, each with levels a little lower than the one before."""
    first = run.findings[run.findings["set"].astype(str) == "consensus-2000-fresh"]
    frames, sets = [run.findings.astype({"set": object})], [*SETS]
    for at in range(number):
        name = f"invented-{at:02d}"
        frame = first.astype({"set": object, "finding": object}).assign(set=name)
        frame.loc[frame["finding"] == "below", "finding"] = "between"
        frames.append(frame)
        sets.append(dataclasses.replace(SETS[1], id=name))
    return dataclasses.replace(run, findings=pd.concat(frames, ignore_index=True), sets=tuple(sets))


@pytest.mark.slow
def test_200_samples_by_150_substances_by_3_sets():
    """90,000 findings or more: under 3 MB, in 10 s of one core."""
    run = many_substances(make_run(stations=200, cores=False), 30)
    assert len(run.findings) > 80_000
    began = time.process_time()
    html = render(run)
    assert time.process_time() - began < 10
    assert len(html.encode()) < 3_000_000
    assert f"{len(run.findings):,} findings" in html


@pytest.mark.slow
def test_5000_samples_show_the_gravest_stations_and_count_all():
    run = make_run(stations=5_000, cores=False)
    html = render(run)
    assert "The batch has 5,000 samples" in html
    assert len(html.encode()) < 6_000_000
    drawn = set(re.findall(r'data-sample="([^"]+)"', html))
    assert 0 < len(drawn) <= 200
    number = int((run.findings["finding"].astype(str) == "above").sum())
    assert sum(int(one.replace(",", "")) for one in re.findall(r"findings, ([\d,]+) are above the", html)) == number


def test_many_sets_do_not_thin_out_the_drawings():
    run = many_sets(make_run(stations=14), 60)
    facts = Facts(run)
    assert len(facts.findings) > 4_000
    assert facts.shown == ({one.sample for one in facts.findings}, "")


def test_a_place_stands_by_the_sets_that_are_told():
    run = many_sets(make_run(stations=5, scale=0.01, nondetects=0.0), 30)
    assert len(Facts(run).places) == 5
    assert {one.set for place in Facts(run).places for one in (place.worst,)} <= set(Facts(run).told_sets)


def test_many_sets_are_compared_and_the_first_leads():
    run = many_sets(make_run(stations=5), 30)
    facts = Facts(run)
    assert [one.lead for one in sentences.answer(facts)] == ["ERL and ERM"]
    text = sentences.others(facts).text
    assert text.startswith("31 other sets were compared as well. ")
    html = render(run)
    assert {"long-1995-marine", "consensus-2000-fresh", "invented-00"} == set(re.findall(r'data-set="([^"]+)"', html))
    assert "Where sets disagree" in html


def test_the_first_page_draws_every_station_where_the_tables_show_only_some() -> None:
    facts = Facts(make_run(stations=180, cores=False))
    assert len(figures.strip_rows(facts)) == len(facts.places)
    assert figures.strip_title(facts).endswith("at each station")
    assert "The 20 gravest of" in figures.strip_upright(facts)
