"""How far a sheet of an .xlsx reaches: pieces of its XML in, a bound for its rows and columns out, not parsed."""

from __future__ import annotations

import re

from screen.letters import column_number

__all__ = ["Extent", "UnusualError"]

#: A cell whose reference is not its first attribute, or that stands right of column Z or below row 999,999.
_FAR = re.compile(rb'<c(?! r="[A-Z][0-9]{1,6}")(?![A-Za-z])')
#: A cell of which ``_WIDE`` or ``_DEEP`` would not see the place.
_ODD = re.compile(rb'<c(?! r="[A-Z]{1,3}[0-9]{1,7}")(?![A-Za-z])')
_WIDE = re.compile(rb'<c r="([A-Z]{2,3})[0-9]')
_DEEP = re.compile(rb'<c r="[A-Z]+([0-9]{5,})"')
_CELL = re.compile(rb"<c[\s/>]")
_PREFIXED = re.compile(rb":(?:c|sheetData)[\s/>]")


class UnusualError(Exception):
    """The bytes of a sheet cannot be searched with certainty."""


class Extent:
    """An upper bound of how far the cells of a sheet reach.

    The reader library asks for memory for the whole rectangle, so the place of every cell must have been seen: by its
    own reference, for that counts, wherever its row says that it stands.
    """

    def __init__(self) -> None:
        self.rows = 0
        self.columns = 26
        self.ended = False

    def take(self, text: bytes) -> None:
        """Take in the next piece, of whole tags. Raises UnusualError for a cell that only a parser can place."""
        before, end, after = text.partition(b"</sheetData")
        if _CELL.search(after if end else text if self.ended else b""):
            raise UnusualError
        self.ended = self.ended or bool(end)
        if b":" in text and _PREFIXED.search(text):
            raise UnusualError
        if not _FAR.search(before):
            self.rows = max(self.rows, 999_999 if _CELL.search(before) else 0)
            return
        if _ODD.search(before):
            raise UnusualError
        for letters in set(_WIDE.findall(before)):
            self.columns = max(self.columns, column_number(letters.decode()) + 1)
        self.rows = max(self.rows, 9_999, *map(int, set(_DEEP.findall(before))))
