"""The README keeps its word: its table of sets is that of the data, its commands exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from harness import ROOT

from screen.reference.overview import list_sets

README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_set_stands_in_the_table_with_its_counts():
    missing = [
        one["id"]
        for one in list_sets().to_dict("records")
        if not re.search(
            rf"\| `{one['id']}` \|.*\| {one['seen']} / {one['from_memory']} / {one['conflict']} \|", README
        )
    ]
    assert missing == []


def test_every_link_leads_to_a_file():
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert [one for one in links if not Path(ROOT / one).exists()] == []


@pytest.mark.parametrize("command", sorted(set(re.findall(r"^siltmark (\w+)", README, re.M))))
def test_every_command_shown_exists(command, siltmark):
    assert siltmark(command, "--help").status == 0
