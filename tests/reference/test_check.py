"""One's own set, checked by line."""

from __future__ import annotations

from pathlib import Path

import pytest

from screen.reference import check as check_module
from screen.reference.check import Finding, check_set
from screen.reference.locate import data_root
from screen.reference.sets import builtin_ids, load_set

TABLE = """\
substance,cas,low,high,unit,basis
Lead,7439-92-1,30,90,mg/kg,
Total PAHs,,1000,9000,ug/kg,
Chrysene,218-01-9,1,4,mg/kg,oc
"""
ABOUT = """\
title = "An invented set"
citation = "None: made for a test."
water = ["fresh", "land"]
levels = ["low", "high"]
lower = "low"
upper = "high"
basis = "dry"
at_level = "not-above"
nondetects = "zero"
caveats = ["For tests only."]

[toc]
range_pct = [0.5, 3.5]
outside = "clamp"

[sums]
"Total PAHs" = ["pah-13", "pah-16"]
"""


def write(folder: Path, table: str = TABLE, about: str = ABOUT) -> Path:
    (folder / "mine.csv").write_text(table, encoding="utf-8")
    (folder / "mine.toml").write_text(about, encoding="utf-8")
    return folder / "mine.toml"


def one(found: list[Finding]) -> Finding:
    assert len(found) == 1, [finding.text for finding in found]
    return found[0]


@pytest.mark.parametrize("name", builtin_ids())
@pytest.mark.parametrize("suffix", [".csv", ".toml"])
def test_every_built_in_set_is_in_order(name: str, suffix: str) -> None:
    assert check_set(data_root() / "sets" / f"{name}{suffix}") == []


def test_the_invented_set_is_in_order(tmp_path: Path) -> None:
    assert check_set(write(tmp_path)) == []


ABOUT_SLIPS = [
    ('title = "An invented set"\n', "", "missing", "title", 1),
    ('caveats = ["For tests only."]\n', "", "missing", "caveats", 1),
    ('basis = "dry"', 'basiss = "dry"', "'basiss' is not known", "'basis'", 7),
    ('basis = "dry"', 'basis = "oc1%"', "'oc1%' is not known", "oc-1%", 7),
    ('water = ["fresh", "land"]', 'water = ["frsh"]', "'frsh' is not known", "'fresh'", 3),
    ('water = ["fresh", "land"]', 'water = "fresh"', "not a list", "[", 3),
    ('at_level = "not-above"', 'at_level = "exceed"', "'exceed' is not known", "'exceeds'", 8),
    ('nondetects = "zero"', 'nondetects = "zeros"', "'zeros' is not known", "'zero'", 9),
    ('lower = "low"\n', "", "'lower' is missing", "low", 1),
    ('lower = "low"', 'lower = "high"', "before", "mildest", 5),
    ('upper = "high"', 'upper = "hihg"', "not one of the levels", "'high'", 6),
    ("range_pct = [0.5, 3.5]", "range_pct = [3.5, 0.5]", "two percentages", "0.5", 13),
    ('outside = "clamp"', 'outside = "clip"', "neither", "'clamp'", 14),
    ('outside = "clamp"', 'outsid = "clamp"', "'outsid'", "'outside'", 14),
    ('"pah-13"', '"pah-133"', "'pah-133' is not known", "'pah-13'", 17),
    ('["pah-13", "pah-16"]', '"pah-13"', "not a list of totals", "[", 17),
]


@pytest.mark.parametrize(("old", "new", "message", "mend", "line"), ABOUT_SLIPS)
def test_slips_in_the_toml(tmp_path: Path, old: str, new: str, message: str, mend: str, line: int) -> None:
    assert old in ABOUT
    found = [f for f in check_set(write(tmp_path, about=ABOUT.replace(old, new))) if f.file.endswith("mine.toml")]
    first = next(f for f in found if message in f.message)
    assert mend in first.mend + first.message
    assert first.line == line


TABLE_SLIPS = [
    ("Lead,", "Leed,", "'Leed' is not known", "'Lead'", 2),
    ("7439-92-1", "7439-92-2", "check digit", "", 2),
    ("7439-92-1", "7440-43-9", "not the CAS number of Lead", "7439-92-1", 2),
    ("30,90", "thirty,90", "'thirty'", "number", 2),
    ("1000,9000", '1000,"9,000"', "'9,000'", "9000", 3),
    ("30,90", "-30,90", "'-30'", "", 2),
    ("30,90", "<30,90", "'<30'", "note", 2),
    ("30,90", "90,30", "lower than 'low'", "rise", 2),
    ("9000,ug/kg", "9000,ug/L", "ug/L", "mg/kg", 3),
    ("9000,ug/kg", "9000,ug/gg", "ug/gg", "", 3),
    ("9000,ug/kg", "9000,", "No unit", "mg/kg", 3),
    ("mg/kg,oc", "mg/kg,ocean", "'ocean' is not known", "oc-1%", 4),
    ("mg/kg,oc", "umol/g,oc", "cannot be brought", "ug/kg", 4),
    ("Chrysene,218-01-9", "Lead,7439-92-1", "stands twice, first in line 2", "one row", 4),
    ("Chrysene,218-01-9", "Total PCBs,", "'Total PCBs' is not known", '"Total PCBs" = ["pcb-congeners"]', 4),
    ("Chrysene,218-01-9", "Chlordane,", "'Chlordane' is not known", '"Chlordane" = ["chlordane-5"]', 4),
    ("Chrysene,218-01-9", "DDT,", "'DDT' is not known", "The 4,4' isomer or the sum of two", 4),
    ("Chrysene,218-01-9", "Zzyx,", "'Zzyx' is not known", "under [sums]", 4),
    ("30,90", ",", "no figure", "", 2),
]


