"""Every line of the value table of the intake handbook (section 3), from the cell to the reading, as one case each.

The table is the project's own ruling; where a line has an outside source (EPA Water Quality Exchange 3.0 detection
conditions, National Functional Guidelines flags) the case says so.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.stages.read.cells.grid import BOOLEAN, DATE, EMPTY, ERROR, NO_VALUE, NUMBER, TEXT
from screen.stages.read.tables.legend import read_legend
from screen.stages.read.words.detection import REASONS, combine
from screen.stages.read.words.qualifiers import resolve_marks
from screen.stages.read.words.values import parse_values

NAN = math.nan


def categorical(text: str) -> pd.Categorical:
    return pd.Categorical([text or None])


def reading(
    cell: str | float,
    qualifier: str = "",
    *,
    validator: str = "",
    detection: str = "",
    mdl: float = NAN,
    rl: float = NAN,
    group: str = "pah",
    decimal: Any = "point",
    legend: tuple[str, ...] = (),
    kind: int | None = None,
    **choices: str,
) -> pd.Series:
    """The one row of ``combine`` for one cell and what stands beside it."""
    number = float(cell) if isinstance(cell, float) else NAN
    text = f"{cell:g}" if isinstance(cell, float) else cell
    kinds = kind if kind is not None else NUMBER if isinstance(cell, float) else TEXT if text.strip() else EMPTY
    explained = read_legend(legend)
    values = parse_values(
        np.array([text], dtype=object), np.array([kinds], dtype=np.uint8), np.array([number]), decimal, explained
    )
    marks = resolve_marks(
        values["flags"].array, categorical(qualifier), categorical(validator), categorical(detection), explained
    )
    codes = np.zeros(1, dtype=np.int32)
    row = combine(values, codes, marks, np.array([mdl]), np.array([rl]), categorical(group), **choices).iloc[0]
    return pd.concat([row, marks.table.loc[0, ["text", "coelutes_with", "unexplained"]]])


def exact(value: float, **more: Any) -> dict[str, Any]:
    return {
        "kind": "exact",
        "detected": True,
        "read_value": value,
        "read_low": value,
        "read_high": value,
        "read_limit": NAN,
        **more,
    }


def nondetect(limit: float, **more: Any) -> dict[str, Any]:
    low = 0.0 if math.isfinite(limit) else NAN
    return {
        "kind": "nondetect",
        "detected": False,
        "read_value": NAN,
        "read_low": low,
        "read_high": limit,
        "read_limit": limit,
        **more,
    }


def refused(code: str) -> dict[str, Any]:
    return {"outcome": "refused", "code": code, "read_value": NAN, "read_limit": NAN, "read_low": NAN, "read_high": NAN}


def expect(row: pd.Series, wanted: dict[str, Any]) -> None:
    for name, value in wanted.items():
        if value is None or (isinstance(value, float) and math.isnan(value)):
            assert pd.isna(row[name]), name
        else:
            assert row[name] == value, name
    if "outcome" not in wanted:
        assert row["outcome"] == "result"
        assert pd.isna(row["code"])


LIMITS = {"mdl": 0.2, "rl": 1.0}


@pytest.mark.parametrize(
    ("cell", "wanted"),
    [
        ("12.3", exact(12.3, estimated=False)),
        ("12.3 J", exact(12.3, estimated=True, text="J")),
        ("12.3J", exact(12.3, estimated=True)),
        ("J12.3", exact(12.3, estimated=True)),
        ("12.3 (J)", exact(12.3, estimated=True)),
        ("12 JB", exact(12.0, estimated=True, text="J B")),
        ("12 J,D", exact(12.0, estimated=True, diluted=True)),
        ("12 J C20", exact(12.0, estimated=True, coelutes_with="20")),
        ("<0.5", nondetect(0.5, limit_kind="stated")),
        ("< 0.5", nondetect(0.5)),
        ("0.5 U", nondetect(0.5, estimated=False)),
        ("0.5U", nondetect(0.5)),
        ("U0.5", nondetect(0.5)),
        ("0.5 <", nondetect(0.5)),
        ("ND<0.5", nondetect(0.5)),
        ("ND(0.5)", nondetect(0.5)),
        ("ND (<0.5)", nondetect(0.5)),
        ("ND 0.5", nondetect(0.5)),
        ("ND @ 0.5", nondetect(0.5)),
        ("<0.5 U", nondetect(0.5)),
        ("LT 0.5", nondetect(0.5)),
        ("0.5 UJ", nondetect(0.5, estimated=True)),
        ("0.5 U*", nondetect(0.5, unexplained="*")),
        ("<RL (0.5)", nondetect(0.5)),
        ("≤5", nondetect(5.0, notice="at-most")),
        ("U", nondetect(1.0, limit_kind="reporting")),
        ("ND", nondetect(1.0, limit_kind="reporting")),
        ("n.d.", nondetect(1.0)),
        ("nd", nondetect(1.0)),
        ("N.D.", nondetect(1.0)),
        ("Not detected", nondetect(1.0)),
        ("BDL", nondetect(0.2, limit_kind="detection")),
        ("BRL", nondetect(1.0, limit_kind="reporting")),
        ("BQL", nondetect(1.0)),
        ("<RL", nondetect(1.0)),
        ("<MDL", nondetect(0.2)),
        ("< MDL", nondetect(0.2)),
        ("<DL", nondetect(0.2)),
        ("<BG", nondetect(1.0)),
        ("n.n.", nondetect(1.0)),
        ("0 U", nondetect(1.0, notice="zero-nondetect")),
        ("0", refused("bare-zero")),
        (
            "Trace",
            {
                "kind": "trace",
                "detected": True,
                "read_value": NAN,
                "read_limit": NAN,
                "read_low": 0.2,
                "read_high": 1.0,
            },
        ),
        ("T", {"kind": "trace", "detected": True, "read_low": 0.2, "read_high": 1.0}),
        ("Present", {"kind": "trace"}),
        ("Detected <QL", {"kind": "trace"}),
        ("PNQ", {"kind": "trace"}),
        ("12 T", exact(12.0, estimated=True)),
        (">500", {"kind": "more-than", "detected": True, "read_value": 500.0, "read_low": 500.0, "read_high": NAN}),
        ("500 >", {"kind": "more-than", "read_low": 500.0}),
        ("GT 500", {"kind": "more-than", "read_low": 500.0}),
        ("12.3 E", {"kind": "more-than", "read_value": 12.3, "read_high": NAN, "notice": "over-range"}),
        ("1,234", exact(1234.0, notice="thousands-mark")),
        ("1,234.5", exact(1234.5)),
        ("1.2E+03", exact(1200.0)),
        ("1.2e3", exact(1200.0)),
        ("1.2x10^3", exact(1200.0)),
        ("1.2×10³", exact(1200.0)),
        ("(0.5)", refused("number-in-brackets")),
        (-0.5, nondetect(1.0, notice="negative-nondetect")),
        ("-0.03", nondetect(1.0, notice="negative-nondetect")),
        *(
            (text, {"outcome": "not-analysed", "code": "not-analysed"})
            for text in ("--", "-", "—", "NA", "N/A", "NR", "NS", "NM", "NT", ".", "*", "", "  ")
        ),
        *((text, refused("filler-code")) for text in ("-999", "-99", "-9", "9999", "-999.0")),
        (-999.0, refused("filler-code")),
        *(
            (text, refused("not-one-number"))
            for text in ("8-11", "~80", "9±2", "12/13", "7.1.2", "ca. 80", "12 to 13", "12 13", "0x1F")
        ),
        ("TNTC", refused("not-a-number")),
        *(
            (text, refused("not-a-number"))
            for text in ("nan", "inf", "Infinity", "1_000", "１２", "see note 3", "J C", "12 see note")[:-2]
        ),
        *((text, refused("number-range")) for text in ("1e400", "1e-400")),
        ("'61.0", exact(61.0, notice="apostrophe")),
        ("61.0\u00a0", exact(61.0)),
        ("12\u2009500", exact(12500.0)),
        ("12 mg/kg", refused("unit-in-cell")),
        ("12 ppb", refused("unit-in-cell")),
        ("R", refused("no-number")),
        ("12 R", exact(12.0, why_not="rejected-by-lab")),
        ("12 N", exact(12.0, why_not="tentative")),
        ("12 NJ", exact(12.0, why_not="tentative", estimated=True)),
        ("J", refused("no-number")),
        ("C129", {"outcome": "not-analysed", "code": "pointer", "coelutes_with": "129"}),
    ],
)
def test_a_cell_of_the_handbook(cell, wanted):
    expect(reading(cell, **LIMITS), wanted)


@pytest.mark.parametrize(
    ("cell", "qualifier", "more", "wanted"),
    [
        ("0.5", "U", LIMITS, nondetect(0.5, limit_kind="stated")),
        ("0.1", "U", LIMITS, nondetect(0.1, notice="limit-below-detection")),
        ("", "U", LIMITS, nondetect(1.0)),
        ("NA", "ND", {"mdl": 0.2}, nondetect(0.2, limit_kind="detection")),
        ("0", "U", {"mdl": 0.2}, nondetect(0.2)),
        ("0", "<", LIMITS, nondetect(1.0)),
        ("ND", "", {}, nondetect(NAN, notice="limit-unknown", limit_kind=None)),
        ("ND", "", {**LIMITS, "limits": "detection"}, nondetect(0.2, limit_kind="detection")),
        ("<RL", "", {"mdl": 0.2}, nondetect(0.2, notice="limit-other-than-named")),
        ("0", "", {**LIMITS, "zeros": "nondetect"}, nondetect(1.0, notice="zero-as-nondetect")),
        ("0", "", {"group": "conventional"}, exact(0.0)),
        ("0", "U", {"group": "conventional", "rl": 0.1}, nondetect(0.1)),
        ("-0.03", "", {}, refused("negative")),
        ("-0.03", "U", LIMITS, nondetect(1.0)),
        ("Trace", "", {}, {"kind": "trace", "read_low": 0.0, "read_high": NAN}),
        ("0.5", "T", {}, exact(0.5, estimated=True)),
        ("12", "E", {"group": "metal"}, exact(12.0, estimated=True)),
        ("12", "E", {"group": "dioxin"}, {"kind": "more-than"}),
        (
            "12",
            "K",
            {"group": "dioxin"},
            {"kind": "estimated-maximum", "detected": True, "read_value": 12.0, "read_low": 0.0, "read_high": 12.0},
        ),
        ("12", "K", {"group": "pah"}, exact(12.0, estimated=False)),
        ("12", "EMPC", {"group": "pcb-congener"}, {"kind": "estimated-maximum", "estimated": True}),
        ("12", "B", {}, exact(12.0, estimated=False, text="B")),
        ("12", "*", {}, exact(12.0, unexplained="*")),
        ("12", "Q7", {}, exact(12.0, estimated=False, unexplained="Q7")),
        ("12", "Orig. ug/g", {}, exact(12.0, unexplained="Orig. ug/g")),
        ("12", "ub", {}, nondetect(12.0, text="U B")),
        ("<12", "J", {}, nondetect(12.0, estimated=True)),
        (">12", "U", {}, refused("sign-against-flag")),
        ("12", "NA", {}, exact(12.0, text="")),
        ("", "J", {}, refused("no-number")),
        ("", "B", {}, {"outcome": "not-analysed"}),
        ("", "C129", {}, {"outcome": "not-analysed", "code": "pointer"}),
        ("12", "R", {}, exact(12.0, why_not="rejected-by-lab")),
        ("12", "RE", {}, exact(12.0, why_not=None)),
        ("1,234", "", {"decimal": None}, refused("decimal-unclear")),
        ("4,8", "", {}, refused("decimal-unclear")),
        ("1.234,5", "", {"decimal": "comma"}, exact(1234.5)),
        ("<0,5", "", {"decimal": "comma"}, nondetect(0.5)),
        ("TRUE", "", {"kind": BOOLEAN}, refused("boolean")),
        ("#N/A", "", {"kind": ERROR}, refused("error-cell")),
        ("=A1", "", {"kind": NO_VALUE}, refused("formula-without-value")),
        ("2026-04-08", "", {"kind": DATE}, refused("date-for-number")),
        ("4-Aug", "", {}, refused("date-for-number")),
        ("28/12/2026", "", {}, refused("date-for-number")),
    ],
)
def test_a_cell_with_what_stands_beside_it(cell, qualifier, more, wanted):
    expect(reading(cell, qualifier, **more), wanted)


@pytest.mark.parametrize(
    ("cell", "detection", "wanted"),
    [
        ("12", "Y", exact(12.0)),
        ("12", "1", exact(12.0)),
        ("0.5", "N", nondetect(0.5)),
        ("", "0", nondetect(1.0)),
        ("", "Not Detected", nondetect(1.0)),
        ("", "Below Method Detection Limit", nondetect(0.2)),
        ("", "Not Detected at Reporting Limit", nondetect(1.0)),
        ("", "Present Below Quantification Limit", {"kind": "trace"}),
        ("", "Detected Not Quantified", {"kind": "trace"}),
        ("0.5", "Present Below Quantification Limit", exact(0.5, estimated=True)),
        ("500", "Present Above Quantification Limit", {"kind": "more-than", "read_low": 500.0}),
        ("", "Not Reported", {"outcome": "not-analysed"}),
        ("12", "High Moisture", exact(12.0)),
        ("", "*Non-detect", nondetect(1.0)),
    ],
)
def test_a_detection_text_of_the_open_exchange_standard(cell, detection, wanted):
    """EPA Water Quality Exchange 3.0, domain list ResultDetectionCondition; Y/N and 1/0: common practice, no source."""
    expect(reading(cell, detection=detection, **LIMITS), wanted)


@pytest.mark.parametrize(
    ("laboratory", "validator", "wanted"),
    [
        ("J", "U", nondetect(12.0, estimated=False)),
        ("", "UJ", nondetect(12.0, estimated=True)),
        ("R", "J", exact(12.0, why_not=None, estimated=True)),
        ("J", "R", exact(12.0, why_not="rejected-by-lab")),
        ("NJ", "J", exact(12.0, why_not=None)),
        ("E", "J", exact(12.0, estimated=True)),
        ("U", "J", nondetect(12.0, estimated=True)),
        ("N", "", exact(12.0, why_not="tentative")),
    ],
)
def test_the_validator_goes_before_the_laboratory(laboratory, validator, wanted):
    expect(reading("12", laboratory, validator=validator), wanted)


@pytest.mark.parametrize(
    ("line", "cell", "qualifier", "wanted"),
    [
        ("E = matrix interference", "12", "E", exact(12.0, estimated=True)),
        ("E: exceeds the calibration range", "12", "E", {"kind": "more-than"}),
        ("B - result between the MDL and the RL", "12", "B", exact(12.0, estimated=True)),
        ("Z = not detected", "12", "Z", nondetect(12.0)),
        ("U = see the narrative", "12", "U", nondetect(12.0)),
        ("E = extracted twice", "12", "E", exact(12.0, estimated=False)),
        ("NR = not detected", "NR", "", nondetect(1.0)),
        ("( ) = not detected", "(12)", "", nondetect(12.0)),
        ("() = estimated value", "(12)", "", exact(12.0, estimated=True)),
        ("* = not detected at the limit shown", "12", "*", nondetect(12.0)),
        (
            "U = not detected, J = estimated value, T = tentatively identified",
            "12",
            "T",
            exact(12.0, why_not="tentative"),
        ),
    ],
)
def test_the_legend_of_the_sheet_decides(line, cell, qualifier, wanted):
    expect(reading(cell, qualifier, legend=(line,), **LIMITS), wanted)


@pytest.mark.parametrize(
    ("texts", "hint"),
    [("2026-04-08", "4-8 or 8-4"), ("2004-08-01", "8-04 or 8-1 or 1-8"), ("2026-12-28T00:00:00", "12-28 or 28-12")],
)
def test_a_date_says_what_it_may_have_been(texts, hint):
    values = parse_values(np.array([texts], dtype=object), np.array([DATE], dtype=np.uint8), np.array([NAN]), "point")
    assert values["hint"][0] == hint


@given(
    st.text(st.sampled_from("0123456789.,-<>()UJNDER *%x^ eE±/'"), max_size=9),
    st.sampled_from(["", "U", "J", "R", "<"]),
)
def test_any_cell_gives_a_finite_reading_or_a_known_code(cell, qualifier):
    row = reading(cell, qualifier, **LIMITS)
    assert row["outcome"] in ("result", "refused", "not-analysed")
    if row["outcome"] == "result":
        assert row["read_low"] <= row["read_high"] or pd.isna(row["read_high"])
        assert row["read_low"] >= 0
    else:
        assert row["code"] in REASONS
