"""Flags: run-together letters, sentences, legends."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.stages.read.tables.legend import read_legend
from screen.stages.read.words.qualifiers import resolve_marks, split_flags


@pytest.mark.parametrize(
    ("text", "flags"),
    [
        ("JB", ["J", "B"]),
        ("J,D", ["J", "D"]),
        ("J C20", ["J", "C20"]),
        ("U*", ["U", "*"]),
        ("UJ", ["UJ"]),
        ("NJ", ["NJ"]),
        ("UJB", ["UJ", "B"]),
        ("J+", ["J+"]),
        ("ub", ["U", "B"]),
        ("RE", ["RE"]),
        ("J-R", ["J-R"]),
        ("SUS", ["SUS"]),
        ("UG/KG", ["UG/KG"]),
        ("< (BMDL)", ["<", "BMDL"]),
        ("Orig. ug/g", ["Orig. ug/g"]),
        ("see note E", ["see note E"]),
        ("", []),
    ],
)
def test_flags_are_split(text, flags):
    assert split_flags(text) == flags


@pytest.mark.parametrize(
    ("text", "effect"),
    [
        ("Not detected: below minimum detection limit", "nondetect"),
        ("Report states 'Estimated Value'", "estimated"),
        ("not detected in the blank", ""),
        ("UR", "rejected"),
        ("Rejected", "rejected"),
    ],
)
def test_a_sentence_that_leaves_no_doubt_counts(text, effect):
    table = resolve_marks(pd.Categorical([""]), pd.Categorical([text])).table
    effects = ("nondetect", "estimated", "rejected")
    assert {name for name in effects if table[name][0]} >= ({effect} if effect else set())
    assert effect or not any(table[name][0] for name in effects)


@pytest.mark.parametrize(
    ("line", "flag", "effects"),
    [
        ("U = not detected", "U", {"nondetect"}),
        ("U: Analyzed for but not detected above the MDL", "U", {"nondetect"}),
        ("J: Estimated value, below the reporting limit", "J", {"estimated"}),
        ("UJ – not detected, the limit is estimated", "UJ", {"nondetect", "estimated"}),
        ("E - interference", "E", {"estimated"}),
        ("B = found in the method blank", "B", {"blank"}),
        ("R = Rejected. The analyte may or may not be present.", "R", {"rejected"}),
        ("* = duplicate outside control limits", "*", set()),
        ("Qualifier: X = see narrative", "X", set()),
        ("Values in brackets are below the detection limit", "()", {"nondetect"}),
    ],
)
def test_a_legend_line_is_read(line, flag, effects):
    assert read_legend([line])[flag] == effects


@pytest.mark.parametrize("line", ["Pb = lead", "Sampled: 12 May", "the U was lost", "Result"])
def test_other_notes_explain_nothing(line):
    assert not read_legend([line])


def test_one_line_may_explain_several_flags():
    assert set(read_legend(["U = not detected; J = estimated, D = diluted"])) == {"U", "J", "D"}


@given(st.lists(st.sampled_from(["U", "J", "", "B"]), max_size=20), st.lists(st.sampled_from(["R", ""]), max_size=20))
def test_each_record_gets_the_marks_of_its_own_texts(laboratory, validator):
    count = min(len(laboratory), len(validator))
    laboratory, validator = laboratory[:count], validator[:count]
    marks = resolve_marks(pd.Categorical([""] * count), pd.Categorical(laboratory), pd.Categorical(validator))
    assert list(marks.table["nondetect"][marks.codes]) == [text == "U" for text in laboratory]
    assert list(marks.table["rejected"][marks.codes]) == [text == "R" for text in validator]
