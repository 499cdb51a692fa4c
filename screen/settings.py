"""The settings of a run: one frozen record, filled from a TOML file and the command line."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from screen.likeness import nearest

__all__ = ["CHOICES", "Answer", "Settings", "SettingsError", "load_settings"]

NONDETECT_RULES = ("stated", "zero", "half", "root2", "full", "km")
DUPLICATE_RULES = ("higher", "mean", "separate")
WATERS = ("fresh", "estuarine", "marine")
FAIL_ON = ("undetermined", "between", "above")


class SettingsError(ValueError):
    """A setting that is unknown or has a value that it cannot have. The text says which, and what it may be."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What a user says of one place in one file (``[[answers]]``), where the sheet itself does not settle it."""

    file: str
    sheet: str | None = None
    row: int | None = None
    column: str | None = None
    sample: str | None = None
    substance: str | None = None
    basis: str | None = None
    unit: str | None = None
    decimal: str | None = None
    dates: str | None = None
    read_as: str | None = None
    skip: bool | None = None
    because: str | None = None
    by: str | None = None


@dataclass(frozen=True, slots=True)
class Settings:
    """All that can be chosen for one run. Names are the contract's, with underscores."""

    # options of `screen`
    field: tuple[Path, ...] = ()
    guidelines: tuple[str, ...] = ()
    water: str | None = None
    nondetects: str = "stated"
    duplicates: str = "higher"
    basis: str | None = None
    unit: str | None = None
    earlier: Path | None = None
    title: str | None = None
    prepared_by: str | None = None
    memo_no: str | None = None
    date: str | None = None
    fail_on: str | None = None
    pdf: bool = False
    memo: bool = False
    tables_only: bool = False
    overwrite: bool = False
    resume: bool = False
    cluster: str | None = None
    # [reading]
    decimal: str | None = None
    dates: str | None = None
    limits: str = "reporting"
    conflicts: str = "refuse"
    zeros: str = "refuse"
    water_content: str | None = None
    soil: str | None = None
    blanks: str = "as-flagged"
    names: Path | None = None
    # [[answers]]
    answers: tuple[Answer, ...] = ()
    # [river]
    at: float | None = None
    boundary: Path | None = None
    # [cores]
    compaction: str = "none"
    cut: str | None = None
    # [indices]
    background: str | None = None
    # [output]
    tables: str = "csv"
    checked_by: str | None = None


#: The values that a setting may have, for those that have a list.
CHOICES: Mapping[str, Sequence[str]] = {
    "water": WATERS,
    "nondetects": NONDETECT_RULES,
    "duplicates": DUPLICATE_RULES,
    "basis": ("wet", "dry"),
    "fail_on": FAIL_ON,
    "decimal": ("point", "comma"),
    "dates": ("day-first", "month-first"),
    "limits": ("reporting", "detection"),
    "conflicts": ("refuse", "higher"),
    "zeros": ("refuse", "nondetect"),
    "water_content": ("use",),
    "soil": ("include",),
    "blanks": ("as-flagged", "five-ten"),
    "compaction": ("none", "linear"),
    "tables": ("csv", "parquet"),
}
_SECTIONS: Mapping[str, tuple[str, ...]] = {
    "reading": ("decimal", "dates", "limits", "conflicts", "zeros", "water_content", "soil", "blanks", "names"),
    "river": ("at", "boundary"),
    "cores": ("compaction", "cut"),
    "indices": ("background",),
    "output": ("tables", "checked_by"),
}
_PATHS = ("field", "earlier", "names", "boundary")
_LISTS = ("field", "guidelines")
_NUMBERS = ("at",)
_FLAGS = ("pdf", "memo", "tables_only", "overwrite", "resume", "skip")
_TOP = tuple(f.name for f in fields(Settings) if f.name not in {n for s in _SECTIONS.values() for n in s} | {"answers"})


def load_settings(path: Path | None, given: Mapping[str, Any]) -> Settings:
    """The settings of ``path`` (TOML) with what was ``given`` on the command line on top.

    ``given`` maps field names to values; missing, None, False and empty values leave the file's. Paths in the file
    are taken from the file's own folder. Raises SettingsError with a plain message for an unknown key (naming the
    nearest known one) or a value that the key cannot have.
    """
    values: dict[str, Any] = {}
    if path is not None:
        try:
            document = tomllib.loads(path.read_text(encoding="utf-8-sig"))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise SettingsError(f"{path.name} is not valid TOML: {error}.") from error
        values = _read_document(document, path)
    for name, value in given.items():
        if value not in (None, False, (), ""):
            values[name] = value
    for name, value in values.items():
        if name != "answers":
            _check_choice(name, value)
    return replace(Settings(), **values)


