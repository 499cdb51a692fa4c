"""What an old binary workbook (.xls) says and the value reader does not: its bytes in, facts about each sheet out.

Record layouts after the published specification of the format ([MS-XLS], [MS-CFB]), from memory.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from screen.stages.read.cells.package_xml import PackageError, SheetFacts

__all__ = ["binary_facts"]

_END_OF_CHAIN = 0xFFFFFFF0
_ERRORS = {0: "#NULL!", 7: "#DIV/0!", 15: "#VALUE!", 23: "#REF!", 29: "#NAME?", 36: "#NUM!", 42: "#N/A"}
_END, _FORMULA, _DATE_MODE, _COLUMNS, _SHEET, _ERROR_CELL, _ROW = 0x0A, 0x06, 0x22, 0x7D, 0x85, 0x205, 0x208
#: Records of cells, all of which begin with row and column: formula, number, labels, multiples, blanks, RK numbers.
_CELLS = frozenset((0x06, 0xBD, 0xBE, 0xD6, 0xFD, 0x201, 0x203, 0x204, 0x205, 0x27E))


def binary_facts(content: bytes) -> tuple[dict[str, SheetFacts], bool]:
    """The facts of each sheet by its name, and whether the workbook counts dates from 1904.

    Extents are left open: the format has no more than 65,536 rows and 256 columns.
    """
    try:
        stream = _workbook_stream(content)
        sheets: list[tuple[int, str]] = []
        dates_1904 = False
        for kind, record in _records(stream, 0):
            if kind == _SHEET:
                start, length, wide = struct.unpack_from("<I2xBB", record)
                text = record[8 : 8 + length * (2 if wide else 1)]
                sheets.append((start, text.decode("utf-16-le" if wide else "latin-1")))
            elif kind == _DATE_MODE:
                dates_1904 = record[:1] == b"\x01"
        return {name: _sheet(stream, start) for start, name in sheets}, dates_1904
    except (struct.error, IndexError, UnicodeDecodeError) as error:
        raise PackageError("cut-off", "the file is damaged or cut off.") from error


def _sheet(stream: bytes, start: int) -> SheetFacts:
    facts = SheetFacts()
    for kind, record in _records(stream, start):
        if kind in _CELLS and struct.unpack_from("<HH", record)[1] > 255:
            raise PackageError("cut-off", "the file is damaged: a cell stands far outside of any sheet.")
        if kind == _FORMULA and record[12:14] == b"\xff\xff" and record[6] in (2, 3):
            row, column = struct.unpack_from("<HH", record)
            if record[6] == 2:
                facts.errors[row, column] = _ERRORS.get(record[8], "#ERROR!")
            else:  # an empty text, or never calculated: the format does not tell them apart
                facts.no_value[row, column] = "=?"
        elif kind == _ERROR_CELL and record[7] == 1:
            row, column = struct.unpack_from("<HH", record)
            facts.errors[row, column] = _ERRORS.get(record[6], "#ERROR!")
        elif kind == _ROW and record[12] & 0x20:
            facts.hidden_rows.add(struct.unpack_from("<H", record)[0])
        elif kind == _COLUMNS and record[8] & 1:
            first, last = struct.unpack_from("<HH", record)
            facts.hidden_columns.update(range(first, min(last, 255) + 1))
    return facts


def _records(stream: bytes, start: int) -> Iterator[tuple[int, bytes]]:
    """The records of one part of the stream, up to its end record."""
    while start + 4 <= len(stream):
        kind, length = struct.unpack_from("<HH", stream, start)
        if kind == _END:
            return
        yield kind, stream[start + 4 : start + 4 + length]
        start += 4 + length


def _workbook_stream(content: bytes) -> bytes:
    """The stream named Workbook (or Book) out of the compound file."""
    size = 1 << struct.unpack_from("<H", content, 30)[0]
    if size not in (512, 4096):
        raise PackageError("cut-off", "the file is damaged or cut off.")
    directory_start, small_below, small_table = struct.unpack_from("<I4xII", content, 48)
    table_sectors = [sector for sector in struct.unpack_from("<109I", content, 76) if sector < _END_OF_CHAIN]
    next_list = struct.unpack_from("<I", content, 68)[0]
    while next_list < _END_OF_CHAIN and len(table_sectors) * size < len(content):
        more = _numbers(content[(next_list + 1) * size : (next_list + 2) * size])
        table_sectors += [sector for sector in more[:-1] if sector < _END_OF_CHAIN]
        next_list = more[-1]
    table = [
        number for sector in table_sectors for number in _numbers(content[(sector + 1) * size : (sector + 2) * size])
    ]
    directory = _chain(content, table, directory_start, size, size)
    entries = [directory[place : place + 128] for place in range(0, len(directory) - 127, 128)]
    found = {_name(entry): struct.unpack_from("<II", entry, 116) for entry in entries}
    for name in ("Workbook", "Book"):
        if name in found:
            start, length = found[name]
            if length >= small_below:
                return _chain(content, table, start, size, size)[:length]
            container = _chain(content, table, found["Root Entry"][0], size, size) if "Root Entry" in found else b""
            small = _numbers(_chain(content, table, small_table, size, size))
            return _chain(container, small, start, 64, 0)[:length]
    raise PackageError("not-a-sheet", "it is an old office document without a sheet in it.")


def _name(entry: bytes) -> str:
    length = min(struct.unpack_from("<H", entry, 64)[0], 64)
    return entry[: max(length - 2, 0)].decode("utf-16-le", "replace")


def _numbers(block: bytes) -> list[int]:
    return list(struct.unpack(f"<{len(block) // 4}I", block[: len(block) // 4 * 4]))


def _chain(content: bytes, table: list[int], sector: int, size: int, offset: int) -> bytes:
    """The sectors of a chain, one after another; a chain that bites its own tail ends with the table's length."""
    parts: list[bytes] = []
    while sector < _END_OF_CHAIN and len(parts) <= len(table):
        parts.append(content[offset + sector * size : offset + (sector + 1) * size])
        sector = table[sector] if sector < len(table) else _END_OF_CHAIN
    return b"".join(parts)
