"""Plain numbers take a short way through ``parse_values``; it must say what the strict pattern says."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from screen.stages.read.cells.grid import TEXT
from screen.stages.read.words.numbers import decimal_evidence, parse_number
from screen.stages.read.words.values import parse_values

#: Codes that ``parse_values`` gives where the number alone says nothing: a filler for a missing value, or two numbers.
_OF_THE_CELL = ("filler-code", "not-one-number")
numerals = st.text("0123456789.,", min_size=1, max_size=12).filter(lambda text: any(map(str.isdigit, text)))


@given(st.lists(numerals, min_size=1, max_size=8), st.sampled_from(["point", "comma", "mixed", None]))
def test_numerals_are_read_as_the_strict_pattern_reads_them(texts, decimal):
    kinds = np.full(len(texts), TEXT, dtype=np.uint8)
    found = parse_values(np.array(texts, dtype=object), kinds, np.full(len(texts), np.nan), decimal)
    for text, number, code in zip(texts, found["number"], found["code"].astype(object), strict=True):
        wanted = parse_number(text, decimal)
        if code in _OF_THE_CELL:
            continue
        assert code == wanted.code, text
        assert (number == wanted.value) or (np.isnan(number) and np.isnan(wanted.value)), text


@given(st.lists(st.text("0123456789.", min_size=1, max_size=10), max_size=6))
def test_texts_that_hold_no_comma_prove_what_they_prove_beside_a_blank_one(texts):
    assert decimal_evidence(texts) == decimal_evidence([*texts, ","])
