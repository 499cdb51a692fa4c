"""A finished run of an invented estuary for the tests of the report."""

from __future__ import annotations

import pytest
from invented import make_run

from screen.model import Run


@pytest.fixture(scope="session")
def run() -> Run:
    return make_run()
