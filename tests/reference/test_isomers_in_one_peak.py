"""Isomers that leave the instrument as one peak, in the notations of laboratories (common practice, no source)."""

from __future__ import annotations

import pytest

from screen.reference.names import name_book

_PEAKS = {"bk": "Benzo(b,k)fluoranthene", "jk": "Benzo(j,k)fluoranthene", "bjk": "Benzo(b,j,k)fluoranthene"}


@pytest.mark.parametrize("letters", _PEAKS)
@pytest.mark.parametrize("sign", ["+", "/", "&", ",", "", " and ", " + ", " & ", " / "])
@pytest.mark.parametrize("form", ["Benzo({})fluoranthene", "Benzo[{}]fluoranthenes"])
def test_letters_in_one_bracket(letters: str, sign: str, form: str) -> None:
    assert name_book().resolve(form.format(sign.join(letters))).substance == _PEAKS[letters]


@pytest.mark.parametrize("letters", _PEAKS)
@pytest.mark.parametrize("sign", ["+", "/", "&", " and ", " + ", " & ", " / "])
def test_what_the_isomers_share_stands_once(letters: str, sign: str) -> None:
    names = [
        sign.join(f"Benzo({one})" for one in letters) + "fluoranthene",
        "Benzo" + sign.join(f"({one})" for one in letters) + "fluoranthene",
        sign.join(f"Benzo({one})fluoranthene" for one in letters),
    ]
    assert {name_book().resolve(name).substance for name in names} == {_PEAKS[letters]}


@pytest.mark.parametrize("sign", ["+", "/", "&", ","])
def test_letters_behind_the_name(sign: str) -> None:
    assert name_book().resolve(f"Benzofluoranthenes ({sign.join('bk')})").substance == _PEAKS["bk"]


def test_a_peak_that_the_table_does_not_hold_needs_a_plus() -> None:
    assert name_book().resolve("Benzo(a+e)pyrene").substance == "Benzo(e)pyrene/Benzo(a)pyrene"
    assert name_book().resolve("Benzo(a,e)pyrene").substance is None


@pytest.mark.parametrize("name", ["Benzo(ghi)perylene", "Benzo(g,h,i)perylene"])
def test_letters_of_one_substance_stay_together(name: str) -> None:
    assert name_book().resolve(name).substance == "Benzo(g,h,i)perylene"


def test_letters_that_name_no_isomer_are_no_peak() -> None:
    assert name_book().resolve("Benzo(b+z)fluoranthene").substance is None
