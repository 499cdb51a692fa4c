"""What the package of an .ods says and the value reader does not: an open zip in, facts about each sheet out."""

from __future__ import annotations

import zipfile
from xml.parsers import expat

from screen.stages.read.cells.package_xml import PackageError, SheetFacts, chunks, plain_parser

__all__ = ["opendocument_facts"]

_TABLE = "urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_CALC_EXT = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}"
_TEXT = "urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_HIDDEN = ("collapse", "filter")
#: The types of a cell (OpenDocument 1.2, part 1, 19.385); the reader library takes any other one for an empty cell.
_TYPES = {None, "float", "percentage", "currency", "date", "time", "boolean", "string", "void"}


def opendocument_facts(package: zipfile.ZipFile) -> dict[str, SheetFacts]:
    """The facts of each sheet by its name: extent, hidden rows and columns, error cells."""
    reader = _ContentReader()
    try:
        for chunk in chunks(package, "content.xml"):
            reader.parser.Parse(chunk, False)
        reader.parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise PackageError("cut-off", f"its part content.xml is damaged ({error}).") from error
    return reader.sheets


class _ContentReader:
    """The handlers of one pass over content.xml. Runs of equal rows and cells are written once, with a count."""

    def __init__(self) -> None:
        self.sheets: dict[str, SheetFacts] = {}
        self.facts = SheetFacts()
        self.row = self.column = self.row_run = self.cell_run = 0
        self.error = False
        self.texts: list[str] = []
        self.parser = plain_parser()
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name in (_TABLE + "table-cell", _TABLE + "covered-table-cell"):
            self.cell_run = int(attributes.get(_TABLE + "number-columns-repeated", "1"))
            self.error = attributes.get(_CALC_EXT + "value-type") == "error"
            kind = attributes.get(_OFFICE + "value-type")
            if kind not in _TYPES:
                raise PackageError("cut-off", f"one of its cells is of an unknown type ({kind}).")
            if kind is not None:
                self.facts.last_row = max(self.facts.last_row, self.row + self.row_run - 1)
                self.facts.last_column = max(self.facts.last_column, self.column + self.cell_run - 1)
            self.texts = []
        elif name == _TEXT + "p" and self.error:
            self.parser.CharacterDataHandler = self.texts.append
        elif name == _TABLE + "table-row":
            self.column = 0
            self.row_run = int(attributes.get(_TABLE + "number-rows-repeated", "1"))
            if attributes.get(_TABLE + "visibility") in _HIDDEN and self.row_run < 1_000_000:
                self.facts.hidden_rows.update(range(self.row, self.row + self.row_run))
        elif name == _TABLE + "table-column":
            run = int(attributes.get(_TABLE + "number-columns-repeated", "1"))
            if attributes.get(_TABLE + "visibility") in _HIDDEN and run <= 16384:
                self.facts.hidden_columns.update(range(self.column, self.column + run))
            self.column += run
        elif name == _TABLE + "table":
            self.facts = self.sheets.setdefault(attributes.get(_TABLE + "name", ""), SheetFacts())
            self.row = self.column = 0

    def end(self, name: str) -> None:
        if name in (_TABLE + "table-cell", _TABLE + "covered-table-cell"):
            if self.error and self.cell_run * self.row_run < 1000:
                text = "".join(self.texts) or "#ERROR!"
                for row in range(self.row, self.row + self.row_run):
                    for column in range(self.column, self.column + self.cell_run):
                        self.facts.errors[row, column] = text
            self.column += self.cell_run
        elif name == _TABLE + "table-row":
            self.row += self.row_run
        elif name == _TEXT + "p":
            self.parser.CharacterDataHandler = None
