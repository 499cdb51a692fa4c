"""Units and bases as sheets write them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.reference.locate import read_table
from screen.reference.units import convert, factor, molar_factor, read_basis, read_unit, states_unit

MASSES = ["g/g", "%", "g/kg", "mg/kg", "ug/kg", "ng/kg", "pg/kg"]


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        *[
            (t, "ug/kg")
            for t in ("ug/kg", "µg/kg", "μg/kg", "mcg/kg", "ug/Kg", "UG/KG", "ug kg-1", "µg kg⁻¹", "ng/g", "ppb")
        ],
        *[
            (t, "mg/kg")
            for t in ("mg/kg", "mg/Kg", "Mg/kg", "MG/KG", "ug/g", "µg/g", "mg kg-1", "mg·kg−1", "ppm", "g/t")
        ],
        *[(t, "ng/kg") for t in ("ng/kg", "pg/g", "ng TEQ/kg", "pg/g TEQ", "pg WHO-TEQ/g")],
        *[(t, "%") for t in ("%", "PCT", "percent", "% by wt", "wt%")],
        *[(t, "g/kg") for t in ("g/kg", "mg/g", "o/oo")],
        *[(t, "umol/g") for t in ("umol/g", "µmol/g", "mmol/kg")],
        ("g/g", "g/g"),
        ("fg/g", "pg/kg"),
        ("s.u.", "pH"),
    ],
)
def test_every_spelling_has_one_unit(text, unit):
    reading = read_unit(text)
    assert (reading.unit, reading.basis, reading.code) == (unit, "", "")


@pytest.mark.parametrize(
    ("text", "unit", "basis"),
    [
        ("NG/G_DRY", "ug/kg", "dry"),
        ("mg/kg-dry", "mg/kg", "dry"),
        ("ug/kg dry", "ug/kg", "dry"),
        ("µg/g dry", "mg/kg", "dry"),
        ("mg/kg dw", "mg/kg", "dry"),
        ("mg/kg D.W.", "mg/kg", "dry"),
        ("mg/kg (dry)", "mg/kg", "dry"),
        ("mg/kg, dry wt.", "mg/kg", "dry"),
        ("mg/kg dry weight basis", "mg/kg", "dry"),
        ("mg/kg (ppm) dry", "mg/kg", "dry"),
        ("ug/kg dry weight (DW)", "ug/kg", "dry"),
        ("mg/dry kg", "mg/kg", "dry"),
        ("mg/kg TS", "mg/kg", "dry"),
        ("mg/kg TM", "mg/kg", "dry"),
        ("% dry", "%", "dry"),
        ("ug/kg wet", "ug/kg", "wet"),
        ("mg/kg ww", "mg/kg", "wet"),
        ("ug/kg as received", "ug/kg", "wet"),
        ("mg/kg OC", "mg/kg", "oc"),
        ("ug/g OC", "mg/kg", "oc"),
        ("ug/kg-OC", "ug/kg", "oc"),
        ("ug/goc", "mg/kg", "oc"),
        ("ng TEQ/kg dw", "ng/kg", "dry"),
    ],
)
def test_a_basis_in_the_unit_is_read(text, unit, basis):
    reading = read_unit(text)
    assert (reading.unit, reading.basis, reading.code) == (unit, basis, "")


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "unit-missing"),
        ("  ", "unit-missing"),
        ("N/A", "unit-missing"),
        ("ug/L", "unit-not-solid"),
        ("mg/L", "unit-not-solid"),
        ("ng/L", "unit-not-solid"),
        ("ug/wipe", "unit-not-solid"),
        ("mg/m3", "unit-not-solid"),
        ("pCi/g", "unit-not-solid"),
        ("MPN", "unit-not-solid"),
        ("ppt", "unit-ambiguous"),
        ("mg/kg lipid", "basis-refused"),
        ("ng/g lw", "basis-refused"),
        ("furlong", "unit-unknown"),
        ("mgg/kg", "unit-unknown"),
        ("mg/kg ug/kg", "unit-unknown"),
        ("mg/kg dry OC", "unit-unknown"),
        ("ug/kg dry wet", "unit-unknown"),
    ],
)
def test_refused_units_say_why(text, code):
    reading = read_unit(text)
    assert reading.unit is None
    assert reading.code == code
    assert reading.message


def test_an_unknown_unit_names_the_nearest():
    assert "mg/kg" in read_unit("mgg/kg").message


def test_ppt_is_read_for_dioxins_with_a_notice():
    reading = read_unit("ppt", group="dioxin")
    assert (reading.unit, reading.code) == ("ng/kg", "")
    assert reading.message


@pytest.mark.parametrize("text", ["ppm", "ppb", "ppm dry"])
def test_parts_per_million_and_billion_are_told(text):
    assert "parts by mass" in read_unit(text).message


@pytest.mark.parametrize("text", ["ug Sn/kg", "ng Sn/g dw", "ug/kg as Sn"])
def test_tin_in_the_unit_is_kept(text):
    assert (read_unit(text).unit, read_unit(text).expressed) == ("ug/kg", "Sn")


@pytest.mark.parametrize(
    ("text", "element"), [("mg N/kg", "N"), ("mg/kg-N", "N"), ("mg/kg as P", "P"), ("mg C/kg", "C")]
)
def test_the_element_that_a_mass_is_stated_as_is_kept(text, element):
    assert (read_unit(text).unit, read_unit(text).expressed) == ("mg/kg", element)


@pytest.mark.parametrize("text", ["% OC", "%TOC", "% C"])
def test_per_cent_carbon_is_no_carbon_basis(text):
    assert (read_unit(text).unit, read_unit(text).basis) == ("%", "")


def test_toxic_equivalents_are_kept():
    assert read_unit("ng TEQ/kg").toxic_equivalents
    assert not read_unit("ng/kg").toxic_equivalents


def test_recovery_is_no_percentage_of_mass():
    assert read_unit("PCT_REC").unit == "% recovery"
    assert factor("% recovery", "%") is None


@pytest.mark.parametrize(
    ("text", "basis"),
    [
        *[
            (t, "dry")
            for t in ("Dry", "D", "DW", "d.w.", "dry wt", "D/W", "Gravimetric Dry", "Freeze-Dried Wt", "TS", "TM")
        ],
        *[(t, "wet") for t in ("Wet", "W", "WW", "as received", "A.R.", "fresh", "FW", "as is", "as analysed")],
        *[(t, "") for t in ("", "-", "N/A")],
        *[(t, None) for t in ("Lipid", "Ash-Free Dry", "Sieved Weight", "sideways")],
        ("OC", "oc"),
    ],
)
def test_basis_words(text, basis):
    assert read_basis(text) == basis


# Unit table of the methods handbook, section 4.5: powers of ten between mass fractions.
@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        ("mg/kg", "ug/kg", 1000.0),
        ("ug/kg", "ng/kg", 1000.0),
        ("%", "mg/kg", 10_000.0),
        ("g/kg", "%", 0.1),
        ("g/g", "mg/kg", 1_000_000.0),
        ("ug/kg", "mg/kg", 0.001),
        ("ng/kg", "ug/kg", 0.001),
        ("umol/kg", "umol/g", 0.001),
        ("pH", "pH", 1.0),
    ],
)
def test_factors_are_the_doubles_nearest_to_powers_of_ten(start, end, expected):
    assert factor(start, end) == expected


@pytest.mark.parametrize(("start", "end"), [("umol/g", "mg/kg"), ("pH", "mg/kg"), ("nonsense", "mg/kg"), ("mV", "%")])
def test_no_factor_where_none_is_fixed(start, end):
    assert factor(start, end) is None
    with pytest.raises(ValueError, match="no fixed factor"):
        convert(1.0, start, end)


@given(st.sampled_from(MASSES), st.sampled_from(MASSES), st.integers(1, 10**9))
def test_converting_a_whole_number_rounds_once(start, end, value):
    powers = {"g/g": 0, "%": -2, "g/kg": -3, "mg/kg": -6, "ug/kg": -9, "ng/kg": -12, "pg/kg": -15}
    assert convert(float(value), start, end) == float(f"{value}e{powers[start] - powers[end]}")


def test_convert_takes_arrays():
    assert convert(np.array([1.0, 2.5]), "mg/kg", "ug/kg").tolist() == [1000.0, 2500.0]


# Methods handbook units table: 1 mg/kg of each metal in umol/g, six figures.
@pytest.mark.parametrize(
    ("substance", "expected"),
    [
        ("SEM Cadmium", 0.00889569),
        ("SEM Copper", 0.0157366),
        ("SEM Nickel", 0.0170378),
        ("SEM Lead", 0.00482625),
        ("SEM Zinc", 0.0152952),
        ("SEM Silver", 0.00927059),
        ("Acid volatile sulfide", 0.0311915),
    ],
)
def test_molar_factors(substance, expected):
    assert molar_factor(substance) == pytest.approx(expected, rel=5e-6)


def test_tributyltin_as_tin_is_multiplied_to_the_cation():
    """Factor 2.44, intake name list (common practice)."""
    assert round(molar_factor("Tributyltin (as Sn)"), 2) == 2.44


@pytest.mark.parametrize("substance", ["Lead", "Tributyltin", "Unobtainium"])
def test_no_molar_factor_for_others(substance):
    assert molar_factor(substance) is None


def test_no_unit_or_basis_word_stands_twice():
    for name in ("units", "bases"):
        words = read_table(f"vocabulary/{name}.csv")["text"].str.casefold()
        assert words.is_unique, words[words.duplicated()].tolist()


def test_every_unit_word_of_the_table_is_read_as_its_unit():
    for _, row in read_table("vocabulary/units.csv").iterrows():
        assert states_unit(row["text"])
        if row["unit"] and row["kind"] != "ambiguous":
            assert read_unit(row["text"]).unit == row["unit"], row["text"]


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused_without_error(text):
    reading = read_unit(text)
    assert (reading.unit is None) == bool(reading.code)
