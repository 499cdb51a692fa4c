"""Whatever stands in the two files, the check gives findings and the loader one error: never a traceback."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from screen.reference.check import check_set
from screen.reference.sets import SetError, load_set

CELL = st.sampled_from(
    [
        "",
        "Lead",
        "Total PCBs",
        "7439-92-1",
        "1",
        "2.5",
        "-1",
        "nan",
        "inf",
        "1e400",
        "<3",
        "mg/kg",
        "mg/kg OC",
        "%",
        "oc",
    ]
) | st.text(max_size=6)
VALUE = st.sampled_from(
    ['"x"', "[]", '["a", "b"]', "[1, 2]", "[[]]", '[["pah-13"], "pah-16"]', "1", "true", "{}", '"dry"', '"oc-1%"', '""']
)
KEYS = "title citation water levels lower upper basis at_level nondetects caveats toc sums meaning issuer odd".split()
HEADER = st.lists(st.sampled_from(["substance", "cas", "a", "b", "unit", "a unit", "basis", "evidence", "", "odd"]))
TABLES = '[toc]\nrange_pct = {}\noutside = {}\n[sums]\n"Total PCBs" = {}\n[meaning]\na = {}\n'


@settings(max_examples=150, deadline=None)
@given(
    header=HEADER,
    rows=st.lists(st.lists(CELL, max_size=9), max_size=4),
    keys=st.dictionaries(st.sampled_from(KEYS), VALUE),
    inner=st.tuples(VALUE, VALUE, VALUE, VALUE),
    nested=st.booleans(),
)
def test_any_text(
    header: list[str], rows: list[list[str]], keys: dict[str, str], inner: tuple[str, ...], nested: bool
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        stem = Path(folder) / "mine"
        table = "\n".join(",".join(f'"{cell}"' if '"' not in cell else cell for cell in row) for row in [header, *rows])
        stem.with_suffix(".csv").write_text(table, encoding="utf-8", errors="replace", newline="")
        kept = {key: value for key, value in keys.items() if not nested or key not in ("toc", "sums", "meaning")}
        about = "".join(f"{key} = {value}\n" for key, value in kept.items()) + (TABLES.format(*inner) if nested else "")
        stem.with_suffix(".toml").write_text(about, encoding="utf-8")
        found = check_set(stem.with_suffix(".csv"))
        try:
            load_set(stem.with_suffix(".toml"))
        except SetError as error:
            assert found
            assert error.findings
        else:
            assert found == []


PARTS = {
    "title": '"t"',
    "citation": '"c"',
    "water": '["fresh"]',
    "levels": '["a", "b"]',
    "lower": '"a"',
    "upper": '"b"',
    "basis": '"dry"',
    "at_level": '"exceeds"',
    "nondetects": '"km"',
    "caveats": '["none"]',
    "toc.range_pct": "[1, 2]",
    "toc.outside": '"clamp"',
    "sums.Total PCBs": '["pcb-ices7"]',
    "meaning.a": '"low"',
}
ODD = [
    '"x"',
    '""',
    "[]",
    '["a", "a"]',
    '["a", 1]',
    "[1, 2]",
    "[[]]",
    '[["pah-13"], "pah-16"]',
    "1",
    "true",
    "{}",
    "1e400",
]
ROWS = "substance,a,b,unit,b basis\nTotal PCBs,1,2,ug/kg,oc\n"


@settings(max_examples=250, deadline=None)
@given(st.sampled_from(list(PARTS)), st.sampled_from(ODD))
def test_any_value_of_one_key(part: str, value: str) -> None:
    lines = {key: (value if key == part else text) for key, text in PARTS.items()}
    about = "".join(f"{key} = {text}\n" for key, text in lines.items() if "." not in key)
    for section in ("toc", "sums", "meaning"):
        about += f"[{section}]\n"
        about += "".join(f'"{k.split(".")[1]}" = {v}\n' for k, v in lines.items() if k.startswith(section + "."))
    with tempfile.TemporaryDirectory() as folder:
        stem = Path(folder) / "mine"
        stem.with_suffix(".csv").write_text(ROWS, encoding="utf-8")
        stem.with_suffix(".toml").write_text(about, encoding="utf-8")
        if not check_set(stem.with_suffix(".toml")):
            load_set(stem.with_suffix(".toml"))
