"""Files made to do harm: refused with one message, in little time and memory, and nothing outside is reached.

The bound on memory is stated in SECURITY.md: a refused package, or one that unpacks to less than 50 MB, keeps the
process under 800 MB.
"""

from __future__ import annotations

import io
import socket
import struct
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from harness import Outcome, run_siltmark

from screen.letters import column_letter
from screen.settings import Settings
from screen.stages.read.batch import read
from tests.robust.child import run_child
from tests.robust.packages import ods_parts, packed, sheet_xml, xlsx_parts

MEGABYTES = 800
HEAD = ["Sample", "Analyte", "Result", "Unit"]
ROWS = [HEAD, *([f"QE-{number}", "Lead", number + 1.5, "mg/kg dry"] for number in range(3))]
SHEET = sheet_xml(ROWS)
PARTS = xlsx_parts({"Results": SHEET})
_SPACE = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'


def bomb(member: str, piece: bytes, times: int, before: bytes = b"", after: bytes = b"") -> bytes:
    """The workbook with one part that unpacks to ``times`` the piece."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as package:
        for name, part in PARTS.items():
            if name != member:
                package.writestr(name, part)
        with package.open(member, "w", force_zip64=True) as part:
            part.write(before)
            for _ in range(times):
                part.write(piece)
            part.write(after)
    return stream.getvalue()


def lying() -> bytes:
    """A part of 100 MB that the directory of the package says has 1,000 bytes."""
    content = bytearray(bomb("xl/worksheets/sheet1.xml", b" " * (1 << 20), 100))
    entry = content.rfind(b"xl/worksheets/sheet1.xml") - 46
    content[entry + 24 : entry + 28] = struct.pack("<I", 1000)
    return bytes(content)


ROW = b"<row>" + b"<c><v>1</v></c>" * 20 + b"</row>"
BOMBS: dict[str, tuple[Callable[[], bytes], str]] = {
    "a sheet of a gigabyte": (lambda: bomb("xl/worksheets/sheet1.xml", b" " * (1 << 20), 1024), "unpack"),
    "shared texts of 600 MB": (lambda: bomb("xl/sharedStrings.xml", b" " * (1 << 20), 600), "unpack"),
    "a picture of 4 GB": (lambda: bomb("xl/media/image1.png", b"\0" * (1 << 20), 4096), "unpack"),
    "styles of 45 MB": (
        lambda: bomb("xl/styles.xml", b"<a/>" * (1 << 18), 45, b"<styleSheet>", b"</styleSheet>"), "larger"
    ),
    "a directory that lies": (lying, ""),
    "2 million cells": (
        lambda: bomb("xl/worksheets/sheet1.xml", ROW * 1000, 100, f"<worksheet {_SPACE}><sheetData>".encode(),
                     b"</sheetData></worksheet>"),
        "no table",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BOMBS)
def test_a_package_that_unpacks_out_of_proportion(tmp_path: Path, name: str) -> None:
    make, words = BOMBS[name]
    (tmp_path / "lab.xlsx").write_bytes(make())
    ended = run_child("screen", "lab.xlsx", "--out", "out", folder=tmp_path)
    assert (ended.status, "Traceback" in ended.stderr, (tmp_path / "out").exists()) == (1, False, False), ended.stderr
    assert "not read: lab.xlsx: " in ended.stderr
    assert words in ended.stderr
    assert ended.megabytes < MEGABYTES


def laughs(entity: str = '"lol"') -> str:
    """Nine entities, each ten times the one before: a thousand million times the first."""
    steps = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 10))
    return f"<!DOCTYPE a [<!ENTITY e0 {entity}>{steps}]>"


MEMBERS = {
    "xl/workbook.xml": lambda text: text,
    "xl/worksheets/sheet1.xml": lambda text: text.replace("QE-1", "&e9;"),
    "xl/sharedStrings.xml": lambda text: "<sst><si><t>&e9;</t></si></sst>",
    "xl/_rels/workbook.xml.rels": lambda text: text,
    "[Content_Types].xml": lambda text: text,
}


@pytest.mark.parametrize("member", MEMBERS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-le", "cp037"])
@pytest.mark.parametrize(
    "before", ["", " " * 5_000_000, f"<!-- {'x' * 5_000_000} -->"], ids=["first", "late", "remark"]
)
def test_entities_are_never_expanded(tmp_path: Path, member: str, encoding: str, before: str) -> None:
    text = MEMBERS[member](PARTS.get(member, b"").decode())
    part = f'<?xml version="1.0" encoding="{encoding}"?>{before}{laughs()}{text}'.encode(encoding)
    (tmp_path / "lab.xlsx").write_bytes(packed({**PARTS, member: part}))
    batch = read([tmp_path / "lab.xlsx"], Settings())
    if member == "[Content_Types].xml":  # nothing is taken from it
        assert not any("lol" in str(text) for text in batch.ledger["text"].cat.categories)
    else:
        assert batch.cells == 0
        assert [one.severity for one in batch.problems] == ["file"]


@pytest.mark.parametrize("entity", ['"lol"', 'SYSTEM "file:///etc/hostname"'], ids=["laughs", "outside"])
def test_entities_of_an_open_document_are_never_expanded(tmp_path: Path, entity: str) -> None:
    (tmp_path / "lab.ods").write_bytes(packed(ods_parts([["Sample", "&e9;"]], doctype=laughs(entity))))
    batch = read([tmp_path / "lab.ods"], Settings())
    assert (batch.cells, [one.code for one in batch.problems]) == (0, ["xml-entities"])


@pytest.fixture
def no_network(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Any attempt to reach another machine fails the test."""

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a connection was attempted")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    yield


