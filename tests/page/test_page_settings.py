"""The settings file that the page writes: read back the same, checked in the command's words; questions as choices."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import screen.page
from screen.page.document import document_text
from screen.page.questions import answered, given_answers, open_questions, without_answer
from screen.settings import SettingsError

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
VALUES = st.one_of(
    TEXTS, st.booleans(), st.integers(-(10**9), 10**9), st.floats(allow_nan=False), st.lists(TEXTS, max_size=3)
)
KEYS = st.sampled_from(["title", "memo-no", "unit", "read_as", "a b", "ä", 'q"', "x.y"])


@given(
    st.dictionaries(KEYS, VALUES),
    st.dictionaries(st.sampled_from(["reading", "river"]), st.dictionaries(KEYS, VALUES, min_size=1)),
    st.lists(st.dictionaries(KEYS, VALUES, min_size=1), max_size=3),
)
def test_the_text_reads_back_to_the_same_tables(single, tables, answers):
    document = {**single, **tables, **({"answers": answers} if answers else {})}
    assert tomllib.loads(document_text(document)) == document


def asked(answer: str, code: str = "no-basis", **more: object) -> dict[str, object]:
    said = {"code": code, "file": "a.csv", "sheet": "", "cell": "C2", "text": "which?", "answer": answer, **more}
    return {"questions": [said]}


@pytest.mark.parametrize(
    ("answer", "values"),
    [
        ('[[answers]]\nfile = "a.csv"\nbasis = "dry"', {"is:wet", "is:dry"}),
        (
            '[[answers]]\nfile = "a.csv"\nunit = "mg/kg"',
            {"is:mg/kg", "is:ug/kg", "is:ng/kg", "is:g/kg", "is:%", "typed"},
        ),
        (
            '[[answers]]\nfile = "a.csv"\nunit = "pg/g"',
            {"is:pg/g", "is:mg/kg", "is:ug/kg", "is:ng/kg", "is:g/kg", "is:%", "typed"},
        ),
        ('[[answers]]\nfile = "a.csv"\ndecimal = "point"', {"is:point", "is:comma"}),
        ('[[answers]]\nfile = "a.csv"\ndates = "day-first"', {"is:day-first", "is:month-first"}),
        ('[[answers]]\nfile = "a.csv"\nrow = 2\ncolumn = "C"\nread_as = "NA"', {"is:NA", "typed", "skip"}),
        ('[[answers]]\nfile = "a.csv"\nrow = 2\ncolumn = "C"\nskip = true', {"is:NA", "typed", "skip"}),
        ('[reading]\nzeros = "nondetect"', {"is:refuse", "is:nondetect"}),
        ('[reading]\nsoil = "include"', {"is:include"}),
    ],
)
def test_every_value_of_a_setting_is_offered(answer, values):
    (question,) = open_questions(asked(answer), {})
    assert {one.value for one in question.choices} == values


def knows(text: str) -> str:
    return {"copper": "Copper"}.get(text.casefold(), "")


@pytest.mark.parametrize(
    ("answer", "code", "chosen", "typed", "wanted"),
    [
        ('[[answers]]\nfile = "a.csv"\nbasis = "dry"', "no-basis", "is:wet", "", {"file": "a.csv", "basis": "wet"}),
        (
            '[[answers]]\nfile = "a.csv"\nunit = "mg/kg"',
            "unit-missing",
            "typed",
            " ppb ",
            {"file": "a.csv", "unit": "ppb"},
        ),
        (
            '[[answers]]\nfile = "a.csv"\nsheet = "S"\nsubstance = "Cuprum X"\nread_as = "Copper"',
            "unknown-substance",
            "typed",
            "copper",
            {"file": "a.csv", "sheet": "S", "substance": "Cuprum X", "read_as": "Copper"},
        ),
        (
            '[[answers]]\nfile = "a.csv"\nsubstance = "Zel"\nskip = true',
            "unknown-substance",
            "skip",
            "",
            {"file": "a.csv", "substance": "Zel", "skip": True},
        ),
        (
            '[[answers]]\nfile = "a.csv"\nrow = 2\ncolumn = "C"\nskip = true',
            "conflict",
            "typed",
            "4.5",
            {"file": "a.csv", "row": 2, "column": "C", "read_as": "4.5"},
        ),
    ],
)
def test_a_choice_becomes_an_answer(answer, code, chosen, typed, wanted):
    (question,) = open_questions(asked(answer, code), {})
    new = answered({}, question, chosen, typed, "  ", "AB", knows)
    assert new == {"answers": [{**wanted, "by": "AB"}]}


def test_a_choice_for_all_sheets_goes_to_the_reading_table_and_closes_the_question():
    summary = asked('[reading]\nzeros = "nondetect"', "bare-zero")
    (question,) = open_questions(summary, {"reading": {"decimal": "comma"}})
    new = answered({"reading": {"decimal": "comma"}}, question, "is:refuse", "", "", "", knows)
    assert new == {"reading": {"decimal": "comma", "zeros": "refuse"}}
    assert open_questions(summary, new) == []


def test_a_later_answer_for_the_same_place_stands():
    (question,) = open_questions(asked('[[answers]]\nfile = "a.csv"\nbasis = "dry"'), {})
    first = answered({}, question, "is:wet", "", "", "", knows)
    assert answered(first, question, "is:dry", "", "", "", knows) == {"answers": [{"file": "a.csv", "basis": "dry"}]}


@pytest.mark.parametrize(
    ("chosen", "typed", "said"),
    [
        ("typed", "", "type the text"),
        ("typed", "Zelmarane", "'Zelmarane' is not a known substance"),
        ("is:Gold", "", "choose one of the answers"),
    ],
)
def test_what_says_nothing_is_refused_at_its_cell(chosen, typed, said):
    lines = '[[answers]]\nfile = "a.csv"\nsubstance = "Zel"\nskip = true'
    (question,) = open_questions(asked(lines, "unknown-substance"), {})
    with pytest.raises(SettingsError, match=f"^a.csv, cell C2: .*{said}"):
        answered({}, question, chosen, typed, "", "", knows)


def test_answers_are_listed_and_taken_back():
    document = {
        "title": "T",
        "reading": {"zeros": "refuse", "limits": "detection"},
        "answers": [{"file": "a.csv", "basis": "wet", "because": "letter"}, {"file": "b.csv", "skip": True}],
    }
    listed = given_answers(document)
    assert [(one["where"], one["said"], one["because"]) for one in listed] == [
        ("a.csv", "basis: wet weight (as received)", "letter"),
        ("b.csv", "set aside", ""),
        ("All sheets", "a bare 0: leave these cells out", ""),
    ]
    for one in (listed[1], listed[0]):
        document = without_answer(document, "answers", one["number"], one["key"])
    assert document == {"title": "T", "reading": {"zeros": "refuse", "limits": "detection"}}
    assert without_answer(document, "reading", -1, "zeros") == {"title": "T", "reading": {"limits": "detection"}}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("titel = 1", "unknown key &#39;titel&#39;. Did you mean title?"),
        ("basis = 'moist'", "it must be wet or dry"),
        ("[[answers]]\nbasis = 'dry'", "answer 1 names no file"),
        ("= 1", "settings.toml is not valid TOML"),
        ("cluster = 'tcp://127.0.0.1:1'", "nothing leaves this machine"),
        ("overwrite = true", "each run has a folder of its own"),
        ("field = ['none.xlsx']", "none.xlsx, which the settings name, does not exist"),
    ],
)
def test_a_text_that_the_command_would_refuse_is_refused_and_not_kept(site, text, said):
    batch = site.workspace.new_batch("A", 'title = "before"\n')
    answer = site.post("/b/A/settings", {"text": text})
    assert answer.status_code == 400
    assert said in answer.get_data(as_text=True)
    assert batch.settings.read_text(encoding="utf-8") == 'title = "before"\n'
    assert [one.name for one in batch.folder.glob(".settings*")] == []


def test_a_text_that_is_in_order_is_kept_as_it_is_written(site):
    batch = site.workspace.new_batch("A", "")
    assert site.post("/b/A/settings", {"text": '# mine\r\ntitle = "x"\r\n'}).status_code == 303
    assert batch.settings.read_bytes() == b'# mine\ntitle = "x"\n'


def test_choices_become_settings_under_the_names_of_the_command_line(site):
    batch = site.workspace.new_batch("A", "")
    form = {
        "water": "marine",
        "sets": "named",
        "guidelines": ["consensus-2000-fresh", "long-1995-marine"],
        "leads": "long-1995-marine",
        "nondetects": "half",
        "duplicates": "higher",
        "title": " The reach ",
        "checked-by": "CD",
        "at": "12,5",
        "cut": "60 cm",
        "limits": "detection",
        "blanks": "as-flagged",
        "earlier": "",
    }
    assert site.post("/b/A/choices", form).status_code == 303
    assert tomllib.loads(batch.settings.read_text(encoding="utf-8")) == {
        "water": "marine",
        "guidelines": ["long-1995-marine", "consensus-2000-fresh"],
        "nondetects": "half",
        "title": "The reach",
        "reading": {"limits": "detection"},
        "output": {"checked-by": "CD"},
        "river": {"at": 12.5},
        "cores": {"cut": "60 cm"},
    }


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"sets": "named"}, "tick at least one set"),
        ({"at": "far"}, "is no number"),
        ({"water": "deep"}, "it must be fresh"),
    ],
)
def test_choices_that_say_nothing_are_refused(site, form, said):
    batch = site.workspace.new_batch("A", "")
    answer = site.post("/b/A/choices", form)
    assert answer.status_code == 400
    assert said in answer.get_data(as_text=True)
    assert batch.settings.read_text(encoding="utf-8") == ""


def test_what_the_settings_name_in_another_way_stays_when_choices_are_taken(site, tmp_path):
    (tmp_path / "old").mkdir()
    text = f'guidelines = ["{tmp_path.as_posix()}/mine.toml"]\nearlier = "{tmp_path.as_posix()}/old"\n'
    site.workspace.new_batch("A", text)
    page = site.get("/b/A/choices").get_data(as_text=True)
    assert f'name="guidelines" value="{tmp_path.as_posix()}/mine.toml" checked' in page
    assert f'name="earlier" value="{tmp_path.as_posix()}/old" checked' in page


def test_no_word_of_judgement_on_any_page():
    folder = Path(screen.page.__file__).parent
    for path in [*(folder / "templates").glob("*.html"), folder / "words.py", *(folder / "static").glob("*.js")]:
        text = path.read_text(encoding="utf-8").casefold()
        assert re.findall(r"\b(safe|clean(?!-up)|toxic|harmless|no action)\b", text) == [], path.name