def _read_document(document: Mapping[str, Any], path: Path) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for key, value in document.items():
        name = key.replace("-", "_")
        if key == "answers":
            if not isinstance(value, list):
                raise SettingsError("answers: write each answer as a table of its own, under [[answers]].")
            values["answers"] = tuple(_read_answer(item, number) for number, item in enumerate(value, 1))
        elif key in _SECTIONS:
            if not isinstance(value, Mapping):
                raise SettingsError(f"{key}: write it as a table, under [{key}].")
            for inner, setting in value.items():
                inner_name = inner.replace("-", "_")
                if inner_name not in _SECTIONS[key] or "_" in inner:
                    raise SettingsError(_unknown(inner, _SECTIONS[key], f" in [{key}]"))
                values[inner_name] = _typed(inner_name, setting, path)
        elif name in _TOP and "_" not in key:
            values[name] = _typed(name, value, path)
        else:
            raise SettingsError(_unknown(key, (*_TOP, *_SECTIONS, "answers"), ""))
    return values


def _read_answer(item: Any, number: int) -> Answer:
    known = {f.name: f for f in fields(Answer)}
    if not isinstance(item, Mapping):
        raise SettingsError(f"answer {number}: write it as a table, under [[answers]].")
    for key in item:
        if key not in known:
            raise SettingsError(_unknown(key, tuple(known), f" in answer {number}"))
    if not item.get("file"):
        raise SettingsError(f'answer {number} names no file: add file = "...".')
    values = dict(item)
    for name in ("basis", "decimal", "dates"):
        if name in values:
            _check_choice(name, values[name])
    for name, value in values.items():
        wanted = {"row": int, "skip": bool}.get(name, str)
        if name in ("read_as", "sample") and isinstance(value, (int, float)) and not isinstance(value, bool):
            values[name] = str(value)
        elif not isinstance(value, wanted) or (wanted is int and isinstance(value, bool)):
            kind = {int: "a whole number", bool: "true or false", str: "a text in quotes"}[wanted]
            raise SettingsError(f"answer {number}: {name} must be {kind}.")
    return Answer(**values)


def _typed(name: str, value: Any, path: Path) -> Any:
    if name in _LISTS:
        items = value if isinstance(value, list) else [value]
        if not all(isinstance(item, str) for item in items):
            raise SettingsError(f"{name.replace('_', '-')}: a list of texts in quotes is needed.")
        if name == "guidelines":
            here = [str(path.parent / item) if item.endswith((".csv", ".toml")) else item for item in items]
            return tuple(here)
        return tuple(path.parent / item for item in items)
    shown = name.replace("_", "-")
    if name in _FLAGS:
        if not isinstance(value, bool):
            raise SettingsError(f"{shown}: true or false is needed.")
        return value
    if name in _NUMBERS:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise SettingsError(f"{shown}: a number is needed.")
        return float(value)
    if isinstance(value, bool) or (not isinstance(value, (str, int, float)) and not hasattr(value, "isoformat")):
        raise SettingsError(f"{shown}: a text in quotes is needed.")
    text = value if isinstance(value, str) else str(value)
    return path.parent / text if name in _PATHS else text


def _check_choice(name: str, value: Any) -> None:
    choices = CHOICES.get(name)
    if choices and value not in choices:
        raise SettingsError(f"{name.replace('_', '-')} = {value!r}: it must be {_either(choices)}.")


def _either(choices: Sequence[str]) -> str:
    return choices[0] if len(choices) == 1 else ", ".join(choices[:-1]) + " or " + choices[-1]


def _unknown(key: str, known: Sequence[str], where: str) -> str:
    shown = [name.replace("_", "-") if name not in ("read_as",) else name for name in known]
    near = nearest(key.replace("_", "-"), shown)
    hint = f" Did you mean {near[0]}?" if near else f" Known keys: {', '.join(sorted(shown))}."
    return f"unknown key {key!r}{where}.{hint}"
