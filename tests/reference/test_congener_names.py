"""PCB congeners, coeluting peaks and Aroclors in every notation of laboratories and methods."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.reference.congeners import read_numbers, read_structure
from screen.reference.names import name_book
from screen.reference.substances import describe

BOOK = name_book()


@pytest.mark.parametrize(
    "name",
    [
        "PCB-118",
        "PCB 118",
        "PCB118",
        "PCB_118",
        "PCB #118",
        "PCB No. 118",
        "CB118",
        "CB-118",
        "CB 118",
        "BZ#118",
        "BZ 118",
        "BZ-118",
        "PCB (BZ#118)",
        "IUPAC 118",
        "PCB congener 118",
        "2,3',4,4',5-Pentachlorobiphenyl",
        "2,3',4,4',5-PeCB",
        "2',3,4,4',5'-Pentachlorobiphenyl",
        "Pentachlorobiphenyl, 2,3',4,4',5-",
        "1,1'-Biphenyl, 2,3',4,4',5-pentachloro-",
        "PCB 118 (2,3',4,4',5-Pentachlorobiphenyl)",
        "2,3',4,4',5-PeCB (118)",
        "PCB-118 (2,3',4,4',5-PeCB) (dioxin-like)",
        "PCB-118, ng/g dry",
    ],
)
def test_one_congener_in_every_notation(name):
    if name == "2',3,4,4',5'-Pentachlorobiphenyl":
        assert BOOK.resolve(name).substance == "PCB-118"  # 2',3,4,4',5' read from the other ring is 2,3',4,4',5
    assert BOOK.resolve(name).substance == "PCB-118"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("PCB-008", "PCB-8"),
        ("PCB 8", "PCB-8"),
        ("2-Chlorobiphenyl", "PCB-1"),
        ("2-MoCB", "PCB-1"),
        ("Decachlorobiphenyl", "PCB-209"),
        ("PCB-077 (3,3',4,4'-TeCB) (dioxin-like)", "PCB-77"),
    ],
)
def test_other_single_congeners(name, expected):
    assert BOOK.resolve(name).substance == expected


# The spellings of methods handbook, section 1.4.
@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("PCB-28/31", "PCB-28/31"),
        ("PCB 28+31", "PCB-28/31"),
        ("20 + 28", "PCB-20/28"),
        ("28/31", "PCB-28/31"),
        ("(153/168)", "PCB-153/168"),
        ("PCB 129/138/163", "PCB-129/138/163"),
        ("(129+138+163)", "PCB-129/138/163"),
        ("PCB-061/070/074/076", "PCB-61/70/74/76"),
        ("PCB-129/138/160/163", "PCB-129/138/160/163"),
        ("CB138+163", "PCB-138/163"),
        ("PCB 138 & 163", "PCB-138/163"),
        ("PCB 138 and 163", "PCB-138/163"),
        ("PCB-138/PCB-163", "PCB-138/163"),
        ("PCB-90,101,113", "PCB-90/101/113"),
        ("PCB-156/157", "PCB-156/157"),
        ("BZ#153/168", "PCB-153/168"),
        ("2,4,4'-TrCB + 2,4',5-TrCB", "PCB-28/31"),
        ("PCB-28 (+31)", "PCB-28/31"),
        ("28,31-PCB", "PCB-28/31"),
        ("PCB-163/138/129", "PCB-129/138/163"),
    ],
)
def test_coeluting_groups(name, expected):
    assert BOOK.resolve(name).substance == expected


@pytest.mark.parametrize(
    ("name", "substance", "flag", "points_to"),
    [
        ("PCB-28 C20", "PCB-28", "C20", "PCB-20"),
        ("PCB-138 (C129)", "PCB-138", "C129", "PCB-129"),
        ("PCB-20 C", "PCB-20", "C", ""),
        ("PCB-20", "PCB-20", "", ""),
    ],
)
def test_a_coelution_flag_in_the_name_is_kept(name, substance, flag, points_to):
    answer = BOOK.resolve(name)
    assert (answer.substance, answer.coelution, answer.points_to) == (substance, flag, points_to)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("PCB-1254", "Aroclor 1254"),
        ("PCB 1016", "Aroclor 1016"),
        ("AC1254", "Aroclor 1254"),
        ("Arochlor 1260", "Aroclor 1260"),
        ("PCB-1016/1242", "Aroclor 1016/1242"),
        ("Aroclor 1254 + 1260", "Aroclor 1254/1260"),
    ],
)
def test_numbers_of_four_digits_are_aroclors(name, expected):
    assert BOOK.resolve(name).substance == expected


@pytest.mark.parametrize("name", ["PCB-210", "PCB-0", "PCB-300", "CB 999", "PCB-28/300", "PCB-1300"])
def test_numbers_beyond_the_table_are_refused(name):
    answer = BOOK.resolve(name)
    assert (answer.substance, answer.code) == (None, "unknown-substance")
    assert "209" in answer.message


@pytest.mark.parametrize("name", ["118", "28/32", "3/4", "28,31"])
def test_bare_numbers_are_congeners_only_in_a_pcb_band(name):
    assert BOOK.resolve(name).substance is None
    assert BOOK.resolve(name, band="pcb").substance.startswith("PCB-")


@pytest.mark.parametrize(
    "name", ["28/12/2026", "0.5/1", "2,2',5-Tetrachlorobiphenyl", "2,7-Dichlorobiphenyl", "PCB", "CB"]
)
def test_what_is_no_congener(name):
    answer = BOOK.resolve(name)
    assert answer.substance is None or answer.role == "lab-total"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("PCB-85 + 4,4'-DDE", "PCB-85/4,4'-DDE"),
        ("p,p'-DDE/PCB-85", "PCB-85/4,4'-DDE"),
        ("PCB-74 + Heptachlor epoxide", "PCB-74/Heptachlor epoxide"),
    ],
)
def test_peaks_across_groups(name, expected):
    assert BOOK.resolve(name).substance == expected
    assert describe([expected])["kind"].iloc[0] == "mixed-peak"


def test_a_peak_within_a_group_is_a_peak():
    assert BOOK.resolve("Dieldrin/4,4'-DDE").substance == "4,4'-DDE/Dieldrin coelution"
    assert describe(["4,4'-DDE/Dieldrin coelution"])["members"].iloc[0] == ("4,4'-DDE", "Dieldrin")


@pytest.mark.parametrize(
    ("name", "cas", "expected"),
    [("PCB-199", "52663-73-7", "PCB-200"), ("PCB-109", "70424-68-9", "PCB-107"), ("PCB-201", "52663-75-9", "PCB-199")],
)
def test_where_two_lists_differ_the_registry_number_decides(name, cas, expected):
    answer = BOOK.resolve(name, cas)
    assert answer.substance == expected
    assert cas in answer.notice


def test_elsewhere_a_congener_against_its_registry_number_is_refused():
    assert BOOK.resolve("PCB-118", "32598-14-4").code == "cas-against-name"


def test_a_number_that_depends_on_the_list_is_told():
    assert "list" in BOOK.resolve("PCB-107").notice
    assert not BOOK.resolve("PCB-118").notice


@given(
    st.lists(st.integers(1, 209), min_size=1, max_size=7, unique=True), st.sampled_from(["/", "+", " & ", ",", " and "])
)
def test_any_list_of_numbers_is_one_peak_in_ascending_order(numbers, join):
    name = "PCB-" + join.join(f"{number:03d}" for number in numbers)
    assert BOOK.resolve(name).substance == "PCB-" + "/".join(map(str, sorted(numbers)))


def test_structures_do_not_depend_on_which_ring_is_primed():
    assert read_structure("2',3,4trichlorobiphenyl") == read_structure("2,3',4'trichlorobiphenyl")


def test_a_structure_with_the_wrong_prefix_is_none():
    assert read_structure("2,3,4tetrachlorobiphenyl") is None


def test_numbers_among_other_words_are_no_list():
    assert read_numbers("aroclor1254/lead", frozenset({1254})) is None


@pytest.mark.parametrize(
    ("name", "substance"),
    [
        ("Pentachlorobiphenyl (PCB 105)", "PCB-105"),
        ("PCB 105 (Pentachlorobiphenyl)", "PCB-105"),
        ("Pentachlorobiphenyl (105)", "PCB-105"),
        ("Dichlorobiphenyl (BZ#8)", "PCB-8"),
        ("Hexachlorobiphenyl (PCB-153/168)", "PCB-153/168"),
        ("Decachlorobiphenyl (PCB 209)", "PCB-209"),
    ],
)
def test_a_congener_may_be_named_with_its_class(name, substance):
    """Ballschmiter and Zell 1980: 105 has five chlorines, 8 two, 153 and 168 six."""
    assert name_book().resolve(name).substance == substance


@pytest.mark.parametrize(
    "name",
    ["Tetrachlorobiphenyl (PCB 105)", "Pentachlorobiphenyl (PCB 99/153)", "Total Pentachlorobiphenyls (PCB 105)"],
)
def test_a_congener_of_another_class_contradicts_the_name(name):
    assert name_book().resolve(name).code == "ambiguous-name"
