"""Questions that only the user can answer, as choices. In: a question of ``siltmark read`` and what was chosen.

Out: the choices with nothing chosen, and the lines of the settings file that the chosen one stands for. Each question
carries the lines that would answer it; their place is kept as it is and only what they say is the user's to choose.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from screen.page.document import Document
from screen.settings import CHOICES, SettingsError

__all__ = ["Choice", "Question", "answered", "given_answers", "open_questions", "without_answer"]

#: The keys of an answer that name its place.
PLACE = ("file", "sheet", "row", "column", "sample", "substance")
_UNITS = ("mg/kg", "ug/kg", "ng/kg", "g/kg", "%")
_WORDS: Mapping[tuple[str, str], str] = {
    ("basis", "dry"): "Dry weight",
    ("basis", "wet"): "Wet weight (as received)",
    ("decimal", "point"): "A decimal point: 1,234 is one thousand two hundred and thirty-four",
    ("decimal", "comma"): "A decimal comma: 1,234 is a little more than one",
    ("dates", "day-first"): "The day first: 03/04 is the third of April",
    ("dates", "month-first"): "The month first: 03/04 is the fourth of March",
    ("zeros", "refuse"): "Leave these cells out",
    ("zeros", "nondetect"): "Not detected, at the limit that the row states",
    ("soil", "include"): "Count it as sediment",
    ("conflicts", "refuse"): "Leave both out",
    ("conflicts", "higher"): "Take the higher one",
    ("water-content", "use"): "Take it as the moisture",
    ("read_as", "NA"): "Not reported: leave the cell without a figure",
}
_TYPED = {
    "unit": "Another unit, as the laboratory writes it",
    "read_as": "It should read",
}
#: What an answer speaks of, in words.
_KEYS = {
    "basis": "basis",
    "unit": "unit",
    "decimal": "decimal mark",
    "dates": "dates",
    "read_as": "read as",
    "zeros": "a bare 0",
    "soil": "bank soil",
    "conflicts": "two different results",
    "water-content": "a water figure over dry mass",
}
_NAMES = ("unknown-substance", "ambiguous-name", "cas-against-name")


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that can be chosen: the form's value, its words, and whether a text goes with it."""

    value: str
    words: str
    typed: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """One open question. ``table`` is the settings table that an answer goes to, ``place`` what it speaks of.

    ``names`` is whether what is typed is the name of a substance; ``cells`` those around the cell it speaks of.
    """

    id: str
    code: str
    file: str
    sheet: str
    cell: str
    text: str
    table: str
    place: Mapping[str, Any]
    key: str
    choices: Sequence[Choice]
    names: bool = False
    cells: Mapping[str, Any] | None = None

    @property
    def where(self) -> str:
        """The place in words, as the command line says it."""
        sheet = f"sheet {self.sheet}" if self.sheet else ""
        cell = f"cell {self.cell}" if self.cell else ""
        return ", ".join(part for part in (self.file, sheet, cell) if part)


def open_questions(summary: Mapping[str, Any], document: Document) -> list[Question]:
    """The questions of a summary with their choices, in its order, but for those that the settings speak to already.

    One whose lines cannot be read is passed over: its message stands among the others.
    """
    found = (_question(one) for one in summary.get("questions", ()))
    return [one for one in found if one is not None and one.key not in _told(document, one.table)]


def _told(document: Document, table: str) -> Mapping[str, Any]:
    told = document.get(table, {})
    return told if isinstance(told, Mapping) else {}


def _question(said: Mapping[str, Any]) -> Question | None:
    try:
        lines = tomllib.loads(str(said["answer"]))
    except tomllib.TOMLDecodeError:
        return None
    if lines.get("answers"):
        table, inner = "answers", lines["answers"][0]
    elif lines:
        table, inner = next(iter(lines.items()))
    else:
        return None
    if not isinstance(inner, Mapping):
        return None
    place = {key: value for key, value in inner.items() if key in PLACE} if table == "answers" else {}
    keys = [key for key in inner if key not in PLACE]
    if not keys:
        return None
    text, code = str(said["text"]), str(said["code"])
    names = code in _NAMES
    return Question(
        id=_identity(said),
        code=code,
        file=str(said["file"]),
        sheet=str(said["sheet"] or ""),
        cell=str(said["cell"] or ""),
        text=text[:1].upper() + text[1:] + ("" if text.rstrip("'\")")[-1:] in (".", "?", "!") else "."),
        table=table,
        place=place,
        key=keys[0],
        choices=tuple(_choices(keys[0], inner[keys[0]], names)),
        names=names,
        cells=said.get("cells"),
    )


def _identity(said: Mapping[str, Any]) -> str:
    """The same for the same question of a later reading: its code and the lines that answer it."""
    whole = f"{said['code']}\n{said['file']}\n{said['answer']}"
    return hashlib.sha256(whole.encode("utf-8", "replace")).hexdigest()[:16]


