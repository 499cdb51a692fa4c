"""From the name and registry number on a sheet to one substance, or a refusal."""

import pandas as pd
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from screen.reference import name_index
from screen.reference.folding import fold, plain, read_cas
from screen.reference.locate import read_table
from screen.reference.names import MOST_SUGGESTIONS, name_book, split_unit
from screen.reference.substances import table

BOOK = name_book()


def substance(name, cas="", band=""):
    return BOOK.resolve(name, cas, band).substance


def code(name, cas="", band=""):
    return BOOK.resolve(name, cas, band).code


# ---- folding (intake handbook, section 7)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Benzo[a]pyrene", "benzo(a)pyrene"),
        ("4,4’-DDE", "4,4'-DDE"),
        ("4,4′-DDE", "4,4'-DDE"),
        ("4,4`-DDE", "4,4'-DDE"),
        ("α-BHC", "alpha-BHC"),
        (".alpha.-BHC", "alpha-BHC"),
        ("ß-HCH", "beta-HCH"),
        ("2, 3, 7, 8-TCDD", "2,3,7,8-TCDD"),
        ("2.3.7.8-TCDD", "2,3,7,8-TCDD"),
        ("2,3,7,8 TCDD", "2,3,7,8-TCDD"),
        ("PCB\u00a0118", "PCB 118"),
        ("ＬＥＡＤ", "lead"),
        ("Aroclor–1254", "Aroclor-1254"),
        ("Benzo (a) pyrene", "Benzo(a)pyrene"),
    ],
)
def test_spellings_fold_together(one, other):
    assert fold(one) == fold(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("∑DDT", "DDT"),
        ("TBT+", "TBT"),
        ("SEM-AVS", "SEM/AVS"),
        ("SEM:AVS", "SEM-AVS"),
        ("28+31", "28/31"),
        ("1,2,3,4,7,8-HxCDD", "1,2,3,6,7,8-HxCDD"),
        ("28-31", "2831"),
        ("0.98 um", "0,98 um"),
    ],
)
def test_signs_that_carry_meaning_are_kept(one, other):
    assert fold(one) != fold(other)


def test_both_sum_signs_are_one():
    assert fold("ΣDDT") == fold("∑DDT")


@given(st.text(max_size=30))
@example("a- -1")
@example("2.3.7.8-TCDD")
def test_folding_twice_changes_nothing(text):
    assert fold(fold(text)) == fold(text)


@given(st.text(max_size=30))
def test_plain_text_stays_plain(text):
    assert plain(plain(text)) == plain(text)


# ---- the name list


def test_no_folded_name_leads_to_two_substances_in_one_scope():
    seen: dict[tuple[str, str], str] = {}
    rows = [(name, name, "") for name, kind in table()["kind"].items() if kind != "ambiguous"]
    synonyms = read_table("substances/synonyms.csv")
    rows += list(zip(synonyms["name"], synonyms["substance"], synonyms["scope"], strict=True))
    for name, stands_for, scope in rows:
        for key in {fold(name), fold(name).replace("-", " ")}:
            assert seen.setdefault((key, scope), stands_for) == stands_for, (name, stands_for)


def test_no_synonym_is_there_twice():
    synonyms = read_table("substances/synonyms.csv")
    keys = pd.DataFrame({"key": synonyms["name"].map(fold), "scope": synonyms["scope"]})
    assert not keys.duplicated().any(), synonyms[keys.duplicated()]


def test_every_canonical_name_resolves_to_itself():
    for name, kind in table()["kind"].items():
        if kind != "ambiguous":
            assert substance(name) == name


def test_every_synonym_resolves_in_its_scope():
    kinds = table()["kind"]
    for _, row in read_table("substances/synonyms.csv").iterrows():
        answer = BOOK.resolve(row["name"], band=row["scope"])
        if kinds.get(row["substance"]) == "ambiguous":
            assert answer.code == "ambiguous-name", row["name"]
        else:
            assert answer.substance == row["substance"], row["name"]


def test_every_registry_number_alone_resolves_to_its_substance():
    for name, cas in table()["cas"].items():
        if cas:
            assert substance("", cas) == name


