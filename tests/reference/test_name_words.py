"""Units at the end of a name, bands in titles, and the user's own names."""

import pytest

from screen.reference.name_words import guard_in, read_band, said_in_name, split_unit
from screen.reference.names import NamesFileError, name_book
from screen.reference.units import read_basis


@pytest.mark.parametrize(
    ("header", "name", "unit"),
    [
        ("Lead (mg/kg)", "Lead", "mg/kg"),
        ("Cd [µg/g]", "Cd", "µg/g"),
        ("Copper, mg/kg dry", "Copper", "mg/kg dry"),
        ("Pb mg/kg dw", "Pb", "mg/kg dw"),
        ("PCB_8_NGG", "PCB_8", "NGG"),
        ("PCB101_NGG", "PCB101", "NGG"),
        ("Naphthalene_ug_kg", "Naphthalene", "ug_kg"),
        ("PCB 118 (ng/g dw)", "PCB 118", "ng/g dw"),
        ("Aroclor 1254 ug/kg", "Aroclor 1254", "ug/kg"),
        ("2,3,7,8-TCDD (pg/g)", "2,3,7,8-TCDD", "pg/g"),
        ("AVS (umol/g)", "AVS", "umol/g"),
        ("D50 (mm)", "D50", "mm"),
        ("TOC %", "TOC", "%"),
        ("% Solids", "% Solids", "%"),
        ("Percent Sand", "Percent Sand", "%"),
    ],
)
def test_the_unit_of_a_header(header, name, unit):
    assert split_unit(header) == (name, unit)


@pytest.mark.parametrize(
    "header",
    ["Arsenic", "Gravel (>2 mm)", "Fines <63 um", "75 um", "Benzo(a)pyrene", "Lead (total)", "Benzo(g)", "mg/kg", ""],
)
def test_what_is_no_unit_stays_in_the_name(header):
    assert split_unit(header) == (header, "")


@pytest.mark.parametrize(
    ("text", "band"),
    [
        ("PCB Congeners by 1668C", "pcb"),
        ("8082A Aroclors", "pcb-aroclor"),
        ("8270E SIM", "pah"),
        ("SW-846 8081B", "pesticide"),
        ("Butyltins", "organotin"),
        ("Metals", "metal"),
        ("EPA 1613B", "dioxin"),
        ("General Chemistry", "conventional"),
        ("PAHs and PCBs", ""),
        ("Lakeside survey", ""),
        ("", ""),
    ],
)
def test_bands(text, band):
    assert read_band(text) == band


@pytest.mark.parametrize(
    "name", ["Copper, dissolved", "Zinc (TCLP)", "C1-Anything", "X as Sn", "Methyl lead", "Sum of things"]
)
def test_words_that_must_not_be_dropped(name):
    assert guard_in(name)


def test_own_names_go_first(tmp_path):
    path = tmp_path / "names.csv"
    path.write_text("name,substance\nPlumb. tot.,Pb\nFLU,Fluorene\n", encoding="utf-8")
    book = name_book(path)
    assert book.resolve("plumb. tot.").substance == "Lead"
    assert book.resolve("FLU").substance == "Fluorene"


def test_own_names_may_be_given_by_registry_number(tmp_path):
    path = tmp_path / "names.csv"
    path.write_text("Name, CAS\nKode 12,50-32-8\n", encoding="utf-8")
    assert name_book(path).resolve("Kode 12").substance == "Benzo(a)pyrene"


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("nom,substance\nA,Lead\n", "line 1"),
        ("name,substance\nA,Lead\nB,Unobtainium\n", "line 3"),
        ("name,cas\nA,7439-92-2\n", "line 2"),
        ("name,substance\nA,Lead\na,Zinc\n", "line 3"),
        ("name,substance\n,Lead\n", "line 2"),
        ("", "line 1"),
    ],
)
def test_a_faulty_file_of_own_names_is_refused_by_line(tmp_path, text, part):
    path = tmp_path / "names.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(NamesFileError, match=part):
        name_book(path)


def test_own_names_leave_the_built_in_ones_alone(tmp_path):
    path = tmp_path / "names.csv"
    path.write_text("name,substance\nFLU,Fluorene\n", encoding="utf-8")
    name_book(path)
    assert name_book().resolve("FLU").substance is None


@pytest.mark.parametrize(
    ("name", "said"),
    [
        # names of a federal survey's second laboratory, 2017 (public data)
        (
            "Anthracene, solids, recoverable, dry weight, micrograms per kilogram",
            ("micrograms per kilogram", "dry weight"),
        ),
        ("Bisphenol A-d14, surrogate, solids, recoverable, percent recovery", ("percent recovery", "")),
        ("Copper, mg/kg dry", ("mg/kg dry", "dry")),
        ("Lead (mg/kg)", ("mg/kg", "")),
        ("Lead, dry weight", ("", "dry weight")),
        ("Lead (wet wt)", ("", "wet wt")),
        ("Zinc, as received, mg/kg", ("mg/kg", "as received")),
        ("Zinc, dry weight, mg/kg dw", ("mg/kg dw", "dry")),
        ("% Solids", ("%", "")),
        ("Benzo(a)pyrene", ("", "")),
        ("Total solids", ("", "")),
        ("Sieved dry, 63 um", ("", "")),
        ("", ("", "")),
    ],
)
def test_unit_and_basis_that_a_name_states(name, said):
    assert said_in_name(name) == said


def test_two_bases_in_one_name_are_both_told_and_refused():
    basis = said_in_name("Lead, wet weight, mg/kg dry")[1]
    assert basis == "dry; wet weight"
    assert read_basis(basis) is None