def test_references_to_outside_are_not_followed(screen_files: Callable[..., Outcome], tmp_path, no_network) -> None:
    kind = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/externalLink"
    target = "https://example.invalid/lab.xlsx"
    related = PARTS["xl/_rels/workbook.xml.rels"].replace(
        b"</Relationships>", f'<Relationship Id="rId9" Type="{kind}" Target="{target}" TargetMode="External"/>'
        f"</Relationships>".encode()
    )  # fmt: skip
    formula = '<c r="PLACE"><f>[1]Other!A1</f><v>7.5</v></c>'
    sheet = sheet_xml([*ROWS, ["QE-9", "Lead", formula, "mg/kg dry"]])
    path = tmp_path / "lab.xlsx"
    path.write_bytes(packed({**xlsx_parts({"Results": sheet}), "xl/_rels/workbook.xml.rels": related}))
    run = screen_files([path], "--water", "fresh")
    assert run.one("results", sample="QE-9")["reported"] == "7.5"  # the stored value, not worked out again


def test_a_sheet_that_points_outside_the_package_is_not_opened(tmp_path: Path) -> None:
    (tmp_path / "secret.xml").write_text(SHEET.replace("QE-", "SECRET-"))
    related = PARTS["xl/_rels/workbook.xml.rels"].replace(b"worksheets/sheet1.xml", b"../../../secret.xml")
    (tmp_path / "lab.xlsx").write_bytes(packed({**PARTS, "xl/_rels/workbook.xml.rels": related}))
    batch = read([tmp_path / "lab.xlsx"], Settings())
    assert not any("SECRET" in str(text) for text in batch.ledger["text"].cat.categories)


