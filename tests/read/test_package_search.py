"""What the search through a sheet's bytes finds is what parsing all of it finds, wherever its chunks end."""

import io
import zipfile
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screen.letters import column_letter
from screen.stages.read.cells import package_xml
from screen.stages.read.cells.extent import UnusualError
from screen.stages.read.cells.package_xml import SheetFacts, sheet_facts
from tests.robust.packages import xlsx_parts

STYLES = (
    '<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><numFmts count="1">'
    '<numFmt numFmtId="170" formatCode="0000"/></numFmts><fonts count="2"><font/><font><strike/></font></fonts>'
    '<cellXfs count="4"><xf numFmtId="0"/><xf numFmtId="170"/><xf numFmtId="9"/><xf numFmtId="0" fontId="1"/></cellXfs>'
    "</styleSheet>"
)
CELLS = (
    '<c r="{at}"><v>1.5</v></c>',
    '<c r="{at}" s="1"><v>42</v></c>',
    '<c r="{at}" s="2"/>',
    '<c r="{at}" s="2"><v>0.02</v></c>',
    '<c r="{at}" s="3" t="inlineStr"><is><t>s="1" &gt; t="e"</t></is></c>',
    '<c r="{at}" t="e"><v>#DIV/0!</v></c>',
    '<c r="{at}"><f>A1&lt;2</f></c>',
    '<c r="{at}" s="1"><f>A1*2</f><v>7</v></c>',
    '<c r="{at}" t="str"><f>A1</f><v></v></c>',
    "",
)
ROWS = ("", ' hidden="1"', ' hidden="0" s="1"', ' spans="1:9" x14ac:dyDescent="0.25" hidden="true"')
SHEETS = st.lists(st.tuples(st.sampled_from(ROWS), st.lists(st.sampled_from(CELLS), max_size=6)), max_size=12)


def facts_of(xml: str) -> SheetFacts:
    parts = xlsx_parts({"Results": xml}) | {"xl/styles.xml": STYLES}
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as package:
        for name, text in parts.items():
            package.writestr(name, text)
    with zipfile.ZipFile(packed) as package:
        return sheet_facts(package)[0]["Results"]


def sheet_of(rows: list[tuple[str, list[str]]], hidden: str) -> str:
    body = "".join(
        f'<row r="{number}"{more}>'
        + "".join(cell.format(at=f"{column_letter(place)}{number}") for place, cell in enumerate(cells))
        + "</row>"
        for number, (more, cells) in enumerate(rows, 1)
    )
    return (
        '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:x14ac="urn:x">'
        f'<cols><col min="2" max="3" {hidden}/></cols><sheetData>{body}</sheetData></worksheet>'
    )


@given(SHEETS, st.sampled_from(['width="9"', 'hidden="1" width="0"']), st.sampled_from([300, 1000, 1 << 22]))
def test_the_search_finds_what_parsing_finds(rows: list[tuple[str, list[str]]], hidden: str, chunk: int) -> None:
    xml = sheet_of(rows, hidden)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(package_xml, "_CHUNK", chunk)
        searched = facts_of(xml)
        patch.setattr(package_xml, "_searched_sheet", refused)
        parsed = facts_of(xml)
    assert replace(searched, last_row=0, last_column=0) == replace(parsed, last_row=0, last_column=0)
    assert searched.last_row >= parsed.last_row
    assert searched.last_column >= parsed.last_column


def refused(*_: object) -> SheetFacts:
    raise UnusualError


def test_cells_without_places_are_parsed_in_their_order() -> None:
    xml = sheet_of([("", ['<c r="A1"><v>1</v></c>'])], 'width="9"').replace(
        "</sheetData>", '<row><c t="e"><v>#N/A</v></c></row></sheetData>'
    )
    assert facts_of(xml).errors == {(1, 0): "#N/A"}


def test_what_stands_in_a_comment_is_no_cell() -> None:
    xml = sheet_of([("", ['<!-- <c r="A1" t="e"><v>#N/A</v></c> -->'])], 'width="9"')
    assert facts_of(xml).errors == {}
