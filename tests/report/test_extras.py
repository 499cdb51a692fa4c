"""What ``--pdf`` and ``--memo`` say where they cannot work, and what they write where they can."""

from __future__ import annotations

import importlib.util

import pytest

from screen.printing import PrintError
from screen.settings import Settings, SettingsError
from screen.stages.report import extras
from screen.stages.report.memo.memo_files import write_memo


def test_pdf_without_a_browser_says_what_to_do(monkeypatch):
    monkeypatch.setattr(extras, "browser", lambda: None)
    with pytest.raises(SettingsError, match=r"needs a Chromium browser.*print report.html from any browser"):
        extras.check_extras(Settings(pdf=True))


def test_memo_without_its_library_says_what_to_install(monkeypatch):
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SettingsError, match="pip install"):
        extras.check_extras(Settings(memo=True))


def test_neither_asked_for_needs_nothing(monkeypatch):
    monkeypatch.setattr(extras, "browser", lambda: None)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    extras.check_extras(Settings())


def test_a_browser_that_fails_says_what_to_do(monkeypatch, tmp_path):
    def fails(html, title):
        raise PrintError("no")

    monkeypatch.setattr(extras, "print_pdf", fails)
    (tmp_path / "report.html").write_text("<p>x</p>", encoding="utf-8")
    with pytest.raises(SettingsError, match=r"report\.pdf could not be printed"):
        extras.write_pdf(tmp_path / "report.html", tmp_path / "report.pdf")
    assert not (tmp_path / "report.pdf").exists()


def test_memo_files_are_the_same_each_time(run, tmp_path):
    pytest.importorskip("docx")
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        write_memo(run, tmp_path / name)
    for file in ("memo.md", "memo.docx"):
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes()
