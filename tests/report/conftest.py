"""A finished run of an invented estuary for the tests of the report."""

from __future__ import annotations

import pytest
from invented import make_run

from screen.model import Run


@pytest.fixture(scope="session")
def run() -> Run:
    return make_run()


@pytest.fixture(scope="session")
def demo_run() -> Run:
    """The demo, through all stages."""
    from screen.pipeline import run as screen_all
    from screen.reference.locate import demo_root
    from screen.settings import load_settings

    settings = load_settings(demo_root() / "settings.toml", {})
    return screen_all([demo_root() / "lab_sheets"], settings=settings)
