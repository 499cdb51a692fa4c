import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.stages.read.words.ids import clean_id, near_ids


@pytest.mark.parametrize(
    "pair", [("QE-40", "qe-40"), ("QE-40", "QE 40"), ("QE-40", "QE40"), ("QE-04", "QE-4"), ("QE–4", "QE-4")]
)
def test_ids_that_look_alike_are_grouped(pair: tuple[str, str]) -> None:
    assert near_ids(pair) == [list(pair)]


@pytest.mark.parametrize("pair", [("QE-4", "QE-40"), ("QE-4", "QF-4"), ("QE-4", "QE-4A")])
def test_ids_that_differ_are_not_grouped(pair: tuple[str, str]) -> None:
    assert near_ids(pair) == []


def test_an_id_met_twice_is_one_id() -> None:
    assert near_ids(["A1", "A1"]) == []


def test_an_id_is_trimmed_and_freed_of_unseen_characters() -> None:
    assert clean_id(" \u202eQE\u00a0-\uff14\u200b ") == "QE -4"


@given(st.text())
def test_cleaning_twice_changes_nothing(text: str) -> None:
    assert clean_id(clean_id(text)) == clean_id(text)
