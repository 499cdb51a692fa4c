"""The page in a real browser: accessibility, keyboard, filter, narrow pages, hostile names, print.

Needs a Chromium on the machine, and from the extra ``browser`` Playwright to drive it and axe-core (the accessibility
checks of WCAG 2.2 A and AA, and its best practices). The chains are made by hand, the batch is invented.
"""

from __future__ import annotations

import dataclasses
import re
from importlib import resources

import pandas as pd
import pytest
from invented import make_run

from screen.printing import browser as chromium
from screen.settings import Settings
from screen.stages.report.page.page import render

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api", reason="needs the extra browser (Playwright and axe-core)")
axe = pytest.importorskip("axe_playwright_python", reason="needs the extra browser (Playwright and axe-core)")

_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
_HOSTILE = (
    "<script>window.hit=1</script>\"'><img src=x onerror='window.hit=1'>\u202eevil {{7*7}} \U0001f9ea " + "x" * 500
)


def chains_of(run):
    """One chain for each flagged finding, as ``explain`` gives them, with made-up cells."""
    findings = run.findings[run.findings["finding"].astype(str).isin(["above", "between", "undetermined"])]
    read = {"step": "read", "from": "15", "to": 15.0, "unit": "mg/kg", "source": "lab.xlsx, A, C4", "quantity": "value"}
    return [
        {
            **{name: str(row[name]) if pd.notna(row[name]) else "" for name in ("sample", "substance", "total", "set")},
            "finding": str(row["finding"]),
            "steps": [{**read, "substance": str(row["substance"])}],
            "cells": [],
        }
        for row in findings.to_dict("records")
    ]


@pytest.fixture(scope="module")
def page_file(tmp_path_factory):
    run = make_run(stations=4)
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_text(render(run, chains_of(run)), encoding="utf-8")
    bare = re.sub(r"<script>.*?</script>", "", path.read_text(encoding="utf-8"), flags=re.S)
    path.with_name("bare.html").write_text(bare, encoding="utf-8")
    return path


def opened(window, path, width=1280, scheme="light"):
    context = window.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    context.set_default_timeout(120_000)
    asked: list[str] = []
    page = context.new_page()
    page.on("request", lambda request: asked.append(request.url))
    page.goto(path.as_uri())
    page.asked = asked
    return page


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_no_violation_of_accessibility(window, page_file, width, scheme, scripts):
    page = opened(window, page_file if scripts else page_file.with_name("bare.html"), width, scheme)
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    page.evaluate(resources.files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    found = page.evaluate(
        "tags => axe.run(document, {runOnly: {type: 'tag', values: tags}, resultTypes: ['violations']})", _TAGS
    )
    said = [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found["violations"]]
    page.context.close()
    assert len(found["passes"]) > 15
    assert said == []


def test_no_request_but_for_the_page_itself(window, page_file):
    page = opened(window, page_file)
    assert page.asked == [page_file.as_uri()]
    page.context.close()


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_no_sideways_scroll(window, page_file, width):
    page = opened(window, page_file, width)
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.context.close()


def test_filter_by_text_and_finding(window, page_file):
    page = opened(window, page_file)
    page.fill("#sieve-text", "zinc")
    kept = page.locator(".matrix .mark:not(.dim)")
    assert {kept.nth(at).get_attribute("data-substance") for at in range(kept.count())} == {"Zinc"}
    page.fill("#sieve-text", "")
    page.select_option("#sieve-finding", "above")
    number = page.locator('.matrix .mark[data-finding="above"]').count()
    assert kept.count() == number
    assert page.locator("#sieve output").inner_text().startswith(f"{number} of ")
    page.context.close()


def test_keyboard_reaches_the_summary_a_chain_and_a_sort(window, page_file):
    page = opened(window, page_file)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the summary"
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#summary"
    page.locator(".matrix .mark a").first.focus()
    page.keyboard.press("Enter")
    target = page.evaluate("location.hash")
    assert target.startswith("#chain-")
    page.wait_for_function(f"document.querySelector('{target}').open")
    head = page.locator("#disagreement thead button").first
    page.evaluate("document.querySelectorAll('.fold').forEach(one => one.open = true)")
    head.focus()
    page.keyboard.press("Enter")
    assert page.locator("#disagreement thead th").first.get_attribute("aria-sort") == "ascending"
    names = page.locator("#disagreement tbody th").all_inner_texts()
    assert names == sorted(names, key=str.lower)
    page.context.close()


def test_hostile_names_show_as_text_everywhere(window, tmp_path):
    settings = Settings(title=_HOSTILE, memo_no=_HOSTILE, prepared_by=_HOSTILE, date=_HOSTILE, checked_by=_HOSTILE)
    run = make_run(settings, stations=3, sample_text=_HOSTILE)
    samples = run.batch.samples
    words = {
        name: pd.Categorical([_HOSTILE] * len(samples))
        for name in ("colour", "texture", "odour", "inclusions", "core", "zone", "note")
    }
    findings = run.findings.assign(
        note=pd.Categorical([_HOSTILE] * len(run.findings)), qualifier=pd.Categorical([_HOSTILE] * len(run.findings))
    )
    batch = dataclasses.replace(run.batch, samples=samples.assign(**words))
    run = dataclasses.replace(run, batch=batch, findings=findings)
    path = tmp_path / "hostile.html"
    path.write_text(render(run, chains_of(run)), encoding="utf-8")
    for width in (390, 1280):
        page = opened(window, path, width)
        assert page.evaluate("window.hit") is None
        assert page.locator("img").count() == 0
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.asked == [path.as_uri()]
        assert page.locator("h1").inner_text().startswith("<script>window.hit=1</script>\"'>")
        assert "{{7*7}}" in page.locator("main").inner_text()
        page.context.close()


@pytest.fixture(scope="module")
def demo_page(demo_run, tmp_path_factory):
    from screen.pipeline import report

    path = tmp_path_factory.mktemp("demo") / "report.html"
    report(demo_run, path)
    return path


@pytest.mark.slow
@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("letter", (612, 792))])
def test_print_of_the_demo(demo_page, tmp_path, paper, size):
    """At most 20 pages; page numbers, running head, every section, and the heads of tables on each of their pages."""
    pypdf = pytest.importorskip("pypdf")
    if chromium() is None:
        pytest.skip("no Chromium on this machine")
    from screen.printing import print_pdf

    html = demo_page.read_text(encoding="utf-8").replace("@page { size: auto;", f"@page {{ size: {paper};")
    path = tmp_path / "report.pdf"
    path.write_bytes(print_pdf(html))
    pages = pypdf.PdfReader(path).pages
    texts = [re.sub(r"\s+", " ", one.extract_text()) for one in pages]
    assert len(pages) <= 20
    assert (round(float(pages[0].mediabox.width)), round(float(pages[0].mediabox.height))) == size
    for number, text in enumerate(texts, 1):
        assert f"page {number} of {len(pages)}" in text
        assert "sediment screening, demonstration · memo DEMO-1" in text
    assert all(word in texts[0] for word in ("Summary", "What this rests on", "Before you act", "are above the ERM"))
    whole = " ".join(texts)
    for section in ("Findings", "Along the reach", "Down the cores", "Totals and how they were made", "Not assessed"):
        assert section in whole
    for section in ("Data quality", "Method", "Sources of the levels", "Cautions", "Where the figures come from"):
        assert section in whole
