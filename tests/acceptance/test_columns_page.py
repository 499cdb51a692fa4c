"""docs/columns.md says every column of every table, in order, and what it means."""

from __future__ import annotations

import re

import pytest
from harness import ROOT

from screen import model

TABLES = (
    "results totals findings indices stations reach samples quality cores cuts comparisons trends ranking change ledger"
).split()
PAGE = (ROOT / "docs" / "columns.md").read_text(encoding="utf-8")


def section(table: str) -> list[list[str]]:
    body = re.split(r"^## ", PAGE.split(f"\n## {table}\n")[1], flags=re.MULTILINE)[0]
    rows = [line.strip("|").split(" | ") for line in body.splitlines() if line.startswith("| `")]
    return [[cell.strip() for cell in row] for row in rows]


@pytest.mark.parametrize("table", TABLES)
def test_the_page_names_the_columns_in_order(table: str) -> None:
    later = getattr(model, f"{table.upper()}_LATER", [])
    assert [row[0].strip("`") for row in section(table)] == [*getattr(model, table.upper()), *later]


@pytest.mark.parametrize("table", TABLES)
def test_every_column_has_a_meaning(table: str) -> None:
    assert [row[0] for row in section(table) if len(row[1]) < 4] == []
