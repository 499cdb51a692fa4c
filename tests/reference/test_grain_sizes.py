"""Grain-size classes, sieves and cumulative figures: each limit a substance of its own (intake handbook, section 4)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.reference.grain_sizes import read_grain_size
from screen.reference.names import name_book
from screen.reference.substances import describe, table

BOOK = name_book()

#: The 14 classes of a federal survey of tributary sediments, 2017 (public data), by name and by code.
SURVEY = {
    "Gravel Medium No. 4 (4.75 mm)": ("GRAVEL_MED_4.75MM", "Medium gravel (4.75 mm)"),
    "Gravel Fine No. 10 (2.00 mm)": ("GRAVEL_FINE_2MM", "Fine gravel (2 mm)"),
    "Sand Very Coarse No. 20 (0.850 mm)": ("SAND_VCOARSE_0.85MM", "Very coarse sand (0.85 mm)"),
    "Sand Coarse No. 40 (0.425 mm)": ("SAND_COARSE_0.425MM", "Coarse sand (0.425 mm)"),
    "Sand Medium No. 60 (0.25 mm)": ("SAND_MED_0.25MM", "Medium sand (0.25 mm)"),
    "Sand Fine No. 140 (0.106 mm)": ("SAND_FINE_0.106MM", "Fine sand (0.106 mm)"),
    "Sand Very Fine No. 200 (0.075 mm)": ("SAND_VFINE_0.075MM", "Very fine sand (0.075 mm)"),
    "75.0 um": ("75.0_UM", "Grain size 75 um"),
    "31.3 um": ("31.3_UM", "Grain size 31.3 um"),
    "15.6 um": ("15.6_UM", "Grain size 15.6 um"),
    "7.8 um": ("7.8_UM", "Grain size 7.8 um"),
    "3.9 um": ("3.9_UM", "Grain size 3.9 um"),
    "1.95 um": ("1.95_UM", "Grain size 1.95 um"),
    "0.98 um": ("0.98_UM", "Grain size 0.98 um"),
}


@pytest.mark.parametrize(("name", "code", "expected"), [(n, c, e) for n, (c, e) in SURVEY.items()])
def test_the_classes_of_a_survey(name, code, expected):
    for given_name, cas in ((name, code), (code, ""), (expected, "")):
        answer = BOOK.resolve(given_name, cas, "conventional")
        assert (answer.substance, answer.role, answer.code) == (expected, "analyte", "")


def test_no_two_classes_of_the_survey_collide():
    assert len({expected for _, expected in SURVEY.values()}) == 14


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Percent finer than 0.075 mm", "Passing 0.075 mm"),
        ("% passing 0.075 mm", "Passing 0.075 mm"),
        ("0.075 mm, percent passing", "Passing 0.075 mm"),
        ("Percent passing 63 um", "Passing 63 um"),
        ("Sieve Size #200, Percent Finer", "Passing No. 200"),
        ("Bed sediment, sieve diameter, percent smaller than 0.0625 millimeters", "Passing 0.0625 mm"),
        ("% Retained on No. 40", "Retained No. 40"),
        ("Cumulative retained, 2 mm", "Cumulative retained 2 mm"),
    ],
)
def test_a_cumulative_figure_keeps_saying_so(name, expected):
    answer = BOOK.resolve(name)
    assert (answer.substance, answer.role) == (expected, "analyte")


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Sand (0.063-2 mm)", "Sand (0.063-2 mm)"),
        ("Sand, 0.063 to 2.0 mm", "Sand (0.063-2 mm)"),
        ("Silt (4–63 µm)", "Silt (4-63 um)"),
        ("Silt (4-63 μm)", "Silt (4-63 um)"),
        ("Clay < 4 um", "Clay (<4 um)"),
        ("Clay, less than 4 microns", "Clay (<4 um)"),
        ("Gravel, >64 mm", "Gravel (>64 mm)"),
        ("63 um - 2 mm", "Grain size 63 um to 2 mm"),
        ("Grain size 2-3 phi", "Grain size 2-3 phi"),
        ("-1 to 0 phi", "Grain size -1 to 0 phi"),
        ("Sieve No. 40", "Grain size No. 40"),
        ("#40", "Grain size No. 40"),
        ("Grain size (125 um)", "Grain size 125 um"),
        ("Fine Sand (0.106 mm), D422", "Fine sand (0.106 mm)"),
        ("0,063 mm", "Grain size 0.063 mm"),
    ],
)
def test_limits_stay_as_printed(name, expected):
    assert BOOK.resolve(name).substance == expected


def test_one_size_in_two_units_is_two_classes_as_printed():
    assert BOOK.resolve("75 um").substance != BOOK.resolve("0.075 mm").substance


@pytest.mark.parametrize(
    ("name", "expected"),
    [("% Sand", "Sand"), ("Gravel (>2 mm)", "Gravel"), ("Fines (<63 um)", "Fines"), ("% passing #200", "Fines")],
)
def test_names_of_whole_classes_stay_what_the_name_list_says(name, expected):
    assert BOOK.resolve(name).substance == expected


@pytest.mark.parametrize("name", ["Hydrometer Reading 1", "Hydrometer Reading 7 - Percent Finer", "Percent finer"])
def test_hydrometer_readings_and_names_without_a_size_are_no_results(name):
    assert BOOK.resolve(name).role == "derived"


@pytest.mark.parametrize(
    "name",
    [
        "Lead (<63 um)",
        "Lead 63 um",
        "Coarse sand passing 0.85 mm",
        "Sand 2 mm 4 mm",
        "Coarse 2 mm",
        "2,000 um",
        "200",
        "No. 200",
        "0-10 cm",
        "Silt 1.2.3 mm",
        "Sand No. 4 No. 10",
    ],
)
def test_what_states_no_single_size_is_none(name):
    assert read_grain_size(name) == ""


@pytest.mark.parametrize(
    "name", [*(expected for _, expected in SURVEY.values()), "Passing 0.075 mm", "Grain size No. 40"]
)
def test_the_table_answers_for_grain_sizes(name):
    row = describe([name]).iloc[0]
    assert (row["group"], row["unit"], row["kind"], row["cas"]) == ("conventional", "%", "single", "")
    assert (row["needs_basis"], row["nonionic"], row["members"]) == (False, False, (name,))


def test_a_class_stands_in_the_order_of_its_kind():
    order = table()["order"]
    rows = describe(["Coarse sand (0.425 mm)", "Grain size 75 um", "Boulders (>256 mm)"])["order"]
    assert list(rows) == [order["Coarse sand"], order["Sieve passing"], order["Sieve passing"]]


@pytest.mark.parametrize("name", ["coarse sand (0.425 mm)", "Grain size 75.0 um", "75 um"])
def test_only_the_canonical_spelling_is_described(name):
    assert describe([name])["group"].isna().all()


NUMBERS = st.decimals(min_value="0.001", max_value="999", places=3)
WORDS = st.sampled_from(["Sand", "Fine gravel", "Passing", "Retained", "Grain size", "", "Very fine sand", "<", ">"])


@given(NUMBERS, NUMBERS, WORDS, st.sampled_from(["mm", "um"]))
def test_the_canonical_name_resolves_to_itself_and_two_limits_never_meet(one, other, word, unit):
    first, second = (BOOK.resolve(f"{word} {number} {unit}").substance for number in (one, other))
    assert first and BOOK.resolve(first).substance == first
    assert (first == second) == (one == other)


@given(st.text(max_size=30))
def test_any_text_is_read_or_not_without_error(text):
    name = read_grain_size(text)
    assert name == "" or read_grain_size(name) == name
