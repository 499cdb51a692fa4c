"""Guideline sets as loaded."""

from __future__ import annotations

from pathlib import Path

import pytest

from screen.reference.locate import data_root
from screen.reference.sets import (
    ROWS,
    SetError,
    builtin_ids,
    default_sets,
    load_set,
    mostly_unseen,
    read_basis_word,
)

NAMED = (
    "consensus-2000-fresh long-1995-marine long-morgan-1990-marine macdonald-1996-marine smith-1996-fresh ccme-fresh "
    "ccme-marine nysdec-2014-fresh nysdec-2014-marine washington-marine washington-marine-dry washington-fresh "
    "ontario-1993-fresh anzg-2018 ospar-sediment"
).split()


def test_the_promised_sets_are_there() -> None:
    assert set(NAMED) <= set(builtin_ids())


@pytest.mark.parametrize("name", builtin_ids())
def test_every_set_says_where_it_comes_from_and_what_it_is_not_for(name: str) -> None:
    one = load_set(name)
    assert one.title
    assert one.citation
    assert one.issuer
    assert one.caveats
    assert set(one.meanings) == set(one.levels)
    assert (one.rows[["evidence", "source"]] != "").all(axis=None)


@pytest.mark.parametrize("name", builtin_ids())
def test_no_address_of_a_copy_stands_in_a_set(name: str) -> None:
    one = load_set(name)
    text = (one.csv_bytes + one.toml_bytes).decode()
    assert not any(mark in text for mark in ("http", "www.", ".com", "github"))


@pytest.mark.parametrize("name", [name for name in builtin_ids() if len(load_set(name).levels) > 2])
def test_sets_of_three_and_more_levels_say_why_their_pair(name: str) -> None:
    assert any("pair compared" in text for text in load_set(name).caveats)


def test_rows_are_long_in_the_order_of_the_file() -> None:
    rows = load_set("consensus-2000-fresh").rows
    assert list(rows.columns) == ROWS
    first = rows.iloc[:2].to_dict("records")
    assert [(row["substance"], row["cas"], row["level"], row["value"], row["unit"], row["basis"]) for row in first] == [
        ("Arsenic", "7440-38-2", "TEC", 9.79, "mg/kg", "dry"),
        ("Arsenic", "7440-38-2", "PEC", 33.0, "mg/kg", "dry"),
    ]


def test_levels_of_one_substance_keep_their_own_unit_and_basis() -> None:
    rows = load_set("ontario-1993-fresh").rows
    aldrin = rows[rows["substance"] == "Aldrin"]
    assert aldrin[["level", "value", "unit", "basis"]].to_numpy().tolist() == [
        ["LEL", 2.0, "ug/kg", "dry"],
        ["SEL", 8.0, "mg/kg", "oc"],
    ]
    copper = load_set("ospar-sediment").rows.query("substance == 'Copper'")
    assert copper["basis"].tolist() == ["al-5%", "dry"]


def test_carbon_ranges() -> None:
    washington = load_set("washington-marine")
    assert (washington.toc_range, washington.toc_outside) == ((0.5, 3.5), "washington-marine-dry")
    assert load_set("anzg-2018").toc_range == (0.2, 10.0)
    assert load_set("consensus-2000-fresh").toc_range is None


def test_sums_are_lists_of_kinds() -> None:
    sums = load_set("consensus-2000-fresh").sums
    assert sums["Total PAHs"] == (("pah-13", "pah-16"),)
    assert sums["Total PCBs"] == (("pcb-congeners", "pcb-nst18x2", "pcb-homologs"), ("pcb-aroclors",))


@pytest.mark.parametrize("name", builtin_ids())
def test_one_isomer_never_stands_for_a_sum(name: str) -> None:
    for word, total in (("Sum DDD", "ddd"), ("Sum DDE", "dde"), ("Sum DDT", "ddt")):
        if word in set(load_set(name).rows["substance"]):
            assert load_set(name).sums[word] == ((total,),)


def test_rules_that_a_source_states() -> None:
    assert load_set("washington-marine").nondetects == "zero"
    assert load_set("consensus-2000-fresh").nondetects is None
    assert load_set("japan-2002-fresh").at_level == "exceeds"
    assert load_set("long-1995-marine").at_level == "not-above"