# ---- names as sheets print them


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Pb", "Lead"),
        ("Lead (Pb)", "Lead"),
        ("Lead, total", "Lead"),
        ("Total Lead", "Lead"),
        ("Lead, Total Recoverable", "Lead"),
        ("Lead*", "Lead"),
        ("Lead²", "Lead"),
        ("Lead 6010D", "Lead"),
        ("Mercury (7471B)", "Mercury"),
        ("Lead (mg/kg)", "Lead"),
        ("Pb mg/kg dw", "Lead"),
        ("Aroclor 1254 by 8082A", "Aroclor 1254"),
        ("Pyrene by SIM", "Pyrene"),
        (
            "Bis(2-ethylhexyl) phthalate, solids, recoverable, dry weight, micrograms per kilogram",
            "Bis(2-ethylhexyl) phthalate",
        ),
        ("Naphthalene, 2-methyl-", "2-Methylnaphthalene"),
        ("DDD, p,p'-", "4,4'-DDD"),
        ("op'-DDT", "2,4'-DDT"),
        ("alpha BHC", "alpha-BHC"),
        ("Benzo(b+k)fluoranthene", "Benzo(b,k)fluoranthene"),
        ("Chrysene + Triphenylene", "Chrysene/Triphenylene"),
        ("C2 Naphthalenes", "C2-Naphthalenes"),
        ("2,3,7,8-Tetrachlorodibenzo-p-dioxin", "2,3,7,8-TCDD"),
        ("TCDF", "Total TCDF"),
        ("Copper, SEM", "SEM Copper"),
        ("Hexavalent chromium", "Chromium, hexavalent"),
        ("TBT as Sn", "Tributyltin (as Sn)"),
        ("TBT+", "Tributyltin"),
        ("TOC", "Total organic carbon"),
        ("% Solids", "Percent solids"),
        ("Benzo(a)pyrene (50-32-8)", "Benzo(a)pyrene"),
        ("m/p-Xylene", "m,p-Xylene"),
    ],
)
def test_names_of_sheets(name, expected):
    assert substance(name) == expected


@pytest.mark.parametrize(
    ("name", "total"),
    [
        ("Priority Pollutant PAH", "pah-16"),
        ("Total Aroclors", "pcb-aroclors"),
        ("Total DDTs", "ddt-6"),
        ("Sum DDD", "ddd"),
        ("∑DDT", "ddt;ddt-6"),
        ("Total LPAH", "pah-low7;pah-low6"),
        ("ΣSEM", "sem"),
        ("Total Chlordane", "chlordane-5"),
        ("TOTAL PCB-H", "pcb-homologs"),
    ],
)
def test_totals_of_the_laboratory_know_which_of_ours_they_are(name, total):
    answer = BOOK.resolve(name)
    assert answer.role == "lab-total"
    assert table().loc[answer.substance, "lab_total_of"] == total


@pytest.mark.parametrize("name", ["PCB TOTAL TEQ (ND=0)", "Total TEQ (ND=1/2)", "BaP TEQ", "Total PAHs", "TEQ", "PCBs"])
def test_totals_are_never_a_substance(name):
    assert BOOK.resolve(name).role == "lab-total"


@pytest.mark.parametrize(
    "name",
    [
        "Naphthalene-d8",
        "Benzo(a)pyrene-d12",
        "13C12-PCB 170",
        "2,2',6-Trichlorobiphenyl-C13",
        "PCB-28L",
        "28L",
        "TCMX",
        "Tetrachloro-m-xylene (surr)",
        "DBOFB",
        "2-Fluorobiphenyl",
        "p-Terphenyl-d14",
        "Bisphenol A-d14, surrogate, solids, recoverable, percent recovery",
    ],
)
def test_surrogates(name):
    assert BOOK.resolve(name).role == "surrogate"


@pytest.mark.parametrize("name", ["Grain size (D50)", "2,4-D", "Decachlorobiphenyl"])
def test_what_only_looks_like_a_surrogate(name):
    assert BOOK.resolve(name).role == "analyte"


def test_differences_and_ratios_are_read_and_are_no_analytes():
    assert BOOK.resolve("SEM-AVS").role == "derived"
    assert substance("SEM/AVS") != substance("SEM-AVS")


# ---- refusals


@pytest.mark.parametrize(
    "name", ["DBT", "FLU", "DDT", "DDE", "DDD", "BHC", "HCH", "HCB", "TS", "OC", "1,2-Benzopyrene"]
)
def test_ambiguous_names_are_refused(name):
    answer = BOOK.resolve(name)
    assert (answer.substance, answer.role, answer.code) == (None, "none", "ambiguous-name")
    assert repr(name) in answer.message