def _choices(key: str, proposed: Any, names: bool) -> list[Choice]:
    if key in ("skip", "read_as"):
        return _corrections(proposed if key == "read_as" else None, names)
    if key == "unit":
        known = [*_UNITS] if proposed in _UNITS else [str(proposed), *_UNITS]
        return [*(Choice(f"is:{one}", one) for one in known), Choice("typed", _TYPED["unit"], typed=True)]
    values = CHOICES.get(key.replace("-", "_"), (str(proposed),))
    return [Choice(f"is:{one}", _WORDS.get((key, one), one)) for one in values]


def _corrections(proposed: Any, names: bool) -> list[Choice]:
    """For a text to be read as something else: what looks alike or is usual, one's own words, or leaving it out."""
    found = []
    if names:
        if proposed:
            found.append(Choice(f"is:{proposed}", f"It is {proposed}"))
        found.append(Choice("typed", "It is the substance", typed=True))
        found.append(Choice("skip", "Leave its rows out"))
        return found
    if proposed and proposed != "NA":
        found.append(Choice(f"is:{proposed}", f"It is the {proposed}"))
    else:
        found.append(Choice("is:NA", _WORDS["read_as", "NA"]))
    found.append(Choice("typed", _TYPED["read_as"], typed=True))
    found.append(Choice("skip", "Set it aside"))
    return found


def answered(
    document: Document, question: Question, chosen: str, typed: str, because: str, by: str, knows: Callable[[str], str]
) -> Document:
    """The settings with the question answered; ``knows`` gives the canonical name of a typed substance, "" for none.

    Raises SettingsError for a choice that the question does not have, or a typed text that says nothing.
    """
    if chosen not in {one.value for one in question.choices}:
        raise SettingsError(f"{question.where}: choose one of the answers offered.")
    key, value = _said(question, chosen, typed.strip(), knows)
    if question.table != "answers":
        return {**document, question.table: {**document.get(question.table, {}), key: value}}
    answer = {**question.place, key: value}
    answer |= {name: text.strip() for name, text in (("because", because), ("by", by)) if text.strip()}
    kept = [one for one in document.get("answers", ()) if not _same_place(one, answer, key)]
    return {**document, "answers": [*kept, answer]}


def _said(question: Question, chosen: str, typed: str, knows: Callable[[str], str]) -> tuple[str, Any]:
    if chosen == "skip":
        return "skip", True
    key = "read_as" if question.key == "skip" else question.key
    if chosen != "typed":
        return key, chosen.removeprefix("is:")
    if not typed:
        raise SettingsError(f"{question.where}: type the text that goes with your choice.")
    if question.names:
        known = knows(typed)
        if not known:
            raise SettingsError(
                f"{question.where}: {typed!r} is not a known substance. Choose a name from the list, or leave the "
                "rows out."
            )
        return key, known
    return key, typed


def _same_place(one: Mapping[str, Any], other: Mapping[str, Any], key: str) -> bool:
    """Whether two answers speak of the same place and thing, so that the later one stands."""
    return key in one and all(one.get(name) == other.get(name) for name in PLACE)


def without_answer(document: Document, table: str, number: int, key: str) -> Document:
    """The settings without one answer: the one of that number, or one key of another table."""
    if table == "answers":
        kept = [one for place, one in enumerate(document.get("answers", ())) if place != number]
        rest = {name: value for name, value in document.items() if name != "answers"}
        return {**rest, "answers": kept} if kept else rest
    inner = {name: value for name, value in document.get(table, {}).items() if name != key}
    rest = {name: value for name, value in document.items() if name != table}
    return {**rest, table: inner} if inner else rest


def given_answers(document: Document) -> list[dict[str, Any]]:
    """What was answered so far: where, said, because, by; and table, number and key, by which it is taken back."""
    found = []
    for number, answer in enumerate(document.get("answers", ())):
        place = ", ".join(
            f"{key} {answer[key]}" if key != "file" else str(answer[key]) for key in PLACE if key in answer
        )
        said = (_said_of(key, answer[key]) for key in answer if key not in (*PLACE, "because", "by"))
        why = {key: str(answer.get(key, "")) for key in ("because", "by")}
        found.append({"where": place, "said": "; ".join(said), **why, "table": "answers", "number": number, "key": ""})
    for key, value in _told(document, "reading").items():
        if key in _KEYS:
            what = {"where": "All sheets", "said": _said_of(key, value), "because": "", "by": ""}
            found.append({**what, "table": "reading", "number": -1, "key": key})
    return found


def _said_of(key: str, value: Any) -> str:
    if key == "skip":
        return "set aside"
    words = _WORDS.get((key, str(value)), "").split(":")[0]
    return f"{_KEYS.get(key, key)}: {words[:1].lower() + words[1:] if words else value}"