def test_defaults_by_water() -> None:
    assert default_sets("fresh") == ("consensus-2000-fresh",)
    assert default_sets("marine") == ("long-1995-marine",)
    assert default_sets("estuarine") == ("long-1995-marine", "consensus-2000-fresh")
    assert set(default_sets(None)) == {"long-1995-marine", "consensus-2000-fresh"}
    assert default_sets("land") == ()


@pytest.mark.parametrize("water", ["fresh", "marine", "estuarine", None])
def test_no_default_is_mostly_unseen(water: str | None) -> None:
    assert [name for name in default_sets(water) if mostly_unseen(load_set(name))] == []


def test_a_set_from_memory_says_so() -> None:
    assert mostly_unseen(load_set("nysdec-2014-fresh"))
    assert not mostly_unseen(load_set("ontario-1993-fresh"))


@pytest.mark.parametrize(
    ("word", "meaning"),
    [
        ("dry", ("dry", None)),
        ("oc", ("oc", None)),
        ("oc-1%", ("oc", 1.0)),
        ("oc-2.5%", ("oc", 2.5)),
        ("al-5%", ("al", 5.0)),
        ("below-20um", ("below", 20.0)),
    ],
)
def test_basis_words(word: str, meaning: tuple[str, float | None]) -> None:
    assert read_basis_word(word) == meaning


@pytest.mark.parametrize("word", ["", "wet", "oc1%", "oc-0%", "oc-101%", "al", "dry-1%"])
def test_other_basis_words_are_refused(word: str) -> None:
    with pytest.raises(ValueError, match="not known"):
        read_basis_word(word)


def test_an_own_set_is_loaded_from_either_file(tmp_path: Path) -> None:
    load_set("smith-1996-fresh").save(tmp_path)
    for suffix in (".csv", ".toml"):
        own = load_set(tmp_path / f"smith-1996-fresh{suffix}")
        assert own.own
        assert own.id == "smith-1996-fresh"
        assert own.sha256 == load_set("smith-1996-fresh").sha256
        assert own.rows.equals(load_set("smith-1996-fresh").rows)


def test_evidence_of_an_own_set_is_own_where_it_is_left_out(tmp_path: Path) -> None:
    (tmp_path / "ours.csv").write_text("substance,low,unit\nLead,30,mg/kg\n", encoding="utf-8")
    (tmp_path / "ours.toml").write_text(
        'title = "t"\ncitation = "c"\nwater = ["fresh"]\nlevels = ["low"]\nupper = "low"\ncaveats = ["none stated"]\n',
        encoding="utf-8",
    )
    own = load_set(tmp_path / "ours.toml")
    assert own.rows["evidence"].tolist() == ["own"]
    assert (own.lower, own.upper, own.basis, own.at_level) == (None, "low", "dry", "not-above")


def test_an_unknown_id_names_the_nearest() -> None:
    with pytest.raises(SetError, match="Did you mean consensus-2000-fresh"):
        load_set("consensus-2000-frsh")


def test_own_sets_can_be_ruled_out(tmp_path: Path) -> None:
    load_set("smith-1996-fresh").save(tmp_path)
    with pytest.raises(SetError):
        load_set(tmp_path / "smith-1996-fresh.toml", own_allowed=False)


def test_an_own_set_that_is_not_in_order_says_where(tmp_path: Path) -> None:
    load_set("smith-1996-fresh").save(tmp_path)
    table = tmp_path / "smith-1996-fresh.csv"
    table.write_text(table.read_text(encoding="utf-8").replace("Arsenic", "Arsenik"), encoding="utf-8")
    with pytest.raises(SetError, match=r"smith-1996-fresh\.csv, line 2: .*Arsenik.*'Arsenic'"):
        load_set(table)


def test_defaults_are_built_in() -> None:
    text = (data_root() / "defaults.toml").read_text(encoding="utf-8")
    assert {name for name in builtin_ids() if name in text} == {"consensus-2000-fresh", "long-1995-marine"}
