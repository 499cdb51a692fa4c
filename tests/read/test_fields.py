"""Header words: the vocabulary of the intake handbook, section 2, and the open exchange standard's column names."""

from __future__ import annotations

import pytest

from screen.stages.read.words.fields import field_of, name_header, not_a_sample, split_end
from screen.stages.read.words.meanings import basis_in_text, unit_in_text


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("Sample ID", "sample"),
        ("SAMPLE_ID", "sample"),
        ("Client Sample\nID", "sample"),
        ("Probenbezeichnung", "sample"),
        ("LABSAMPID", "lab_sample"),
        ("MonitoringLocationIdentifier", "station"),
        ("ActivityMediaName", "matrix"),
        ("CharacteristicName", "analyte"),
        ("ResultMeasureValue", "value"),
        ("ResultMeasure/MeasureUnitCode", "unit"),
        ("ResultWeightBasisText", "basis"),
        ("ResultDetectionConditionText", "detection"),
        ("CAS No.", "cas"),
        ("Dil. Fac.", "dilution"),
        ("Val Qual", "validator"),
        ("Reporting Limit", "rl"),
        ("BG", "rl"),
        ("NG", "mdl"),
        ("Date Collected", "date"),
        ("Date Received", "other"),
        ("Analysis Date", "analysed"),
        ("QE-31", ""),
    ],
)
def test_a_header_names_its_field(text: str, field: str) -> None:
    assert field_of(text) == field


@pytest.mark.parametrize(
    ("text", "field", "rest"),
    [
        ("Result (mg/kg dry)", "value", "mg/kg dry"),
        ("Depth (cm)", "depth", "cm"),
        ("MDL, ug/kg", "mdl", "ug/kg"),
        ("Result ug/kg", "value", "ug/kg"),
    ],
)
def test_a_header_may_give_a_unit(text: str, field: str, rest: str) -> None:
    assert name_header(text)[::2] == (field, rest)


@pytest.mark.parametrize("text", ["TEC", "PEC (mg/kg)", "ERL", "Max", "% Recovery", "RPD", "Background", "FOD"])
def test_what_looks_like_a_sample_and_is_none(text: str) -> None:
    assert not_a_sample(text)


@pytest.mark.parametrize("text", ["QE-1", "TEL-3", "S1", "Fish Bay", "Standard Bay 2"])
def test_what_is_a_sample(text: str) -> None:
    assert not not_a_sample(text)


def test_an_end_of_a_header_tells_its_role() -> None:
    assert ("pcb_8", "qualifier") in {(end.stem, end.role) for end in split_end("PCB_8_Q")}


@pytest.mark.parametrize(
    ("text", "basis"),
    [
        ("Table 1. Somewhere, dry weight", "dry"),
        ("ng/g wet weight", "wet"),
        ("Results as received", "wet"),
        ("not corrected for moisture", "wet"),
        ("All values in mg/kg d.w.", "dry"),
        ("dry weight and wet weight", "both"),
        ("Sampled in dry weather", ""),
        ("Moisture on a wet weight basis", ""),
    ],
)
def test_a_note_states_the_basis(text: str, basis: str) -> None:
    assert basis_in_text(text).basis == basis


@pytest.mark.parametrize(
    ("text", "unit"),
    [("Metals (mg/kg)", "mg/kg"), ("mg/kg and ug/kg", ""), ("ng/g wet weight", "ng/g wet weight"), ("Metals", "")],
)
def test_a_title_states_one_unit(text: str, unit: str) -> None:
    assert unit_in_text(text) == unit
