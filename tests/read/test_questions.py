"""Each question goes away when the lines that answer it are pasted into the settings (contract 1, ``read``)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from sheets_by_hand import Rows, write_book

from screen.settings import load_settings
from screen.stages.read.batch import read
from screen.stages.read.decide import questions

HEAD = ["Sample ID", "Matrix", "Date", "Analyte", "Result", "Units", "Basis"]
GOOD = ["AB-1", "SE", "2026-05-12", "Zinc", 2.5, "mg/kg", "dry"]
SHEETS: dict[str, Rows] = {
    "no-basis": [HEAD, ["AB-1", None, None, "Lead", 2, "mg/kg", None]],
    "basis-conflict": [HEAD, ["AB-1", None, None, "Lead", 2, "mg/kg wet", "dry"]],
    "basis-unclear": [["dry weight or wet weight"], HEAD, ["AB-1", None, None, "Lead", 2, "mg/kg", None]],
    "unit-missing": [HEAD, ["AB-1", None, None, "Lead", 2, None, "dry"], ["AB-2", None, None, "Lead", 2, None, "dry"]],
    "unit-unknown": [HEAD, ["AB-1", None, None, "Lead", 2, "zorks", "dry"], GOOD],
    "unit-ambiguous": [HEAD, ["AB-1", None, None, "Lead", 2, "ppt", "dry"], GOOD],
    "decimal-unclear": [HEAD, ["AB-1", None, None, "Lead", "1,234", "mg/kg", "dry"]],
    "date-ambiguous": [HEAD, ["AB-1", None, "03/04/2026", "Lead", 2, "mg/kg", "dry"]],
    "bare-zero": [HEAD, ["AB-1", None, None, "Lead", 0, "mg/kg", "dry"]],
    "soil": [HEAD, ["AB-1", "Soil", None, "Lead", 2, "mg/kg", "dry"]],
    "conflict": [
        HEAD,
        ["AB-1", None, None, "Lead", 2, "mg/kg", "dry"],
        ["AB-1", None, None, "Lead", 3, "mg/kg", "dry"],
    ],
    "unknown-substance": [HEAD, ["AB-1", None, None, "Naphthalen X", 2, "ug/kg", "dry"]],
    "ambiguous-name": [HEAD, ["AB-1", None, None, "DBT", 2, "ug/kg", "dry"]],
    "qc-or-sample": [HEAD, ["MB-9", None, None, "Lead", 2, "mg/kg", "dry"], GOOD],
    "not-a-number": [HEAD, ["AB-1", None, None, "Lead", "some", "mg/kg", "dry"]],
    "not-one-number": [HEAD, ["AB-1", None, None, "Lead", "8-11", "mg/kg", "dry"]],
    "two-qualifiers": [
        ["Sample", "Analyte", "Result", "Qualifier", "Qualifier", "Units"],
        ["AB-1", "Lead", 2, None, "U", "mg/kg dry"],
    ],
    "date-for-number": [HEAD, ["AB-1", None, None, "Lead", "12-May-26", "mg/kg", "dry"]],
    "moisture-above-100": [HEAD, ["AB-1", None, None, "Percent moisture", 130, "%", None]],
    "water-content-only": [
        HEAD,
        ["AB-1", None, None, "Lead", 2, "mg/kg", "wet"],
        ["AB-1", None, None, "Water content", 80, "%", None],
    ],
    "cas-against-name": [
        [*HEAD, "CAS No."],
        ["AB-1", None, None, "Lead", 2, "mg/kg", "dry", "7440-66-6"],
    ],
    "header-unclear": [["Sample ID", "Analyte", "Resutl", "Units"], ["AB-1", "Lead", 2, "mg/kg dry"]],
    "filler-code": [HEAD, ["AB-1", None, None, "Lead", -999, "mg/kg", "dry"]],
}


@pytest.mark.parametrize("code", SHEETS)
def test_pasting_the_answer_removes_the_question(code: str, tmp_path: Path) -> None:
    path = write_book(tmp_path / "lab.xlsx", {"Results": SHEETS[code]})
    asked = [one for one in read([path]).questions if one["code"] == code]
    assert asked
    settings = tmp_path / "settings.toml"
    settings.write_text(str(asked[0]["answer"]), encoding="utf-8")
    again = read([path], load_settings(settings, {}))
    assert code not in {one["code"] for one in again.questions}
    assert "answer-unused" not in {one.code for one in again.problems}


def test_of_two_reports_the_answer_says_which_one_replaces_the_other(tmp_path: Path) -> None:
    head = ["Sample ID", "Lab Sample ID", "Analyte", "Result", "Units"]
    for name, lead in (("first.xlsx", 5), ("second.xlsx", 7)):
        rows: Rows = [head, ["AB-1", "L-1", "Lead", lead, "mg/kg dry"], ["AB-1", "L-1", "Zinc", 6, "mg/kg dry"]]
        write_book(tmp_path / name, {"Results": rows})
    paths = [tmp_path / "first.xlsx", tmp_path / "second.xlsx"]
    batch = read(paths)
    assert batch.results["substance"].tolist() == ["Zinc"]
    (asked,) = [one for one in batch.questions if one["code"] == "conflict"]
    (tmp_path / "settings.toml").write_text(str(asked["answer"]), encoding="utf-8")
    again = read(paths, load_settings(tmp_path / "settings.toml", {}))
    found = dict(zip(again.results["substance"], again.results["read_value"], strict=True))
    assert found == {"Lead": 7.0, "Zinc": 6.0}
    assert "conflict" not in {one["code"] for one in again.questions}


def test_every_code_that_can_be_asked_is_tested() -> None:
    """Codes stand in ``questions.py`` and, as calls of ``ask``, in the steps."""
    steps = Path(questions.__file__).parents[1]
    called = {
        found
        for path in steps.rglob("*.py")
        for found in re.findall(r'\.ask\(\s*[^,"]+,\s*"([a-z0-9-]+)"', path.read_text(encoding="utf-8"))
    }
    assert called | set(questions._ANSWERS) <= set(SHEETS)
