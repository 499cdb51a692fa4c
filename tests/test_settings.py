"""Settings: the file's keys are the contract's, the command line wins, mistakes are named with the nearest key."""

from __future__ import annotations

from pathlib import Path

import pytest

from screen.settings import Settings, SettingsError, load_settings


def load(tmp_path, text, **given):
    path = tmp_path / "run.toml"
    path.write_text(text, encoding="utf-8")
    return load_settings(path, given)


def test_nothing_given_gives_the_defaults():
    assert load_settings(None, {}) == Settings()


def test_keys_have_dashes(tmp_path):
    assert load(tmp_path, 'memo-no = "7"').memo_no == "7"


def test_key_with_underscore_is_unknown(tmp_path):
    with pytest.raises(SettingsError, match="Did you mean memo-no"):
        load(tmp_path, 'memo_no = "7"')


def test_command_line_wins(tmp_path):
    assert load(tmp_path, 'water = "fresh"', water="marine").water == "marine"


def test_option_not_given_leaves_the_file(tmp_path):
    assert load(tmp_path, 'water = "fresh"', water=None).water == "fresh"


def test_paths_are_taken_from_the_files_folder(tmp_path):
    assert load(tmp_path, 'field = ["field.xlsx"]').field == (tmp_path / "field.xlsx",)


def test_ids_of_sets_stay_ids_and_paths_become_paths(tmp_path):
    settings = load(tmp_path, 'guidelines = ["ccme-fresh", "mine.toml"]')
    assert settings.guidelines == ("ccme-fresh", str(tmp_path / "mine.toml"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('watre = "fresh"', "Did you mean water"),
        ('water = "brackish"', "fresh, estuarine or marine"),
        ('[reading]\ndecimals = "comma"', r"unknown key 'decimals' in \[reading\]. Did you mean decimal"),
        ('[reading]\nwater-content = "yes"', "must be use"),
        ("[river]\nat = true", "a number is needed"),
        ('[[answers]]\nbasis = "dry"', "names no file"),
        ('[[answers]]\nfile = "a.csv"\nrow = "7"', "row must be a whole number"),
        ('[[answers]]\nfile = "a.csv"\nbases = "dry"', "Did you mean basis"),
        ('[[answers]]\nfile = "a.csv"\nbasis = "moist"', "wet or dry"),
        ("tables-only = 1", "true or false"),
        ("title = [1]", "a text in quotes"),
        ("title = ", "not valid TOML"),
    ],
)
def test_mistakes_are_named(tmp_path, text, said):
    with pytest.raises(SettingsError, match=said):
        load(tmp_path, text)


def test_answers_are_read_whole(tmp_path):
    text = '[[answers]]\nfile = "a.xlsx"\nsheet = "PCB"\nrow = 7\ncolumn = "C"\nread_as = 4.8\nbecause = "typing error"'
    (answer,) = load(tmp_path, text).answers
    assert (answer.file, answer.sheet, answer.row, answer.column, answer.read_as) == ("a.xlsx", "PCB", 7, "C", "4.8")


def test_sections_are_read(tmp_path):
    settings = load(tmp_path, '[cores]\ncut = "2 ft"\ncompaction = "linear"\n[output]\nchecked-by = "A. Reader"')
    assert (settings.cut, settings.compaction, settings.checked_by) == ("2 ft", "linear", "A. Reader")


def test_boundary_is_a_path(tmp_path):
    settings = load(tmp_path, '[river]\nboundary = "outline.geojson"\nat = 12')
    assert settings.boundary == Path(tmp_path / "outline.geojson")
