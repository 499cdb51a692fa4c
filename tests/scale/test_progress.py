"""What is said while a run goes on: nothing in a quick one, a bar on a terminal, few lines in a log."""

from __future__ import annotations

import pytest

from screen.cli import common


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What goes to stderr."""
    out: list[str] = []
    monkeypatch.setattr(common.click, "echo", lambda text, nl=True, err=False: out.append(text))
    return out


def _progress(monkeypatch: pytest.MonkeyPatch, *, terminal: bool) -> common.Progress:
    clock = iter(range(0, 1000, 2))
    monkeypatch.setattr(common.time, "monotonic", lambda: float(next(clock)))
    monkeypatch.setattr(common.sys.stderr, "isatty", lambda: terminal, raising=False)
    return common.Progress()


def test_a_terminal_shows_a_bar(said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    progress = _progress(monkeypatch, terminal=True)
    progress("reading a.csv", 5, 10)
    assert said == [f"\r{'[' + '#' * 15 + '-' * 15 + '] 5/10 reading a.csv':<79}"]


def test_a_log_has_a_line_every_ten_seconds(said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    progress = _progress(monkeypatch, terminal=False)
    for step in range(12):
        progress("reading", step, 12)
    assert said == ["… reading (5 of 12)", "… reading (10 of 12)"]


def test_one_step_is_said_at_once(said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    _progress(monkeypatch, terminal=False)("writing tables")
    assert said == ["… writing tables"]