#: Names that a project's own list gives to one substance and that this table refuses without more, and why.
REFUSED = {
    "HCE": "heptachlor epoxide or hexachloroethane",
    "HCB": "hexachlorobenzene or hexachlorobiphenyl",
    "FLU": "fluorene or fluoranthene",
    "DBT": "dibenzothiophene or dibutyltin",
    "TDE": "an isomer of DDD or the sum of two, like a bare DDD",
    "BHC": "one isomer, the technical mixture or the sum",
    "Benzofluoranthene": "one isomer or the group",
    "1,2-Benzopyrene": "benzo(a)pyrene or benzo(e)pyrene, by the numbering in use",
    "OC": "organic carbon or organochlorines",
    "TS %": "total solids or total sulfur, both in per cent",
    "Dry weight": "percent solids, a mass or the basis of the results",
    "N1": "an alkyl code: whole-cell and among PAHs only",
    "C1P/A": "an alkyl code: whole-cell and among PAHs only",
    "FP1": "an alkyl code: whole-cell and among PAHs only",
    "BC1": "an alkyl code: whole-cell and among PAHs only",
    "D4": "an alkyl code: whole-cell and among PAHs only",
    "Fluoranthene/Pyrene": "a ratio or one peak",
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_name_that_may_mean_two_things_is_refused_on_purpose(name):
    answer = BOOK.resolve(name)
    assert (answer.substance, answer.role, answer.code) == (None, "none", "ambiguous-name"), REFUSED[name]


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("∑DDT4", "DDTs, sum of 4 (lab)"),
        ("TEQ (WHO 2005)", "Dioxin TEQ, WHO 2005 (lab)"),
        ("Total PAH16", "Total PAHs, 16 (lab)"),
        ("% Dry weight", "Percent solids"),
        ("2,2,4,5,6,7,8,8-Octachloro-2,3,3a,4,7,7a-hexahydro-4,7-methano-1H-indene", "trans-Chlordane"),
    ],
)
def test_names_of_the_project_list_that_are_clear(name, expected):
    assert substance(name) == expected


def test_a_sum_of_four_ddts_is_compared_with_no_total_of_ours():
    assert table().loc["DDTs, sum of 4 (lab)", "lab_total_of"] == ""


# ---- a stroke between substances: a peak, or a ratio


@pytest.mark.parametrize(
    "name", ["Fluoranthene/Pyrene", "Fluoranthene / Chrysene", "Fluoranthene/Pyrene ratio", "4,4'-DDE/4,4'-DDT"]
)
def test_a_stroke_that_may_be_a_ratio_is_refused(name):
    answer = BOOK.resolve(name)
    assert (answer.substance, answer.code) == (None, "ambiguous-name")
    assert repr(name) in answer.message and "ratio" in answer.message


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Triphenylene/Chrysene", "Chrysene/Triphenylene"),
        ("Anthracene/Phenanthrene", "C0-Phenanthrenes/Anthracenes"),
        ("Dieldrin/4,4'-DDE", "4,4'-DDE/Dieldrin coelution"),
    ],
)
def test_a_peak_of_the_table_is_no_ratio(name, expected):
    assert substance(name) == expected


@pytest.mark.parametrize(
    ("name", "expected"), [("Fluoranthene + Pyrene", "Fluoranthene/Pyrene"), ("PCB-28/31", "PCB-28/31")]
)
def test_other_peaks(name, expected):
    assert substance(name) == expected


@pytest.mark.parametrize(
    ("name", "band", "expected"),
    [
        ("HCE", "pesticide", "Heptachlor epoxide"),
        ("Dry weight", "solids", "Percent solids"),
        ("N1", "pah", "C1-Naphthalenes"),
        ("C1P/A", "pah", "C1-Phenanthrenes/Anthracenes"),
        ("FP1", "pah", "C1-Fluoranthenes/Pyrenes"),
        ("BC1", "pah", "C1-Benzanthracenes/Chrysenes"),
        ("D4", "pah", "C4-Dibenzothiophenes"),
        ("DBT", "pah", "Dibenzothiophene"),
        ("DBT", "organotin", "Dibutyltin"),
        ("HCB", "pesticide", "Hexachlorobenzene"),
        ("HCB", "pcb", "Total Hexachlorobiphenyls"),
        ("OC", "conventional", "Total organic carbon"),
        ("TS", "solids", "Percent solids"),
        ("118", "pcb", "PCB-118"),
        ("118", "pcb-congener", "PCB-118"),
        ("F2", "pah", "C2-Fluorenes"),
    ],
)
def test_the_band_settles_them(name, band, expected):
    assert substance(name, band=band) == expected


