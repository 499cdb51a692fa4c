"""What the package of an .xlsx says and the value reader does not: bytes of a zip in, facts about each sheet out.

Hidden rows and columns, error cells, formulas without a stored value, number formats that show other than what is
stored, struck-out cells, the date system, and how far each sheet reaches. The sheet's XML is streamed and searched as
bytes; it is parsed only where that search finds something to look at. XML with a DOCTYPE is refused unread.
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import IO
from xml.etree import ElementTree
from xml.parsers import expat

from screen.letters import column_number
from screen.stages.read.cells.extent import Extent, UnusualError
from screen.stages.read.cells.unreadable import UnreadableError

__all__ = [
    "LIMITS",
    "PackageError",
    "PackageLimits",
    "SheetFacts",
    "check_package",
    "plain_parser",
    "sheet_facts",
    "shown_text",
]


@dataclass(frozen=True, slots=True)
class PackageLimits:
    """The bounds within which a spreadsheet is opened at all; a real sheet of a million rows stays far inside.

    A package unpacking to more than ``unpacked`` bytes is refused, and one above ``unpacked_small`` whose ratio
    exceeds ``ratio``. ``tree`` bounds a part that is held whole (styles, relations, the list of sheets). ``cells``
    bounds the rectangle from A1 to the last filled row and column.
    """

    unpacked: int = 3_000_000_000
    unpacked_small: int = 50_000_000
    ratio: float = 100.0
    tree: int = 16_000_000
    cells: int = 60_000_000
    members: int = 10_000


LIMITS = PackageLimits()
_CHUNK = 1 << 22
#: Bytes without the start of a cell, row or column, above which a sheet is not searched any more.
_LONGEST_REST = 1 << 24
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_STRICT = "{http://purl.oclc.org/ooxml/spreadsheetml/main}"


class PackageError(UnreadableError):
    """A package that must not or cannot be opened."""


@dataclass(slots=True)
class SheetFacts:
    """Rows and columns count from 0. ``errors`` and ``no_value`` map (row, column) to a text."""

    last_row: int = -1
    last_column: int = -1
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    no_value: dict[tuple[int, int], str] = field(default_factory=dict)
    formats: dict[tuple[int, int], str] = field(default_factory=dict)
    struck: tuple[int, int] | None = None


def check_package(package: zipfile.ZipFile, packed: int) -> None:
    """Raise PackageError if the directory promises more than the bounds, or a part is locked."""
    members = package.infolist()
    unpacked = sum(member.file_size for member in members)
    if len(members) > LIMITS.members:
        raise PackageError("too-large", f"it holds {len(members):,} parts, which no laboratory's workbook does.")
    if unpacked > LIMITS.unpacked or (unpacked > LIMITS.unpacked_small and unpacked > LIMITS.ratio * max(packed, 1)):
        raise PackageError("too-large", f"it would unpack from {packed:,} to {unpacked:,} bytes; it was not opened.")
    if len({member.filename.replace("\\", "/").casefold() for member in members}) < len(members):
        raise PackageError("cut-off", "two of its parts have the same name, so it is not clear which counts.")
    if any(member.flag_bits & 1 for member in members):
        raise PackageError("locked", "it is locked with a password.")
    for member in members:
        if member.filename.endswith((".xml", ".rels")):
            next(chunks(package, member.filename), b"")


def chunks(package: zipfile.ZipFile, member: str) -> Iterator[bytes]:
    """The unpacked bytes of one part, counted against what the directory promised, without any DOCTYPE."""
    promised = package.getinfo(member).file_size
    seen = 0
    with package.open(member) as stream:
        for chunk in _pieces(stream):
            if not seen and (b"<!DOCTYPE" in chunk or b"<!ENTITY" in chunk or chunk[:2] in (b"\xff\xfe", b"\xfe\xff")):
                raise PackageError("xml-entities", f"its part {member} declares a document type or is not UTF-8.")
            seen += len(chunk)
            if seen > promised:
                raise PackageError("too-large", f"its part {member} is larger than the directory says.")
            yield chunk


def _pieces(stream: IO[bytes]) -> Iterator[bytes]:
    while chunk := stream.read(_CHUNK):
        yield chunk


def plain_parser() -> expat.XMLParserType:
    """A parser that stops at a document type, in whatever encoding and wherever that stands."""
    parser = expat.ParserCreate(namespace_separator="}")
    parser.StartDoctypeDeclHandler = _refuse_doctype
    return parser


def _refuse_doctype(*_: object) -> None:
    raise PackageError("xml-entities", "one of its parts declares a document type.")


class _PlainTree(ElementTree.TreeBuilder):
    """Builds the tree of a part without a document type."""

    def doctype(self, name: str, pubid: str | None, system: str | None) -> None:
        """Refuse it."""
        _refuse_doctype()


def _tree(package: zipfile.ZipFile, member: str) -> ElementTree.Element | None:
    if member not in package.namelist():
        return None
    if package.getinfo(member).file_size > LIMITS.tree:
        raise PackageError("too-large", f"its part {member} is larger than that of any laboratory's workbook.")
    parser = ElementTree.XMLParser(target=_PlainTree())
    try:
        for chunk in chunks(package, member):
            parser.feed(chunk)
        return parser.close()
    except (ElementTree.ParseError, LookupError, ValueError) as error:
        raise PackageError("cut-off", f"its part {member} is damaged ({error}).") from error


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def sheet_facts(package: zipfile.ZipFile) -> tuple[dict[str, SheetFacts], bool]:
    """The facts of each sheet by its name, and whether the workbook counts dates from 1904."""
    main = _main_part(package)
    workbook = _tree(package, main)
    if workbook is None:
        raise PackageError("not-a-sheet", "it holds no workbook.")
    folder = posixpath.dirname(main)
    targets: dict[str, str] = {}
    relations = _tree(package, posixpath.join(folder, "_rels", posixpath.basename(main) + ".rels"))
    for relation in relations if relations is not None else ():
        if relation.get("TargetMode") != "External":
            target = relation.get("Target", "")
            path = target.lstrip("/") if target.startswith("/") else posixpath.join(folder, target)
            targets[relation.get("Id", "")] = posixpath.normpath(path)
    formats, struck = _styles(package, posixpath.join(folder, "styles.xml"))
    names = set(package.namelist())
    facts: dict[str, SheetFacts] = {}
    dates_1904 = False
    for element in workbook.iter():
        tag = _local(element.tag)
        if tag == "workbookPr":
            dates_1904 = element.get("date1904", "0") in ("1", "true")
        elif tag == "sheet":
            relation_id = next((value for key, value in element.items() if _local(key) == "id"), "")
            member = targets.get(relation_id, "")
            name = element.get("name", "")
            if name in facts:
                raise PackageError("cut-off", "two of its sheets have the same name.")
            if member in names:
                facts[name] = _one_sheet(package, member, formats, struck)
    return facts, dates_1904


def _main_part(package: zipfile.ZipFile) -> str:
    relations = _tree(package, "_rels/.rels")
    for relation in relations if relations is not None else ():
        if relation.get("Type", "").endswith("/officeDocument"):
            return relation.get("Target", "").lstrip("/")
    return "xl/workbook.xml"


def _styles(package: zipfile.ZipFile, member: str) -> tuple[dict[str, str], set[str]]:
    """Of the cell styles (by number, as text): the formats that show other than stored, and the struck-out ones."""
    root = _tree(package, member)
    if root is None:
        return {}, set()
    codes = {"9": "0%", "10": "0.00%"}
    fonts: list[bool] = []
    formats: dict[str, str] = {}
    struck: set[str] = set()
    for block in root:
        tag = _local(block.tag)
        if tag == "numFmts":
            codes |= {one.get("numFmtId", ""): one.get("formatCode", "") for one in block}
        elif tag == "fonts":
            fonts = [
                any(_local(part.tag) == "strike" and part.get("val", "1") not in ("0", "false") for part in one)
                for one in block
            ]
        elif tag == "cellXfs":
            for number, one in enumerate(block):
                code = codes.get(one.get("numFmtId", ""), "")
                if shown_text(code, 1.0):
                    formats[str(number)] = code
                font = int(one.get("fontId", "0"))
                if font < len(fonts) and fonts[font]:
                    struck.add(str(number))
    return formats, struck


_PADDED = re.compile(r'((?:"[^"]*"|\\.|[- ])*)(0+)((?:"[^"]*"|\\.|[- ])*)')
_PERCENT = re.compile(r"[#,]*0(?:\.(0+))?[ \xa0]*%")


def shown_text(code: str, number: float) -> str:
    """What a number format shows, where it reads differently from what is stored; "" for all other formats.

    ``0000`` shows 0042 for 42, ``"QE-"00`` shows QE-07 for 7, ``0.0%`` shows 2.1% for 0.021.
    """
    first = code.split(";")[0]
    padded = _PADDED.fullmatch(first)
    if padded and (len(padded[2]) > 1 or padded[1].strip() or padded[3].strip()):
        if number != int(number) or number < 0:
            return ""
        before, after = (re.sub(r'"([^"]*)"|\\(.)', r"\1\2", part) for part in (padded[1], padded[3]))
        return f"{before}{int(number):0{len(padded[2])}d}{after}"
    percent = _PERCENT.fullmatch(first)
    if percent:
        return f"{number * 100:.{len(percent[1] or '')}f}%"
    return ""


def _one_sheet(package: zipfile.ZipFile, member: str, formats: dict[str, str], struck: set[str]) -> SheetFacts:
    """The facts of one sheet: its bytes are searched, and the cells, rows and columns that matter are parsed.

    The extent is an upper bound then. A sheet that is not written as programs write sheets is parsed whole, and so is
    one that may reach too far.
    """
    try:
        facts = _searched_sheet(package, member, _SheetReader(formats, struck, in_part=True))
    except (UnusualError, expat.ExpatError):
        return _parsed_sheet(package, member, _SheetReader(formats, struck))
    if (facts.last_row + 1) * (facts.last_column + 1) > LIMITS.cells:
        return _parsed_sheet(package, member, _SheetReader(formats, struck))
    return facts


def _searched_sheet(package: zipfile.ZipFile, member: str, reader: _SheetReader) -> SheetFacts:
    marks = [_FORMULA, b't="e"', _HIDDEN]  # the first of formulas that share one always has its text
    marks += [b's="%s"' % number.encode() for number in (*reader.formats, *reader.struck)]
    extent, tail = Extent(), b""
    for chunk in chunks(package, member):
        text = tail + chunk
        if not tail:
            reader.parser.Parse(_head(text), False)
        if any(mark in text for mark in marks):
            reader.parser.Parse(_marked(text, marks), False)
        last = max(text.rfind(b"<"), 0)
        extent.take(text[:last])
        begun = max(text.rfind(tag) for tag in (b"<c ", b"<row ", b"<col "))
        tail = text[begun if begun > 0 else last :]
        if len(tail) > _LONGEST_REST:
            raise UnusualError
    extent.take(tail)
    reader.parser.Parse(b"</worksheet>", True)
    facts = reader.facts
    facts.last_row, facts.last_column = extent.rows - 1, extent.columns - 1
    return facts


_FORMULA, _HIDDEN = b"</f>", b"hidden="


def _head(text: bytes) -> bytes:
    """The start of a sheet to the end of its first tag, which names the namespaces."""
    start = text.find(b"<worksheet")
    end = text.find(b">", start)
    if start < 0 or end < 0 or text[end - 1 : end] == b"/" or b"='" in text or b"<c>" in text:
        raise UnusualError
    return text[: end + 1]


def _marked(text: bytes, marks: Sequence[bytes]) -> bytes:
    """The cells, and the tags of the rows and columns, that the marks stand in, in their order.

    What is only begun at the end is left: it comes again with the next chunk.
    """
    if b"<!" in text:
        raise UnusualError
    found: dict[int, bytes] = {}
    for mark in marks:
        at = text.find(mark)
        while at >= 0:
            start = text.rfind(b"<c " if mark is _FORMULA else b"<", 0, at)
            end = text.find(b">", at) + 1
            if start < 0:
                raise UnusualError
            if text.startswith(b"<c ", start):
                if end and (mark is _FORMULA or text[end - 2 : end - 1] != b"/"):
                    closing = text.find(b"</c>", at)
                    end = 0 if closing < 0 else closing + len(b"</c>")
                found[start] = text[start:end]
            elif mark is _HIDDEN and text.startswith((b"<row ", b"<col "), start):
                found[start] = text[start : end - 1].rstrip(b"/") + b"/>" if end else b""
            if not start and not end:
                raise UnusualError
            at = text.find(mark, at + len(mark))
    return b"".join(found[start] for start in sorted(found))


def _parsed_sheet(package: zipfile.ZipFile, member: str, reader: _SheetReader) -> SheetFacts:
    try:
        for chunk in chunks(package, member):
            reader.parser.Parse(chunk, False)
        reader.parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise PackageError("cut-off", f"its part {member} is damaged ({error}).") from error
    return reader.facts


class _SheetReader:
    """The handlers of one pass over a sheet's XML, or over parts of it, which must say their places themselves."""

    def __init__(self, formats: dict[str, str], struck: set[str], *, in_part: bool = False) -> None:
        self.facts = SheetFacts()
        self.formats = formats
        self.struck = struck
        self.in_part = in_part
        self.row = -1
        self.column = -1
        self.tables = 0
        self.inside = in_part
        self.filled = False
        self.kind = ""
        self.formula: str | None = None
        self.value: str | None = None
        self.texts: list[str] = []
        self.parser = plain_parser()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end

    def start(self, name: str, attributes: dict[str, str]) -> None:
        tag = name.rpartition("}")[2]
        if tag == "c":
            self._start_cell(attributes)
        elif tag == "is":
            self.filled = True
        elif tag == "sheetData":
            self.tables += 1
            self.inside = self.tables == 1
        elif tag == "row":
            if self.in_part and "r" not in attributes:
                raise UnusualError
            self.row = int(attributes["r"]) - 1 if "r" in attributes else self.row + 1
            self.column = -1
            if attributes.get("hidden") in ("1", "true"):
                self.facts.hidden_rows.add(self.row)
        elif tag in ("f", "v"):
            self.filled = True
            self.texts = []
            self.parser.CharacterDataHandler = self.texts.append
        elif tag == "col" and attributes.get("hidden") in ("1", "true"):
            last = min(int(attributes["max"]), 16384)
            self.facts.hidden_columns.update(range(int(attributes["min"]) - 1, last))

    def _start_cell(self, attributes: dict[str, str]) -> None:
        if not self.inside:
            raise PackageError("cut-off", "one of its sheets has cells outside its table.")
        reference = attributes.get("r", "")
        letters = reference.rstrip("0123456789")
        if self.in_part and (not letters or letters == reference):
            raise UnusualError
        if reference:  # a cell's own place counts, wherever its row says that it stands
            self.column = column_number(letters)
            self.row = int(reference[len(letters) :]) - 1
        else:
            self.column += 1
        self.filled = False
        self.kind = attributes.get("t", "n")
        self.formula = self.value = None
        style = attributes.get("s", "")
        if style in self.formats:
            self.facts.formats[self.row, self.column] = self.formats[style]
        if style in self.struck and self.facts.struck is None:
            self.facts.struck = (self.row, self.column)

    def end(self, name: str) -> None:
        tag = name.rpartition("}")[2]
        if tag == "f":
            self.formula = "".join(self.texts)
            self.parser.CharacterDataHandler = None
        elif tag == "v":
            self.value = "".join(self.texts)
            self.parser.CharacterDataHandler = None
        elif tag == "c":
            self._end_cell()
        elif tag == "sheetData":
            self.inside = False

    def _end_cell(self) -> None:
        place = (self.row, self.column)
        if self.kind == "e":
            self.facts.errors[place] = self.value or "#ERROR!"
        elif self.formula is not None and not self.value and self.kind != "str":
            self.facts.no_value[place] = "=" + self.formula
        elif not self.filled:
            self.facts.formats.pop(place, None)
            return
        if self.kind != "n":
            self.facts.formats.pop(place, None)
        self.facts.last_row = max(self.facts.last_row, self.row)
        self.facts.last_column = max(self.facts.last_column, self.column)
