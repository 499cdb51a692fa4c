"""Fixtures for all tests: ``screen_csv`` takes the rows of a small sheet and gives status, messages and tables."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from harness import LONG, Outcome, run_siltmark, write_csv
from hypothesis import settings

from screen.printing import browser

#: How long an example takes says more about the machine than about the tool.
settings.register_profile("siltmark", deadline=None)
settings.load_profile("siltmark")


#: A fault of the tool must fail the test that meets it, not turn into a message.
os.environ["SILTMARK_TRACEBACK"] = "1"


@pytest.fixture(scope="session")
def siltmark() -> Callable[..., Outcome]:
    """The command as a function: ``siltmark("read", path, "--json")``."""
    return run_siltmark


@pytest.fixture
def screen_files(tmp_path: Path) -> Callable[..., Outcome]:
    """``screen_files([path, ...], "--water", "fresh", settings="...", full=False)``: the run and its tables."""

    def run(files: Sequence[Path], *options: str | Path, settings: str = "", full: bool = False) -> Outcome:
        number = len(list(tmp_path.glob("out*")))
        out = tmp_path / f"out{number}"
        extra: list[str | Path] = [] if full else ["--tables-only"]
        if settings:
            path = tmp_path / f"settings{number}.toml"
            path.write_text(settings, encoding="utf-8")
            extra += ["--settings", path]
        return run_siltmark("screen", *files, "--out", out, *extra, *options, out=out)

    return run


@pytest.fixture
def screen_csv(tmp_path: Path, screen_files: Callable[..., Outcome]) -> Callable[..., Outcome]:
    """``screen_csv(rows, header=..., field=..., options)``: as ``screen_files`` for one small sheet.

    ``rows`` follow ``header`` (sample, analyte, result, unit, basis if not given); ``field`` is a list of rows with a
    header, written as a field record. The water is fresh unless an option says otherwise.
    """

    def run(
        rows: Iterable[Sequence[object]],
        *options: str | Path,
        header: Sequence[str] = LONG,
        record: Iterable[Sequence[object]] | None = None,
        name: str = "lab.csv",
        settings: str = "",
        full: bool = False,
    ) -> Outcome:
        sheet = write_csv(tmp_path / name, [header, *rows])
        more: list[str | Path] = list(options)
        if record is not None:
            more += ["--field", write_csv(tmp_path / "field.csv", record)]
        if not {"--water", "--guidelines"} & {str(o) for o in options} and record is None:
            more += ["--water", "fresh"]
        return screen_files([sheet], *more, settings=settings, full=full)

    return run


@pytest.fixture(scope="session")
def demo_run(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The demo, screened once for all tests."""
    out = tmp_path_factory.mktemp("demo") / "out"
    return run_siltmark("demo", "--out", out, out=out)


@pytest.fixture(scope="session")
def open_data() -> Path:
    """The folder of open survey data; without it a skip that says why, or a failure where the gate requires it."""
    missing = pytest.fail if os.environ.get("SILTMARK_OPEN_DATA_REQUIRED") else pytest.skip
    folder = os.environ.get("SILTMARK_OPEN_DATA", "")
    if not folder:
        missing("SILTMARK_OPEN_DATA does not name the folder of open survey data")
    path = Path(folder)
    if not path.is_dir():
        missing(f"SILTMARK_OPEN_DATA names no folder: {path.name}")
    return path


@pytest.fixture(scope="module")
def window() -> Iterator[Any]:
    """A headless Chromium, driven by Playwright."""
    driven = pytest.importorskip("playwright.sync_api", reason="needs the extra browser (Playwright and axe-core)")
    path = browser()
    if path is None:
        pytest.skip("no Chromium on this machine")
    with driven.sync_playwright() as driver:
        made = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield made
        made.close()