@pytest.mark.parametrize(("old", "new", "message", "mend", "line"), TABLE_SLIPS)
def test_slips_in_the_table(tmp_path: Path, old: str, new: str, message: str, mend: str, line: int) -> None:
    assert old in TABLE
    found = [f for f in check_set(write(tmp_path, table=TABLE.replace(old, new))) if f.file.endswith("mine.csv")]
    found = [f for f in found if message in f.message]
    assert mend in one(found).mend + one(found).message
    assert one(found).line == line


def test_a_synonym_is_answered_with_the_name_in_use(tmp_path: Path) -> None:
    found = one(check_set(write(tmp_path, table=TABLE.replace("Lead,7439-92-1", "Pb,7439-92-1"))))
    assert found.mend == "Its name here is 'Lead'."


def test_a_level_without_column(tmp_path: Path) -> None:
    found = one(check_set(write(tmp_path, about=ABOUT.replace('["low", "high"]', '["low", "mid", "high"]'))))
    assert found.message == "The level 'mid' has no column."


def test_a_column_that_is_no_level(tmp_path: Path) -> None:
    found = one(check_set(write(tmp_path, table=TABLE.replace("cas,", "kas,", 1))))
    assert (found.line, found.mend) == (1, "Did you mean 'cas'?")


def test_a_sum_without_row(tmp_path: Path) -> None:
    found = one(check_set(write(tmp_path, about=ABOUT + '"Sum DDT" = ["ddt"]\n')))
    assert (found.line, "has no row" in found.message) == (18, True)


def test_carbon_range_without_carbon_basis(tmp_path: Path) -> None:
    found = one(check_set(write(tmp_path, table=TABLE.replace("mg/kg,oc", "mg/kg,dry"))))
    assert (found.line, "carbon basis" in found.message) == (12, True)


def test_levels_on_two_bases_need_not_rise(tmp_path: Path) -> None:
    table = "substance,low,high,unit,high basis\nChrysene,5,2,mg/kg,oc\n"
    assert check_set(write(tmp_path, table, ABOUT.split("[sums]")[0])) == []


def test_levels_in_two_units_are_compared_in_one(tmp_path: Path) -> None:
    table = "substance,low,high,unit,high unit,basis\nChrysene,900,1,ug/kg,mg/kg,oc\n"
    assert check_set(write(tmp_path, table, ABOUT.split("[sums]")[0])) == []
    table = "substance,low,high,unit,high unit,basis\nChrysene,1100,1,ug/kg,mg/kg,oc\n"
    assert "lower than" in one(check_set(write(tmp_path, table, ABOUT.split("[sums]")[0]))).message


def test_a_quoted_line_break_does_not_move_the_line_numbers(tmp_path: Path) -> None:
    table = TABLE.replace("unit,basis\n", "unit,basis,note\n").replace("90,mg/kg,", '90,mg/kg,,"two\nlines"')
    found = check_set(write(tmp_path, table.replace("Chrysene", "Chrysen")))
    assert [f.line for f in found if "Chrysen" in f.message] == [5]


@pytest.mark.parametrize("missing", ["mine.csv", "mine.toml"])
def test_a_missing_partner(tmp_path: Path, missing: str) -> None:
    write(tmp_path)
    (tmp_path / missing).unlink()
    found = one(check_set(tmp_path / ("mine.toml" if missing == "mine.csv" else "mine.csv")))
    assert found.file.endswith(missing)


def test_toml_that_cannot_be_read_names_the_line(tmp_path: Path) -> None:
    found = one(check_set(write(tmp_path, about=ABOUT.replace('lower = "low"', "lower = low"))))
    assert (found.file.endswith("mine.toml"), found.line) == (True, 5)


def test_a_built_in_figure_needs_evidence_and_source(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(check_module, "is_builtin", lambda path: True)
    found = check_set(write(tmp_path))
    assert {(f.line, f.message) for f in found} == {
        (line, "A figure of a built-in set has no evidence.") for line in (2, 3, 4)
    }


PER_CARBON = "substance,low,high,unit\nChrysene,1,4,mg/kg OC\nLead,30,90,mg/kg\n"


def test_a_unit_per_carbon_needs_no_basis_beside_it(tmp_path: Path) -> None:
    about = ABOUT.split("[sums]")[0].replace('basis = "dry"\n', "")
    rows = load_set(write(tmp_path, PER_CARBON, about)).rows
    assert list(zip(rows["substance"], rows["unit"], rows["basis"], strict=True)) == [
        *[("Chrysene", "mg/kg", "oc")] * 2,
        *[("Lead", "mg/kg", "dry")] * 2,
    ]


def test_a_unit_per_carbon_contradicts_a_stated_dry_basis(tmp_path: Path) -> None:
    found = check_set(write(tmp_path, PER_CARBON, ABOUT.split("[toc]")[0]))
    assert [(one.line, "say different things" in one.message) for one in found] == [(2, True)]
