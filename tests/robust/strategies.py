"""Hypothesis strategies for what is given to the tool: cells, sheets of any layout, batches and field records."""

from __future__ import annotations

from hypothesis import strategies as st

from tests.robust.texts import near_texts

__all__ = ["Rows", "batches", "field_records", "sheets"]

Rows = list[list[str]]
_SAMPLES = st.sampled_from(["QE-01", "QE-1", "qe 01", "QE-02", "ST-3 0-10 cm", "1", "Blank", "QE-01 DUP"]) | near_texts
_NAMES = st.sampled_from(
    ["Lead", "Pb", "Zinc, total", "PCB-118", "PCB-90/101/113", "Aroclor 1254", "Pyrene", "4,4'-DDE", "Percent solids",
     "Moisture", "TOC", "Total PCBs", "2,3,7,8-TCDD", "Naphthalene-d8", "7439-92-1"]
) | near_texts  # fmt: skip
_VALUES = st.sampled_from(["5", "1.5", "1,5", "<0.5", "ND", "12 J", ">500", "0", "-1", "", "1e400", "NaN"]) | near_texts
_UNITS = st.sampled_from(["mg/kg dry", "ug/kg", "µg/kg ww", "%", "ng/g dry", "ppm", "mg/L", ""]) | near_texts
_COLUMNS = {
    "Sample": _SAMPLES, "Analyte": _NAMES, "Result": _VALUES, "Unit": _UNITS, "Qualifier": _VALUES, "RL": _VALUES,
    "Basis": st.sampled_from(["dry", "wet", ""]) | near_texts, "CAS": _NAMES, "Collected": near_texts,
    "Depth (cm)": near_texts, "Station": _SAMPLES, "Sample Type": near_texts,
}  # fmt: skip
_FIELD = {
    "station": _SAMPLES, "sample": _SAMPLES, "core": _SAMPLES, "river_km": _VALUES, "latitude": _VALUES,
    "longitude": _VALUES, "top": near_texts, "bottom": near_texts, "date": near_texts, "parent": _SAMPLES,
    "water": st.sampled_from(["fresh", "marine", ""]) | near_texts, "area_m2": _VALUES, "recovered": near_texts,
}  # fmt: skip


@st.composite
def _table(draw: st.DrawFn, columns: dict[str, st.SearchStrategy[str]], needed: tuple[str, ...]) -> Rows:
    more = draw(st.lists(st.sampled_from([one for one in columns if one not in needed]), unique=True, max_size=5))
    head = draw(st.permutations([*needed, *more]))
    body = draw(st.lists(st.tuples(*(columns[one] for one in head)).map(list), max_size=6))
    return [list(head), *body]


@st.composite
def _wide(draw: st.DrawFn) -> Rows:
    across = draw(st.lists(_SAMPLES, min_size=1, max_size=4))
    names = draw(st.lists(_NAMES, max_size=5))
    return [["Analyte", "Unit", *across], *([name, draw(_UNITS), *(draw(_VALUES) for _ in across)] for name in names)]


_loose = st.lists(st.lists(near_texts, max_size=6), max_size=8)
#: One sheet: a long table, a wide one, or cells without any order, with or without loose rows above and below.
sheets: st.SearchStrategy[Rows] = st.tuples(
    st.lists(st.lists(near_texts, max_size=3), max_size=2),
    _table(_COLUMNS, ("Sample", "Analyte", "Result")) | _wide() | _loose,
    st.lists(st.lists(near_texts, max_size=3), max_size=2),
).map(lambda parts: [*parts[0], *parts[1], *parts[2]])
batches: st.SearchStrategy[list[Rows]] = st.lists(sheets, min_size=1, max_size=3)
field_records: st.SearchStrategy[Rows] = (
    _table(_FIELD, ("sample", "station")) | _table(_FIELD, ("station",)) | _table(_FIELD, ("core", "station")) | _loose
)