def test_macros_are_never_run(screen_files: Callable[..., Outcome], tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsm"
    path.write_bytes(packed({**PARTS, "xl/vbaProject.bin": b'Sub Auto_Open()\nKill "*.*"\nEnd Sub' * 100}))
    run = screen_files([path], "--water", "fresh")
    assert (run.status, len(run.results)) == (0, 3)


def test_packages_within_packages_stay_shut(tmp_path: Path) -> None:
    inner = packed({"a.bin": b"\0" * 5_000_000})
    for _ in range(5):
        inner = packed({"inner.zip": inner})
    (tmp_path / "lab.xlsx").write_bytes(packed({**PARTS, "xl/embeddings/inner.zip": inner}))
    assert len(read([tmp_path / "lab.xlsx"], Settings()).results) == 3


ODD_NAMES = ["../../evil", "/etc/evil", "C:\\evil", "..", "<b>evil</b>", "=1+1", "\u202eevil",
             "x" * 5000]  # fmt: skip


@pytest.mark.parametrize("name", ODD_NAMES)
def test_a_sheet_may_be_called_anything(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "work"
    folder.mkdir()
    (folder / "lab.xlsx").write_bytes(packed(xlsx_parts({name: SHEET})))
    run = run_siltmark(
        "screen", folder / "lab.xlsx", "--out", folder / "out", "--water", "fresh", "--tables-only", out=folder / "out"
    )
    assert (run.status, len(run.results)) == (0, 3)
    assert sorted(one.name for one in tmp_path.rglob("*") if "evil" in one.name) == []
    assert sorted(one.name for one in folder.iterdir()) == ["lab.xlsx", "out"]


def test_a_member_that_points_outside_is_never_unpacked(tmp_path: Path) -> None:
    folder = tmp_path / "work"
    folder.mkdir()
    (folder / "lab.xlsx").write_bytes(packed({**PARTS, "../../evil.xml": b"<a/>", "/tmp/evil.xml": b"<a/>"}))
    assert len(read([folder / "lab.xlsx"], Settings()).results) == 3
    assert sorted(one.name for one in tmp_path.rglob("*")) == ["lab.xlsx", "work"]


def test_two_parts_of_one_name_are_refused(tmp_path: Path) -> None:
    """Which of them counts is another one for every reader."""
    path = tmp_path / "lab.xlsx"
    path.write_bytes(packed(PARTS))
    with zipfile.ZipFile(path, "a") as package:
        package.writestr("XL/worksheets/sheet1.xml", SHEET.replace("1.5", "9.5"))
    batch = read([path], Settings())
    assert len(batch.results) == 0
    assert ["same name" in one.message for one in batch.problems] == [True]


def test_two_sheets_of_one_name_are_refused(tmp_path: Path) -> None:
    parts = xlsx_parts({"Results": SHEET, "Other": SHEET.replace("QE-", "QF-")})
    parts["xl/workbook.xml"] = parts["xl/workbook.xml"].replace(b'"Other"', b'"Results"')
    (tmp_path / "lab.xlsx").write_bytes(packed(parts))
    batch = read([tmp_path / "lab.xlsx"], Settings())
    assert len(batch.results) == 0
    assert ["same name" in one.message for one in batch.problems] == [True]


def test_a_sheet_of_the_greatest_width(tmp_path: Path) -> None:
    head = ["Analyte", "Unit", *(f"QE-{number}" for number in range(16_382))]
    rows = [head, ["Lead", "mg/kg dry", *(1.5 for _ in head[2:])]]
    assert column_letter(len(head) - 1) == "XFD"
    (tmp_path / "lab.xlsx").write_bytes(packed(xlsx_parts({"Results": sheet_xml(rows)})))
    batch = read([tmp_path / "lab.xlsx"], Settings())
    assert batch.cells == sum(map(len, rows)) == batch.ledger["cells"].sum()
    assert len(batch.results) == 16_382


def test_a_cell_in_the_last_corner_is_refused_by_sheet(tmp_path: Path) -> None:
    corner = SHEET.replace("</sheetData>", '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>')
    (tmp_path / "lab.xlsx").write_bytes(packed(xlsx_parts({"Stray": corner, "Results": SHEET})))
    batch = read([tmp_path / "lab.xlsx"], Settings())
    assert ("sheet-too-large", "Stray") in [(one.code, one.sheet) for one in batch.problems]
    assert len(batch.results) == 3


def _stored(place: str) -> str:
    return f'<c r="{place}"><v>1</v></c>'


#: Rows whose cells reach further, or stand elsewhere, than a hasty look at the rows would tell.
MISPLACED = {
    "a cell in another row than it says": f'<row r="5">{_stored("XFD1048576")}</row>',
    "the reference not first": '<row r="1048576"><c s="1" r="XFD1048576"><v>1</v></c></row>',
    "a prefix": '<row r="1048576"><x:c r="XFD1048576"><x:v>1</x:v></x:c></row>',
    "the last row first": f'<row r="1048576">{_stored("XFD1048576")}</row><row r="5">{_stored("A5")}</row>',
    "a text without its type": '<row r="5"><c r="XFD1048576"><is><t>x</t></is></c></row>',
    "a row beyond the last": f'<row r="99999999">{_stored("A99999999")}</row>',
    "no reference in a row beyond the last": '<row r="99999999"><c><v>1</v></c></row>',
}


@pytest.mark.parametrize("name", MISPLACED)
def test_a_cell_that_reaches_further_than_its_row_tells(tmp_path: Path, name: str) -> None:
    """The reader library asks for memory for the whole rectangle, and ends the process where it gets none."""
    sheet = SHEET.replace("</sheetData>", MISPLACED[name] + "</sheetData>")
    (tmp_path / "lab.xlsx").write_bytes(packed(xlsx_parts({"Results": sheet})))
    ended = run_child("screen", "lab.xlsx", "--out", "out", folder=tmp_path)
    assert (ended.status, "Traceback" in ended.stderr) == (1, False), ended.stderr
    assert "not read: lab.xlsx" in ended.stderr
    assert ended.megabytes < MEGABYTES


@pytest.mark.parametrize("apart", ["", " " * 5_000_000], ids=["together", "apart"])
@pytest.mark.parametrize(("before", "after"), [("<sheetData>", "</sheetData>"), ("", "")], ids=["second", "none"])
def test_cells_outside_the_table_are_not_lost(tmp_path: Path, before: str, after: str, apart: str) -> None:
    """The reader library passes over them without a word."""
    more = f'</sheetData>{apart}{before}<row r="9">{_stored("A9")}</row>{after}'
    (tmp_path / "lab.xlsx").write_bytes(packed(xlsx_parts({"Results": SHEET.replace("</sheetData>", more)})))
    batch = read([tmp_path / "lab.xlsx"], Settings())
    assert (batch.cells, [one.severity for one in batch.problems]) == (0, ["file"])


def test_a_cell_of_an_unknown_type_is_not_lost(tmp_path: Path) -> None:
    parts = ods_parts([[str(one) for one in row] for row in ROWS])
    parts["content.xml"] = parts["content.xml"].replace(b'"string"', b'"words"', 1)
    (tmp_path / "lab.ods").write_bytes(packed(parts))
    batch = read([tmp_path / "lab.ods"], Settings())
    assert (batch.cells, [one.severity for one in batch.problems]) == (0, ["file"])


def test_a_cell_in_the_last_row_is_read(tmp_path: Path) -> None:
    last = SHEET.replace("</sheetData>", '<row r="1048576"><c r="A1048576"><v>1</v></c></row></sheetData>')
    (tmp_path / "lab.xlsx").write_bytes(packed(xlsx_parts({"Results": last})))
    batch = read([tmp_path / "lab.xlsx"], Settings())
    assert batch.cells == batch.ledger["cells"].sum() == 17
    assert len(batch.results) == 3


def test_names_of_32000_characters(screen_csv: Callable[..., Outcome]) -> None:
    long = "x" * 32_000
    rows = [[long, "Lead", "5", "mg/kg dry"], ["QE-1", long, "5", "mg/kg dry"], ["QE-1", "Lead", "5", long],
            ["QE-2", "Lead", long, "mg/kg dry"], ["QE-3", "Zinc", "5", "mg/kg dry"]]  # fmt: skip
    run = screen_csv(rows, header=HEAD, full=True)
    assert run.status == 0
    assert [row["substance"] for row in run.rows("results")] == ["Lead", "Zinc"]
    assert max(map(len, run.stderr.splitlines())) < 1000, "a message as long as a book"


def test_nul_in_a_text_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "lab.csv").write_bytes(b"Sample,Analyte,Result,Unit\nQE-1,Lead,5\x00,mg/kg dry\n")
    assert [one.code for one in read([tmp_path / "lab.csv"], Settings()).problems] == ["nul-characters"]