@pytest.mark.parametrize(
    ("name", "cas", "expected"),
    [
        ("DBT", "132-65-0", "Dibenzothiophene"),
        ("DBT", "1002-53-5", "Dibutyltin"),
        ("DDE", "72-55-9", "4,4'-DDE"),
        ("FLU", "206-44-0", "Fluoranthene"),
        ("Chlordane", "12789-03-6", "Chlordane (technical)"),
        ("BHC", "58-89-9", "gamma-BHC (Lindane)"),
    ],
)
def test_the_registry_number_settles_them(name, cas, expected):
    assert substance(name, cas) == expected


@pytest.mark.parametrize(
    ("name", "cas"),
    [("Lead", "7440-66-6"), ("Acenaphthene", "208-96-8"), ("DBT", "7440-50-8"), ("PCB-28/31", "7439-92-1")],
)
def test_registry_number_against_name_is_refused_and_both_are_printed(name, cas):
    answer = BOOK.resolve(name, cas)
    assert (answer.substance, answer.code) == (None, "cas-against-name")
    assert name in answer.message and cas in answer.message


def test_a_valid_number_of_nothing_known_contradicts_a_name_that_has_a_number():
    assert code("Lead", "64-17-5") == "cas-against-name"


@pytest.mark.parametrize(
    ("name", "cas", "expected"),
    [
        ("SEM Copper", "7440-50-8", "SEM Copper"),
        ("Benzo(b,k)fluoranthene", "205-99-2", "Benzo(b,k)fluoranthene"),
        ("TOC", "7440-44-0", "Total organic carbon"),
        ("Total Aroclors", "1336-36-3", "Total Aroclors (lab)"),
        ("Tributyltin (as Sn)", "688-73-3", "Tributyltin (as Sn)"),
        ("PCB-129/138/163", "35065-28-2", "PCB-129/138/163"),
    ],
)
def test_a_substance_without_a_number_of_its_own_keeps_its_name(name, cas, expected):
    assert substance(name, cas) == expected


@pytest.mark.parametrize(
    ("name", "cas", "expected"),
    [
        ("Tributyltin", "36643-28-4", "Tributyltin"),
        ("gamma-Chlordane", "5566-34-7", "trans-Chlordane"),
        ("Technical Chlordane", "57-74-9", "Chlordane (technical)"),
    ],
)
def test_other_numbers_printed_for_the_same_thing(name, cas, expected):
    assert substance(name, cas) == expected


def test_a_wrong_check_digit_is_a_notice_when_the_name_resolves():
    answer = BOOK.resolve("Lead", "7439-92-2")
    assert answer.substance == "Lead"
    assert "check digit" in answer.notice


@pytest.mark.parametrize("text", ["TOC", "TOTAL_SOLIDS", "32598-13-3DL", "688-73-3/1002-53-5", "BDO-62", "n/a", "-"])
def test_text_that_is_no_registry_number_is_ignored(text):
    answer = BOOK.resolve("Lead", text)
    assert (answer.substance, answer.notice) == ("Lead", "")


@pytest.mark.parametrize("text", ["7439-92-1", "007439-92-1", " 7439–92–1 ", "CAS 7439-92-1", "7439921"])
def test_registry_numbers_are_read_in_these_forms(text):
    assert read_cas(text) == ("7439-92-1", True)


def test_an_unknown_name_is_read_by_its_number_with_a_notice():
    answer = BOOK.resolve("Blei, gesamt nach Aufschluss", "7439-92-1")
    assert answer.substance == "Lead"
    assert answer.notice


@pytest.mark.parametrize(
    ("name", "cas"),
    [
        ("Copper, dissolved", "7440-50-8"),
        ("Copper, TCLP", "7440-50-8"),
        ("C5-Naphthalenes", "91-20-3"),
        ("Sum of DDT compounds", "50-29-3"),
        ("Arsenic, inorganic", "7440-38-2"),
        ("Methyl naphthalene isomer", "91-20-3"),
    ],
)
def test_words_that_change_what_was_measured_are_not_overruled_by_a_number(name, cas):
    if name != "C5-Naphthalenes":
        assert code(name, cas) == "unknown-substance"
    assert code(name) == "unknown-substance"


@pytest.mark.parametrize(
    ("name", "suggestion"),
    [("Acenapthylene", "Acenaphthylene"), ("Flouranthene", "Fluoranthene"), ("Cadmiun", "Cadmium")],
)
def test_a_likeness_is_suggested_and_never_applied(name, suggestion):
    answer = BOOK.resolve(name)
    assert (answer.substance, answer.suggestion) == (None, suggestion)
    assert "Did you mean" in answer.message


