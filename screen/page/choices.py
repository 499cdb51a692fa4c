"""Sets, water, rules and the report's head. In: the settings as they are and a form. Out: what to show; new settings.

Everything stands under the command line's own names; what is left as it holds without a choice is left out.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screen.page.document import Document
from screen.page.folder import Batch, Run, Workspace
from screen.page.words import HEAD, RARELY, RULES, WATERS
from screen.settings import SettingsError

if TYPE_CHECKING:
    from werkzeug.datastructures import MultiDict

__all__ = ["chosen", "shared_stations", "shown_choices", "stations_of"]


def shown_choices(
    workspace: Workspace, batch: Batch, document: Document, found: dict[str, Any] | None
) -> dict[str, Any]:
    """What the page of choices shows; ``found`` is what was understood of the batch, None where it is not yet known."""
    waters = found["waters"] if found else {}
    named = [str(one) for one in document.get("guidelines", ())]
    own, problems = _own_sets(batch)
    every = [*own, *_built_in()]
    met = {water or str(document.get("water", "")) for water in waters or [""]} - {""}
    by_water = _by_water(waters, str(document.get("water", "")))
    held = [*named, *(one for _, ids in by_water for one in ids)]
    rest = [one for one in every if not (one["id"] in held or one["own"])]
    fit = [one for one in rest if not met or set(one["water"]) & met]
    earlier = _earlier(workspace, batch, set(found["stations"]) if found else None)
    earlier_now = str(document.get("earlier", ""))
    return {
        "waters": WATERS,
        "unsaid": waters.get("", 0),
        "said": {water: number for water, number in waters.items() if water},
        "known": found is not None,
        "water": document.get("water", ""),
        "by_water": by_water,
        "named": named,
        "named_else": [one for one in named if one not in {each["id"] for each in every}],
        "sets_held": [one for one in every if one["id"] in held or one["own"]],
        "sets_more": [
            ("for this water" if met else "to choose from", fit),
            ("for other waters", [one for one in rest if one not in fit]),
        ],
        "own_problems": problems,
        "own_files": [one.name for one in batch.files("sets")],
        "rules": RULES,
        "rarely": RARELY,
        "head": HEAD,
        "document": document,
        "can": _extras(),
        "earlier": earlier,
        "earlier_now": earlier_now,
        "earlier_else": earlier_now not in {"", *(one["key"] for one in earlier)},
    }


def _by_water(waters: Mapping[str, int], said: str) -> list[tuple[str, tuple[str, ...]]]:
    """The sets that hold where none is named, for each water met."""
    from screen.reference.sets import default_sets

    met = dict.fromkeys(water or said for water in waters)
    return [(water or "water not said", default_sets(water or None)) for water in met]


@cache
def _built_in() -> list[dict[str, Any]]:
    from screen.reference.sets import builtin_ids

    return [_shown_set(one, one) for one in builtin_ids()]


def _own_sets(batch: Batch) -> tuple[list[dict[str, Any]], list[str]]:
    from screen.reference.sets import SetError

    found, problems = [], []
    for path in batch.files("sets"):
        if path.suffix.lower() == ".toml":
            try:
                found.append(_shown_set(str(path), f"sets/{path.name}"))
            except SetError as error:
                problems.append(str(error).replace(str(path.parent) + os.sep, ""))
    return found, problems


def _shown_set(name: str, key: str) -> dict[str, Any]:
    from screen.reference.overview import show_set

    one = show_set(name)
    evidence = [row["evidence"] for row in one["rows"]]
    words = {"seen": "seen in a source", "from_memory": "from memory", "conflict": "in conflict", "own": "your own"}
    known = [f"{evidence.count(mark)} {said}" for mark, said in words.items() if mark in evidence]
    return {
        "id": key,
        "own": key != one["id"],
        "title": one["title"],
        "water": one["water"],
        "levels": [(level, one["meaning"].get(level, "")) for level in one["levels"]],
        "substances": len({row["substance"] for row in one["rows"]}),
        "evidence": ", ".join(known),
        "mostly_unseen": one["mostly_unseen"],
        "caveats": one["caveats"],
        "citation": one["citation"],
    }


def _extras() -> dict[str, str]:
    """Why an extra output cannot be made on this machine, in the command's words; "" where it can."""
    from screen.settings import Settings
    from screen.stages.report.extras import check_extras

    found = {}
    for name, wanted in (("memo", Settings(memo=True)), ("pdf", Settings(pdf=True))):
        try:
            check_extras(wanted)
            found[name] = ""
        except SettingsError as error:
            found[name] = str(error)
    return found


def _earlier(workspace: Workspace, batch: Batch, stations: set[str] | None) -> list[dict[str, Any]]:
    """Whole runs that this batch can be compared with: those with a station in common, where that is known."""
    found = []
    for other in workspace.batches():
        for run in other.runs():
            if run.whole:
                shared = None if stations is None else len(stations & stations_of(run))
                if shared != 0:
                    key = Path(os.path.relpath(run.folder, batch.folder)).as_posix()
                    title = run.record().get("settings", {}).get("title") or ""
                    found.append(
                        {"key": key, "batch": other.name, "number": run.number, "title": title, "shared": shared}
                    )
    return found


def stations_of(run: Run) -> set[str]:
    """The stations of a run; none where its table of samples cannot be read."""
    from screen.folder import NotARunError, read_table

    try:
        return set(read_table(run.folder, "samples")["station"]) - {""}
    except (NotARunError, OSError, ValueError, KeyError):
        return set()


def shared_stations(one: Run, other: Run) -> int:
    """How many stations two runs have in common."""
    return len(stations_of(one) & stations_of(other))


def chosen(document: Document, form: MultiDict[str, str]) -> Document:
    """The settings with what the form says; raises SettingsError for sets to be chosen of which none was."""
    new = {key: dict(value) if isinstance(value, dict) else value for key, value in document.items()}
    _put(new, "", "water", form.get("water", ""))
    _put(new, "", "guidelines", _sets(form))
    for key, _, _, rules in RULES:
        _put(new, "", key, form.get(key, ""), rules[0][0])
    for table, key, _, rarer in RARELY:
        _put(new, table, key, form.get(key, ""), rarer[0][0])
    for table, key, _, _ in HEAD:
        _put(new, table, key, form.get(key, "").strip())
    for key in ("memo", "pdf"):
        _put(new, "", key, form.get(key) == "yes")
    _put(new, "", "earlier", form.get("earlier", ""))
    _put(new, "river", "at", _number(form.get("at", "").strip()))
    _put(new, "cores", "cut", form.get("cut", "").strip())
    return new


def _sets(form: MultiDict[str, str]) -> list[str]:
    """The sets that were ticked, the leading one first; none where the water decides."""
    if form.get("sets", "") != "named":
        return []
    ticked = form.getlist("guidelines")
    if not ticked:
        raise SettingsError("guidelines: tick at least one set, or let the water of each station decide.")
    first = form.get("leads", "")
    return sorted(ticked, key=lambda one: one != first)


def _number(text: str) -> float | str:
    if not text:
        return ""
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise SettingsError(
            f"at: {text!r} is no number. Write the river km that divides upstream from downstream."
        ) from None


def _put(document: Document, table: str, key: str, value: Any, standing: str = "") -> None:
    """Set one value; take the key out where the value says nothing, or what holds anyway."""
    if table and table not in document and value in ("", standing):
        return
    inner = document.setdefault(table, {}) if table else document
    if value in ("", standing, False) or value == []:
        inner.pop(key, None)
    else:
        inner[key] = value
