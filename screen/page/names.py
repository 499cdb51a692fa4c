"""Names of files and batches that come from outside. In: any text. Out: a name that is fit for any file system."""

from __future__ import annotations

import re
import unicodedata

__all__ = ["plain_name"]

_LONGEST_BYTES = 120
_FORBIDDEN = '<>:"/\\|?*'
#: Names that some systems keep for devices.
_DEVICES = {"con", "prn", "aux", "nul", *(f"{kind}{digit}" for kind in ("com", "lpt") for digit in range(1, 10))}


def plain_name(text: str) -> str:
    """The last part of ``text`` as a name: letters, digits and plain signs kept, the ending too; "" for nothing left.

    What is taken away: folders, control and direction characters, signs that a file system forbids, dots and blanks at
    either end, and what is over 120 bytes. A name kept for a device gets an underscore in front.
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", text))[-1]
    kept = "".join(one for one in last if one.isprintable() and one not in _FORBIDDEN)
    kept = " ".join(kept.split()).strip(". ")
    stem, dot, ending = kept.rpartition(".")
    if not dot or len(ending) > 10:
        stem, dot, ending = kept, "", ""
    room = _LONGEST_BYTES - len((dot + ending).encode())
    stem = stem.encode()[:room].decode(errors="ignore").strip(". ")
    if not stem:
        return ""
    name = stem + dot + ending
    return f"_{name}" if name.split(".")[0].strip().casefold() in _DEVICES else name