@pytest.mark.parametrize("name", ["C5-Naphthalenes", "1,2,3,4,7,9-HxCDD", "PCB-300", "Endosulfan III"])
def test_no_suggestion_with_other_digits(name):
    near = BOOK.resolve(name).suggestion
    assert [c for c in near if c.isdigit()] == ([c for c in name if c.isdigit()] if near else [])


def test_two_names_of_different_substances_in_one_cell_are_refused():
    assert code("Lead (Zn)") == "ambiguous-name"


def test_an_empty_name_without_a_number_is_refused():
    assert code("", "") == "unknown-substance"


@given(st.text(max_size=25), st.text(max_size=12))
def test_any_text_is_resolved_or_refused_without_error(name, cas):
    answer = BOOK.resolve(name, cas)
    assert (answer.role == "none") == bool(answer.code)


# ---- many at once


def test_resolve_many_agrees_with_resolve_row_by_row():
    names = ["Lead", "DBT", "Lead", "x", "PCB-28 C20"]
    cass = ["", "132-65-0", "7440-66-6", "", ""]
    frame = BOOK.resolve_many(names, cass, [""] * 5)
    for place, row in frame.iterrows():
        one = BOOK.resolve(names[place], cass[place])
        assert [None if pd.isna(value) else value for value in row] == [
            getattr(one, field) or None for field in frame.columns
        ]


def test_resolve_many_of_nothing():
    assert len(BOOK.resolve_many([], [], [])) == 0


def test_resolve_many_takes_missing_as_empty():
    frame = BOOK.resolve_many(pd.Series(["Lead", None], dtype="category"), [None, "7440-66-6"], [None, None])
    assert list(frame["substance"]) == ["Lead", "Zinc"]


def test_likenesses_are_looked_for_a_few_unknown_names_only(monkeypatch):
    calls = []
    monkeypatch.setattr(name_index, "nearest", lambda *given, **_: calls.append(given) or [])
    names = [f"Unknown thing x{i}" for i in range(20_000)]
    frame = BOOK.resolve_many(names, [""] * len(names), [""] * len(names))
    assert set(frame["code"]) == {"unknown-substance"}
    assert len(calls) <= MOST_SUGGESTIONS
    assert frame["message"].str.contains("no likeness was looked for").sum() == len(names) - MOST_SUGGESTIONS


def test_one_unknown_name_in_many_rows_is_looked_for_once(monkeypatch):
    calls = []
    monkeypatch.setattr(name_index, "nearest", lambda *given, **_: calls.append(given) or ["cadmium"])
    frame = BOOK.resolve_many(["Cadmiunn"] * 500, [f"code {i}" for i in range(500)], [""] * 500)
    assert set(frame["suggestion"]) == {"Cadmium"}
    assert len(calls) == 1


@pytest.mark.parametrize("text", ["Lead, " * 5000, " 1," * 10_000 + "x", "(" * 30_000, "lead/" * 6000])
def test_running_text_in_a_name_cell_is_no_name_and_takes_no_time(text):
    assert code(text) == "unknown-substance"
    assert split_unit(text)[1] == ""


@pytest.mark.parametrize(
    ("name", "cas", "said", "suggestion"),
    [
        ("7439-29-1", "", "7439-29-1 fails its check digit", "Lead"),
        ("50-32-7", "", "it would be 50-32-8 (Benzo(a)pyrene)", "Benzo(a)pyrene"),
        ("7439-92-2", "", "it would be 7439-92-1 (Lead) or 7439-93-2 (Lithium)", ""),
        ("", "7439-29-1", "it would be 7439-92-1 (Lead)", ""),
        ("12-34-5", "", "12-34-5 fails its check digit.", ""),
    ],
)
def test_a_mistyped_registry_number_is_told_with_those_that_it_may_be(name, cas, said, suggestion):
    """The numbers are those of the registry: lead 7439-92-1, lithium 7439-93-2, benzo(a)pyrene 50-32-8."""
    found = name_book().resolve(name, cas)
    assert (found.code, found.suggestion) == ("unknown-substance", suggestion)
    assert said in found.message


def test_a_mistyped_registry_number_beside_a_name_is_told_and_the_name_is_used():
    found = name_book().resolve("Lead", "7439-29-1")
    assert found.substance == "Lead"
    assert "7439-92-1 (Lead)" in found.notice


def test_a_line_break_in_a_name_is_a_blank():
    assert name_book().resolve("Total organic\ncarbon").substance == "Total organic carbon"
