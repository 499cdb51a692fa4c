"""The pages of documentation hold what the data hold."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from screen.reference.index_about import about_indices
from screen.reference.locate import read_table

DOCS = Path(__file__).parents[2] / "docs"


def filler() -> ModuleType:
    spec = importlib.util.spec_from_file_location("fill_tables", DOCS / "fill_tables.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("page", ["coverage.md", "methods.md"])
def test_a_page_says_what_the_data_say(page: str) -> None:
    text = (DOCS / page).read_text(encoding="utf-8")
    assert filler().filled(text) == text, "run `python docs/fill_tables.py`"


def test_every_class_belongs_to_an_index_that_is_described() -> None:
    for index in set(read_table("coefficients/index_classes.csv")["index"]):
        assert any(one.fits(index) for one in about_indices()), index


@pytest.mark.parametrize("one", about_indices(), ids=lambda one: one.id)
def test_every_index_says_all_of_it(one) -> None:
    assert all((one.name, one.formula, one.source, one.nondetects, one.caveats))
