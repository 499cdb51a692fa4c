"""What is installed and promised: every dependency's licence is listed, every promise of the README has its test."""

from __future__ import annotations

import re

import pytest
from harness import ROOT

from tests.robust.licences import direct

README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGE = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
PROMISES = README.partition("## Promises")[2].partition("\n## ")[0]


@pytest.mark.parametrize("name", sorted({name for names in direct().values() for name in names}))
def test_every_dependency_is_listed_with_its_licence(name: str) -> None:
    assert re.search(rf"^\| {re.escape(name)} \| \S[^|]* \|", PAGE, re.MULTILINE), "write the page anew (see there)"


@pytest.mark.parametrize("name", direct()["run"])
def test_what_runs_the_tool_is_under_a_permissive_licence(name: str) -> None:
    row = re.search(rf"^\| {re.escape(name)} \| ([^|]*) \|", PAGE, re.MULTILINE)
    assert row is not None
    assert re.search(r"MIT|BSD|Apache|PSF|ZPL|Zope", row[1])


def test_every_promise_leads_to_tests() -> None:
    rows = [line for line in PROMISES.splitlines() if line.startswith("| ") and "---" not in line][1:]
    assert len(rows) >= 6
    for row in rows:
        links = re.findall(r"\]\(([^)]+)\)", row)
        assert links, row
        for link in links:
            place = ROOT / link
            tests = [place] if place.is_file() else sorted(place.glob("test_*.py"))
            assert tests, f"{link} holds no test"
            assert any("def test_" in one.read_text("utf-8") for one in tests), link
