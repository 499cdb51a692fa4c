"""The empty set that a user starts from."""

from __future__ import annotations

from pathlib import Path

import pytest

from screen.reference.check import check_set
from screen.reference.sets import load_set
from screen.reference.template import template_set


@pytest.mark.parametrize("name", ["mine", "mine.csv", "mine.toml"])
def test_it_is_in_order_as_it_stands(tmp_path: Path, name: str) -> None:
    table, about = template_set(tmp_path / name)
    assert (table.name, about.name) == ("mine.csv", "mine.toml")
    assert check_set(table) == []
    assert load_set(about).levels == ("lower level", "upper level")


def test_it_stays_in_order_with_all_comments_taken_off(tmp_path: Path) -> None:
    _, about = template_set(tmp_path / "mine")
    lines = about.read_text(encoding="utf-8").splitlines()
    settings = ("[", "range_pct", "outside =", "nondetects", '"lower', '"upper')
    bare = [line[2:] if line.startswith("# ") and line[2:].startswith(settings) else line for line in lines]
    about.write_text("\n".join(bare), encoding="utf-8")
    assert [finding.message for finding in check_set(about)] == ["[toc] is given, and no figure is on a carbon basis."]


def test_it_writes_over_nothing(tmp_path: Path) -> None:
    template_set(tmp_path / "mine")
    with pytest.raises(FileExistsError):
        template_set(tmp_path / "mine.toml")
