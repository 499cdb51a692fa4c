"""The ways of figures, folded into the page. In: chains as ``explain`` gives them. Out: finished lines.

A way that several sets share, from the cells to the figure, is told once, with one ending for each set.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from screen.stages.report.facts import Facts
from screen.stages.report.marks import WORDS, word
from screen.stages.report.text import number_text

__all__ = ["Chain", "Chains", "Ending", "chain_views"]

Key = tuple[str, str, str, str]
#: Ways told on the page, at most.
_MOST = 600
_CHANGES = {"unit": "to the standard unit", "dry-weight": "to dry weight", "carbon": "to the basis of the level"}
_ENDS = ("level", "quotient")


@dataclass(frozen=True, slots=True)
class Ending:
    """One set at the end of a way: its id, the word of the finding, and the levels with their quotients."""

    set: str
    word: str
    text: str


@dataclass(slots=True)
class Chain:
    """The way of one figure from the laboratory's cells, and what each set says of it."""

    identity: str
    title: str
    cells: tuple[str, ...]
    steps: tuple[str, ...]
    endings: list[Ending] = field(default_factory=list)

    @property
    def printed(self) -> bool:
        """Whether it is printed: those of findings between levels are left to the screen and the files."""
        return any(one.word != WORDS["between"] for one in self.endings)


@dataclass(slots=True)
class Chains:
    """All chains of the page in order, how many findings are left to the command, where each finding's is."""

    all: list[Chain] = field(default_factory=list)
    left: int = 0
    places: dict[Key, str] = field(default_factory=dict)


def chain_views(chains: Sequence[Mapping[str, Any]], facts: Facts) -> Chains:
    """The chains of the samples that the page shows, in the order given; of very many, the first by gravity."""
    out = Chains()
    shared: dict[tuple[Any, ...], Chain] = {}
    chosen = facts.shown[0]
    for one in sorted(chains, key=_between) if len(chains) > _MOST else chains:
        key = (str(one["sample"]), str(one["substance"]), _text(one.get("total")), _text(one.get("set")))
        if key in out.places or key[0] not in chosen:
            continue
        cells, steps = _cells(one["cells"]), _steps(one["steps"])
        way = (*key[:3], cells, steps)
        if way not in shared and len(out.all) >= _MOST:
            out.left += 1
            continue
        if way not in shared:
            total = f" ({key[2]})" if key[2] else ""
            shared[way] = Chain(f"chain-{len(out.all) + 1}", f"{key[1]}{total} in {key[0]}", cells, steps)
            out.all.append(shared[way])
        name = _finding(one)
        shared[way].endings.append(Ending(key[3], word(name) if name else "", _ending(one["steps"])))
        out.places[key] = shared[way].identity
    return out


def _finding(chain: Mapping[str, Any]) -> str:
    finding = chain.get("finding")
    return _text(finding.get("finding") if isinstance(finding, Mapping) else finding)


def _between(chain: Mapping[str, Any]) -> bool:
    return _finding(chain) == "between"


def _cells(cells: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """The cells sheet by sheet: ``lab.xlsx, sheet A: C4 “<15”, C5 “7 J”``."""
    sheets: dict[str, list[str]] = {}
    for cell in cells:
        sheet = _text(cell.get("sheet"))
        where = ", ".join(filter(None, (_text(cell.get("file")), f"sheet {sheet}" if sheet else "")))
        shown = f"{_text(cell.get('column'))}{_text(cell.get('row'))} “{_text(cell.get('text'))}”"
        if shown not in sheets.setdefault(where, []):
            sheets[where].append(shown)
    return tuple(f"{where}: {', '.join(shown)}" for where, shown in sheets.items())


def _steps(steps: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """A line for each measurement, from its cell to the unit and basis of the sum or level; then the sum."""
    lines: list[str] = []
    sources: dict[str, str] = {}
    for step in steps:
        kind, end, source = str(step["step"]), _figure(step), _text(step.get("source"))
        if kind in _ENDS:
            continue
        if kind == "read":
            lines.append(f"{source}: {end}")
        elif kind == "sum":
            members = step.get("from")
            number = (
                f" of {len(members)} figures" if isinstance(members, Sequence) and not isinstance(members, str) else ""
            )
            by = step.get("by")
            factor = f", times {_short(by)}" if by not in (None, 1) else ""
            line = f"sum{number}{factor}: {end} ({source})"
            if line not in lines:
                lines.append(line)
        else:
            note = f" ({source})" if source and sources.get(kind) != source else ""
            sources[kind] = source
            change = f"{_CHANGES.get(kind, kind)} by {_short(step.get('by'))}: {end}{note}"
            if lines:
                lines[-1] += f"; {change}"
            else:
                lines.append(change)
    return tuple(lines)


def _ending(steps: Sequence[Mapping[str, Any]]) -> str:
    said = []
    for step in steps:
        if step["step"] == "level":
            by = step.get("by")
            changed = f" (printed as {_short(step.get('from'))}, by {_short(by)})" if by not in (None, 1, 1.0) else ""
            said.append(f"level {_figure(step)}{changed}")
        elif step["step"] == "quotient":
            said.append(f"{_short(step.get('from'))} over {_short(step.get('by'))} is {_short(step.get('to'))}")
    return "; ".join(said)


def _figure(step: Mapping[str, Any]) -> str:
    return " ".join(filter(None, (_short(step.get("to")), _text(step.get("unit")))))


def _short(value: object) -> str:
    """A figure to six significant digits: enough to redo the step with a pencil."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return _text(value)
    return "" if math.isnan(value) else f"{value:.6g}"


def _text(value: object) -> str:
    if isinstance(value, float):
        return number_text(value)
    return "" if value is None else str(value)
