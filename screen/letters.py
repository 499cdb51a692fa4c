"""The letters by which a spreadsheet names its columns."""

from __future__ import annotations

__all__ = ["column_letter", "column_number"]


def column_letter(column: int) -> str:
    """The spreadsheet's name of a column that counts from 0: 0 is A, 26 is AA."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def column_number(letters: str) -> int:
    """The place of a column, from 0, by its letters (A is 0, AA is 26); -1 for what are no letters."""
    number = 0
    for one in letters.strip().upper():
        if not "A" <= one <= "Z":
            return -1
        number = number * 26 + ord(one) - 64
    return number - 1
