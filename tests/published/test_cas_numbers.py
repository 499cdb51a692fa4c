"""Registry numbers against the rule of their issuer and against an exchange standard's list of names.

Sources: Chemical Abstracts Service, check digit verification of CAS registry numbers (the rule; its worked example
107-07-3). EPA Water Quality Exchange 3.0, domain list of characteristic names (open survey data).
"""

import csv

import pytest

from screen.reference.folding import cas_check_digit_holds
from screen.reference.locate import read_table
from screen.reference.names import name_book
from screen.reference.substances import table


def test_the_worked_example_of_the_issuer():
    assert cas_check_digit_holds("107-07-3")
    assert not any(cas_check_digit_holds(f"107-07-{digit}") for digit in (0, 1, 2, 4, 5, 6, 7, 8, 9))


def test_every_registry_number_of_the_table_has_its_check_digit():
    numbers = [cas for cas in table()["cas"] if cas]
    numbers += [cas for text in table()["other_cas"] for cas in text.split(";") if cas]
    assert numbers
    assert [cas for cas in numbers if not cas_check_digit_holds(cas)] == []


def test_no_two_substances_share_a_registry_number():
    numbers = table()["cas"]
    assert numbers[numbers != ""].is_unique


def test_no_wrong_digit_passes():
    """One digit wrong is always caught: the rule is linear modulo 10 only in the check digit itself."""
    for cas in table()["cas"]:
        if cas:
            wrong = cas[:-1] + str((int(cas[-1]) + 1) % 10)
            assert not cas_check_digit_holds(wrong)


#: Names of the standard that are refused or read by number only, and why.
LISTED = {
    "2,2',3,3',4,4',5,6-Octachorobiphenyl": "a slip of the pen in the list: read by its number, with a notice",
    "1,2,6,7-tetrachlorodibenzofuran": "stands under the number of the whole homolog group",
    "Arsenic, Inorganic": "stands under the number of total arsenic",
    "Stannanetriylium, butyl-": "no name of result sheets: read by its number, with a notice",
}


@pytest.mark.open_data
def test_the_names_of_the_exchange_standard_have_the_numbers_of_the_table(open_data):
    known = table()
    for row in _rows(open_data / "wqx_vocabulary" / "characteristic_names_by_cas.csv"):
        name, cas = row["wqx_characteristic_name"], row["cas"]
        answer = name_book().resolve(name)
        if name in LISTED or answer.role == "surrogate":
            continue
        assert answer.substance, name
        assert cas in (known.loc[answer.substance, "cas"], *known.loc[answer.substance, "other_cas"].split(";")), name


@pytest.mark.open_data
@pytest.mark.parametrize("part", ["butyltins", "dioxins", "metals", "pahs", "reported_sums_pah_dioxin_butyltin"])
def test_names_and_numbers_of_an_estuary_survey_agree(open_data, part):
    known = table()
    for row in _rows(open_data / f"casco_bay_{part}.csv"):
        answer = name_book().resolve(row["Parameter"])
        cas = known.loc[answer.substance, "cas"]
        printed = row["CASRN"].removesuffix("DL")
        assert not cas or not cas_check_digit_holds(printed) or printed == cas, row["Parameter"]


@pytest.mark.open_data
@pytest.mark.parametrize("column", ["parameter", "parameter_description"])
@pytest.mark.parametrize("part", ["long", "second_lab"])
def test_every_name_of_a_tributary_survey_is_known(open_data, column, part):
    known = table()
    for name, cas in {
        (row[column], row["cas_num"]) for row in _rows(open_data / f"great_lakes_tributary_pah_2017_{part}.csv")
    } - {("NA", "NA"), ("NA", "434-90-2"), ("NA", "93951-69-0")}:
        answer = name_book().resolve(name)
        assert answer.substance or answer.role == "surrogate", name
        if cas_check_digit_holds(cas) and answer.role == "analyte":
            assert known.loc[answer.substance, "cas"] == cas, name


@pytest.mark.open_data
def test_every_basis_word_of_the_exchange_standard_is_listed(open_data):
    listed = set(read_table("vocabulary/bases.csv")["text"].str.casefold())
    for row in _rows(open_data / "wqx_vocabulary" / "ResultWeightBasis.csv"):
        assert row["value"].strip().casefold() in listed, row["value"]


def _rows(path):
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))
