"""Every template works as it is, and when it is filled in."""

import dataclasses
import re
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from screen.reference.check import check_set
from screen.settings import Answer, Settings, load_settings
from screen.stages.read.field.record import read_field_record
from screen.templates import TemplateError, write_template

KEY = re.compile(r"^#(?=[a-z\[])")


def test_the_settings_file_as_it_is_changes_nothing(tmp_path: Path) -> None:
    [path] = write_template("settings", tmp_path / "run.toml")
    assert load_settings(path, {}) == Settings()


def settings_lines(tmp_path: Path) -> list[str]:
    [path] = write_template("settings", tmp_path / "all.toml")
    return path.read_text(encoding="utf-8").splitlines()


def test_each_key_of_the_settings_file_can_be_used_alone(tmp_path: Path) -> None:
    lines = settings_lines(tmp_path)
    end = lines.index("#[[answers]]")
    keys = [at for at, line in enumerate(lines[:end]) if KEY.match(line)]
    assert keys
    for at in keys:
        text = "\n".join(line[1:] if place == at else line for place, line in enumerate(lines))
        path = tmp_path / "one.toml"
        path.write_text(text, encoding="utf-8")
        load_settings(path, {})


def test_the_settings_file_has_every_key(tmp_path: Path) -> None:
    text = "\n".join(KEY.sub("", line) for line in settings_lines(tmp_path))
    path = tmp_path / "every.toml"
    path.write_text(text, encoding="utf-8")
    settings = load_settings(path, {})
    named = set(re.findall(r"^([a-z-]+) =", text, flags=re.MULTILINE))
    assert {field.name.replace("_", "-") for field in dataclasses.fields(Settings)} - {"answers"} <= named
    answer = settings.answers[0]
    assert all(getattr(answer, field.name) is not None for field in dataclasses.fields(Answer))


def test_defaults_shown_are_the_defaults(tmp_path: Path) -> None:
    text = "\n".join(KEY.sub("", line) for line in settings_lines(tmp_path))
    path = tmp_path / "every.toml"
    path.write_text(text, encoding="utf-8")
    settings, defaults = load_settings(path, {}), Settings()
    for name in ("nondetects", "duplicates", "limits", "conflicts", "zeros", "blanks", "compaction", "tables"):
        assert getattr(settings, name) == getattr(defaults, name)


def test_the_empty_set_is_in_order(tmp_path: Path) -> None:
    paths = write_template("set", tmp_path / "own.csv")
    assert sorted(path.name for path in paths) == ["own.csv", "own.toml"]
    assert check_set(tmp_path / "own.csv") == []


@pytest.mark.parametrize("suffix", [".xlsx", ".csv"])
def test_an_empty_field_record_is_read_without_a_word(tmp_path: Path, suffix: str) -> None:
    record = read_field_record(write_template("field", tmp_path / f"field{suffix}"), Settings())
    assert record.problems == ()
    assert not record.given


def test_a_field_record_that_is_filled_in_is_read(tmp_path: Path) -> None:
    [path] = write_template("field", tmp_path / "field.xlsx")
    book = openpyxl.load_workbook(path)
    book["stations"].append(["0042", 4.5, 45.1, -30.4, "fresh", "site", "A", 300, "quay"])
    book["cores"].append(
        ["C-1", "0042", "2026-05-12", "10:20", "ebb", "4.6 m", "-4 m", "chart", "4 ft", "44 1/2 in", "push"]
    )
    book["samples"].append(["S-1", "C-1", None, "0 in", "4 1/2 in", "2026-05-12", "silt", "5Y 2.5/1"])
    book.save(path)
    record = read_field_record([path], Settings())
    assert record.problems == ()
    assert record.stations["station"].tolist() == ["0042"]
    assert record.cores["recovered_cm"].tolist() == [113.03]
    assert record.samples["depth_bottom_cm"].tolist() == [11.43]


@pytest.mark.parametrize("suffix", [".xlsx", ".csv"])
def test_an_empty_lab_sheet_gives_no_result_and_its_cells_are_all_accounted_for(tmp_path: Path, suffix: str) -> None:
    from screen.stages.read.batch import read

    batch = read(write_template("lab", tmp_path / f"lab{suffix}"), Settings())
    assert batch.results.empty
    assert batch.ledger["became"].astype(str).unique().tolist() == ["context"]
    assert batch.ledger["cells"].sum() == batch.cells


@pytest.mark.parametrize("suffix", [".xlsx", ".csv"])
def test_a_lab_sheet_that_is_filled_in_is_read(tmp_path: Path, suffix: str) -> None:
    from screen.stages.read.batch import read

    [path] = write_template("lab", tmp_path / f"lab{suffix}")
    row = ["S-1", "L-1", "Lead", "7439-92-1", "12.5", "J", "0.1", "0.5", "mg/kg", "dry", "6010D", "2026-05-12"]
    if suffix == ".csv":
        path.write_text(path.read_text() + ",".join(row) + "\n")
    else:
        book = openpyxl.load_workbook(path)
        book["results"].append(row)
        book.save(path)
    results = read([path], Settings()).results
    found = results.loc[0, ["sample", "substance", "reported", "qualifier", "reported_unit", "reported_basis"]]
    assert found.tolist() == ["S-1", "Lead", "12.5", "J", "mg/kg", "dry"]


@pytest.mark.parametrize(("kind", "name"), [("lab", "a.xlsx"), ("field", "a.xlsx"), ("settings", "a.toml")])
def test_the_bytes_are_the_same_each_time(
    tmp_path: Path, kind: str, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    [first] = write_template(kind, tmp_path / name)
    monkeypatch.setattr("time.time", lambda: 4e8)
    monkeypatch.setattr("time.localtime", lambda *_: pd.Timestamp("1999-12-31 23:59:58").timetuple())
    [second] = write_template(kind, tmp_path / f"again_{name}")
    assert first.read_bytes() == second.read_bytes()


@pytest.mark.parametrize("kind", ["lab", "field", "set", "settings"])
def test_nothing_is_written_over(tmp_path: Path, kind: str) -> None:
    path = tmp_path / {"lab": "a.csv", "field": "a.csv", "set": "a.csv", "settings": "a.toml"}[kind]
    path.write_text("mine")
    with pytest.raises(TemplateError, match="is there already"):
        write_template(kind, path)
    assert path.read_text() == "mine"


@pytest.mark.parametrize(("kind", "name"), [("lab", "a.pdf"), ("field", "a"), ("settings", "a.csv")])
def test_a_suffix_that_does_not_fit_is_named(tmp_path: Path, kind: str, name: str) -> None:
    with pytest.raises(TemplateError, match="ends in"):
        write_template(kind, tmp_path / name)


def test_usual_terms_are_offered_and_others_allowed(tmp_path: Path) -> None:

    write_template("field", tmp_path / "field.xlsx")
    rules = openpyxl.load_workbook(tmp_path / "field.xlsx")["samples"].data_validations.dataValidation
    texture = next(rule for rule in rules if "silty sand" in rule.formula1)
    assert not texture.showErrorMessage
    assert len(texture.formula1) <= 257  # spreadsheets refuse a longer list


def test_no_offered_term_holds_a_comma() -> None:
    from screen.reference.locate import read_table

    assert not read_table("vocabulary/field_terms.csv")["term"].str.contains(",").any()
