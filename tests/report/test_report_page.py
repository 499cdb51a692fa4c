"""The page: what it must say, what it must never say, and how it is built."""

from __future__ import annotations

import dataclasses
import itertools
import re
from collections import Counter
from html.parser import HTMLParser

import pandas as pd
import pytest
from invented import make_run

from screen.settings import Answer, Settings
from screen.stages.report.page.page import render

SECTIONS = [
    "summary",
    "findings",
    "reach",
    "cores",
    "totals",
    "not-assessed",
    "quality",
    "method",
    "sources",
    "cautions",
    "record",
]
_VOID = {"meta", "br", "wbr", "input", "link", "img", "hr"}


class _Page(HTMLParser):
    """Elements with their attributes and text, in order; an element left open or closed twice is an error."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        assert not self._open

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in _VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        if self._open and self._open[-1] not in ("style", "script"):
            self.texts.append(data)

    def all(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.texts))


def summary(html: str) -> str:
    return _Page(html[html.index('<section id="summary"') : html.index('<section id="findings"')]).text


@pytest.fixture(scope="module")
def html(run):
    return render(run)


@pytest.fixture(scope="module")
def page(html):
    return _Page(html)


def test_sections_in_order(page):
    assert [attributes["id"] for attributes in page.all("section")] == SECTIONS


def test_every_finding_has_its_mark(run, page):
    marks = Counter(
        tuple(a[f"data-{name}"] for name in ("sample", "substance", "set", "finding"))
        for a in page.all("td")
        if a.get("class", "").startswith("mark")
    )
    frame = run.findings[["sample", "substance", "set", "finding"]].astype(str)
    assert marks == Counter(frame.itertuples(index=False, name=None))


def test_no_address_of_anything_outside(html):
    assert not re.search(r"https?:|//[a-z]|@import|<(img|link|iframe|object)|url\((?!#|'data:image/svg)", html)


def test_same_text_each_time(run, html):
    assert render(run) == html


def test_headings_do_not_skip_a_rank(page):
    ranks = [int(tag[1]) for tag, _ in page.elements if re.fullmatch(r"h[1-6]", tag)]
    assert ranks[0] == 1
    assert ranks.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(ranks))


def test_ids_are_unique_and_links_lead_somewhere(page):
    ids = [a["id"] for _, a in page.elements if "id" in a]
    assert len(ids) == len(set(ids))
    targets = {a["href"][1:] for tag, a in page.elements if tag in ("a", "use")}
    assert targets <= set(ids)


def test_tables_have_captions_and_scopes(page):
    tags = [tag for tag, _ in page.elements]
    assert tags.count("caption") == tags.count("table")
    assert all(a.get("scope") in ("col", "row", "colgroup") for a in page.all("th"))


def test_pictures_have_a_title_and_a_description(html):
    for drawing in re.findall(r'<svg class="picture".*?</svg>', html, re.S):
        assert re.search(r"<title id=[^>]+>[^<]+</title><desc id=[^>]+>[^<]+</desc>", drawing)


def test_language_and_title(html):
    assert '<html lang="en-GB">' in html
    assert "<title>Wendle estuary, spring survey, memo 7</title>" in html


@pytest.mark.parametrize("word", ["safe", "clean", "toxic", "no action needed", "unregulated", "polluted", "failed"])
def test_words_that_are_never_said(page, word):
    assert not re.search(rf"\b{word}\b", page.text, re.I)


@pytest.mark.parametrize("word", ["above", "between levels", "below", "limit too high", "not assessed", "unsettled"])
def test_words_that_are_said(page, word):
    assert word in page.text


def test_open_findings_are_counted_in_the_sentence_of_the_exceedances(run, html):
    said = summary(html)
    of_set = run.findings[run.findings["set"].astype(str) == "long-1995-marine"]
    number = of_set["finding"].astype(str).value_counts()
    unsettled = int((of_set["settled"].eq(False) & (of_set["finding"].astype(str) != "undetermined")).sum())
    sentence = next(one for one in said.split(". ") if f"Of {len(of_set)} findings" in one)
    assert f"{number['above']} are above the ERM, {number['between']} between ERL and ERM" in sentence
    assert f"{number['undetermined']} cannot be judged" in sentence
    assert f"{number['not-assessed']} is not assessed" in sentence
    assert f"and {unsettled} of the others is unsettled" in sentence


def test_first_page_names_samples_without_results(html):
    assert "X99-1" in summary(html)


def test_level_from_memory_is_said_on_the_first_page_and_at_the_mark(html, page):
    assert "level figure that was taken from memory or on which sources conflict: Zinc (long-1995-marine)" in summary(
        html
    )
    assert page.text.count("level from memory") > 20


def test_next_steps_name_the_limit_that_would_have_answered(html):
    assert re.search(r"Lower limits.*Cadmium at \d samples: 0\.99 mg/kg or less, the TEC", summary(html))


def test_next_steps_name_the_missing_members(html):
    assert "Acenaphthene and Fluorene, for Total PAHs (pah-13) at W03-1" in summary(html)


def test_assumptions_come_first():
    answer = Answer(
        file="wendle-metals.xlsx", sheet="Results", basis="dry", because="the laboratory says so", by="J. Desk"
    )
    said = summary(render(make_run(Settings(basis="wet", unit="mg/kg", answers=(answer,)))))
    assert said.index("--basis") < said.index("samples from")
    assert "read as wet weight" in said
    assert "read in mg/kg" in said
    assert "wendle-metals.xlsx, sheet Results: basis dry, because the laboratory says so (J. Desk)." in said


def test_pcb_line_only_where_totals_reach_fifty_mg_per_kg(html):
    assert "40 CFR 761" not in html
    said = summary(render(make_run(scale=80.0)))
    assert re.search(r"Total PCBs reach 50\.0 mg/kg dry weight in W.*Waste rules for PCBs may apply.*40 CFR 761", said)


_HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=1>',
    "' onload='x",
    "\u202eevil",
    "x" * 500,
    "\U0001f9ea",
    "{{ 7*7 }}",
]


@pytest.mark.parametrize("name", _HOSTILE)
def test_hostile_names_show_as_text(name):
    run = make_run(Settings(title=name, memo_no=name, prepared_by=name), stations=3, sample_text=name)
    run = dataclasses.replace(
        run,
        batch=dataclasses.replace(
            run.batch, samples=run.batch.samples.assign(colour=pd.Categorical([name] * len(run.batch.samples)))
        ),
    )
    html = render(run)
    page = _Page(html)
    assert len(page.all("script")) == 1
    assert not page.all("img")
    assert not any(key.startswith("on") for _, attributes in page.elements for key in attributes)
    assert any(a.get("data-sample") == f"W01-1{name}" for a in page.all("td"))


def test_chains_are_folded_in_and_linked(run):
    row = run.findings[run.findings["finding"].astype(str) == "above"].iloc[0]
    chain = {
        "sample": row["sample"],
        "substance": row["substance"],
        "total": row["total"],
        "set": row["set"],
        "finding": "above",
        "steps": [
            {"step": "read", "from": "<15", "to": 15.0, "unit": "mg/kg", "source": "lab.xlsx, A, C4", "substance": "X"},
            {
                "step": "dry-weight",
                "operation": "÷",
                "substance": "X",
                "from": 15.0,
                "by": 0.6,
                "to": 25.0,
                "unit": "mg/kg",
                "source": "solids 60 %",
            },
        ],
        "cells": [{"file": "lab.xlsx", "sheet": "A", "row": 4, "column": "C", "text": "<15"}],
    }
    html = render(run, [chain])
    page = _Page(html)
    assert [a["id"] for a in page.all("details") if "chain" in (a.get("class") or "").split()] == ["chain-1"]
    assert any(a.get("href") == "#chain-1" for a in page.all("a"))
    assert "15 ÷ 0.6 = 25 mg/kg, to dry weight (solids 60 %)" in page.text
    assert "lab.xlsx, A: C4 “<15”" in page.text


def test_a_large_batch_shows_the_gravest_stations_and_says_so():
    run = make_run(stations=260, cores=False)
    html = render(run)
    said = summary(html)
    assert "The batch has 260 samples" in said
    assert "260 samples from 260 stations" in said
    marks = [a for a in _Page(html).all("td") if a.get("class", "").startswith("mark")]
    assert 0 < len({a["data-sample"] for a in marks}) <= 200
    assert len(html) < 6_000_000


def test_no_river_km_anywhere():
    run = make_run(stations=4, cores=False)
    run = dataclasses.replace(run, findings=run.findings.assign(river_km=float("nan")))
    assert "no river km is known" in render(run)
