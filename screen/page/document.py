"""The settings of a batch as a document: TOML text in, plain tables out, and back to the text that is shown.

The text is the whole state of a batch beside its files. The command line takes it as it stands.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from screen.page.folder import Batch, write_whole
from screen.settings import SettingsError, load_settings

__all__ = ["Document", "check_text", "document_text", "load_document", "save_document", "save_text"]

Document = dict[str, Any]
_HEAD = (
    "# Settings of one batch. The command line takes them too:\n"
    "# siltmark screen SHEET... --settings THIS_FILE --out DIR\n"
)
#: What the page decides itself, or what would leave the machine.
_NOT_HERE = {
    "overwrite": "each run has a folder of its own here",
    "resume": "each run has a folder of its own here",
    "cluster": "nothing leaves this machine here",
    "tables-only": "the page shows the report",
}


def load_document(batch: Batch) -> Document:
    """The settings of a batch as plain tables. Raises SettingsError for a text that is no TOML."""
    return _parsed(batch.settings.read_text(encoding="utf-8"))


def _parsed(text: str) -> Document:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError(f"settings.toml is not valid TOML: {error}.") from error


def save_document(batch: Batch, document: Document) -> None:
    """Write the settings of a batch, with its field records named in them; raises SettingsError for a bad one."""
    records = [f"field/{one.name}" for one in batch.files("field")]
    kept = {key: value for key, value in document.items() if key != "field"}
    save_text(batch, document_text({**({"field": records} if records else {}), **kept}))


def save_text(batch: Batch, text: str) -> None:
    """Write the settings of a batch as they stand; raises SettingsError for a text that the command would refuse."""
    check_text(batch, text)
    write_whole(batch.settings, text)


def check_text(batch: Batch, text: str) -> None:
    """Raise SettingsError, in the command's words, for a text that it would refuse."""
    document = _parsed(text)
    for key, why in _NOT_HERE.items():
        if key in document:
            raise SettingsError(f"{key} is for the command line only: {why}. Take the line out.")
    work = batch.folder / ".settings.toml.check"
    try:
        write_whole(work, text)
        settings = load_settings(work, {})
    finally:
        work.unlink(missing_ok=True)
    single = [one for one in (settings.earlier, settings.names, settings.boundary) if one is not None]
    for path in (*settings.field, *single):
        if not path.exists():
            raise SettingsError(
                f"{_below(path, batch.folder)}, which the settings name, does not exist. Mend the path or leave it out."
            )


def _below(path: Path, folder: Path) -> str:
    return path.relative_to(folder).as_posix() if path.is_relative_to(folder) else path.name


def document_text(document: Mapping[str, Any]) -> str:
    """The tables as TOML: single values, then tables, then the answers, each in the order given."""
    single = {key: value for key, value in document.items() if not isinstance(value, Mapping) and key != "answers"}
    tables = {f"[{_key(key)}]": table for key, table in document.items() if isinstance(table, Mapping) and table}
    parts = [_HEAD + _lines(single), *(f"{head}\n{_lines(table)}" for head, table in tables.items())]
    return "\n".join([*parts, *(f"[[answers]]\n{_lines(answer)}" for answer in document.get("answers", ()))])


def _lines(table: Mapping[str, Any]) -> str:
    return "".join(f"{_key(key)} = {_value(value)}\n" for key, value in table.items())


def _key(name: str) -> str:
    return name if _bare(name) else _text(name)


def _bare(name: str) -> bool:
    return bool(name) and all(one.isascii() and (one.isalnum() or one in "-_") for one in name)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ", ".join(map(_value, value)) + "]"
    return _text(value if isinstance(value, str) else str(value))


def _text(text: str) -> str:
    """A basic string: what JSON writes is one, but for the sign that JSON leaves as it is."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
