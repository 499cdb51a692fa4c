"""The ways of figures, folded into the page. In: chains as ``explain`` gives them. Out: finished lines.

A way that several sets share, from the cells to the figure, is told once, with one ending for each set.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from screen.stages.report.facts import Facts, Finding
from screen.stages.report.marks import word
from screen.stages.report.text import number_text

__all__ = ["Block", "Chain", "Chains", "Ending", "chain_views", "wanted"]

Key = tuple[str, str, str, str]
#: Figures whose ways are told on the page, at most.
_MOST = 600
#: Of these, those that are printed.
_MOST_PRINTED = 40
#: Of very many, those of a lower rank come first.
_RANK = {"above": 0, "undetermined": 1, "below": 2, "between": 3, "not-assessed": 4}
_CHANGES = {"unit": "to the standard unit", "dry-weight": "to dry weight", "carbon": "to the basis of the level"}
_ENDS = ("level", "quotient")
_ORDER = ("value", "limit", "low", "high")


@dataclass(frozen=True, slots=True)
class Ending:
    """One set at the end of a way: its id, the word of the finding, and the levels with their quotients."""

    set: str
    word: str
    text: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Block:
    """Cells sheet by sheet (where, cells), and the steps from them to one figure, a line each."""

    sheets: tuple[tuple[str, tuple[str, ...]], ...]
    lines: tuple[str, ...]


@dataclass(slots=True)
class Chain:
    """The way of one figure from the laboratory's cells, and what each set says of it."""

    identity: str
    title: str
    blocks: tuple[Block, ...]
    endings: list[Ending] = field(default_factory=list)
    printed: bool = False

    @property
    def words(self) -> str:
        """What the sets say of it, each word once."""
        return "; ".join(dict.fromkeys(one.word for one in self.endings))


@dataclass(slots=True)
class Chains:
    """All chains of the page in order, how many findings are left to the command, where each finding's is."""

    all: list[Chain] = field(default_factory=list)
    left: int = 0
    places: dict[Key, str] = field(default_factory=dict)


def wanted(facts: Facts) -> list[int]:
    """The rows of findings whose chains the page tells: flagged ones of told sets and shown samples, in table order.

    Of very many figures the gravest findings come first: above, limit too high, unsettled, then between levels.
    """
    flagged = facts.drawn(one for one in facts.told if one.flagged)
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for one in flagged:
        groups.setdefault(one.key[:3], []).append(one)
    chosen = sorted(groups.values(), key=lambda group: min(_RANK[one.finding] for one in group))[:_MOST]
    return sorted(one.at for group in chosen for one in group)


def chain_views(chains: Sequence[Mapping[str, Any]], facts: Facts) -> Chains:
    """The chains in the order given; those that share a way from the cells to the figure are told as one."""
    out = Chains()
    shared: dict[tuple[Any, ...], Chain] = {}
    for one in chains:
        key = (str(one["sample"]), str(one["substance"]), _text(one.get("total")), _text(one.get("set")))
        if key in out.places:
            continue
        way = (*key[:3], _blocks(one["steps"]))
        if way not in shared:
            total = f" ({key[2]})" if key[2] else ""
            title = f"{key[1]}{total} in {key[0]}"
            shared[way] = Chain(f"chain-{len(out.all) + 1}", title, way[3])
            out.all.append(shared[way])
        shared[way].endings.append(
            Ending(key[3], _word(one, key, facts), _ending(one["steps"]), _text(one.get("note")))
        )
        out.places[key] = shared[way].identity
    for chain in _gravest(facts, out):
        chain.printed = True
    out.left = sum(one.flagged for one in facts.findings) - len(out.places) if chains else 0
    return out


def _gravest(facts: Facts, chains: Chains) -> list[Chain]:
    """The chains that are printed: the gravest findings', none of those that are between levels and settled."""
    by_identity = {chain.identity: chain for chain in chains.all}
    found: dict[str, tuple[int, float]] = {}
    for one in facts.findings:
        identity = chains.places.get(one.key, "")
        if identity and (one.finding != "between" or one.unsettled):
            rank = (_RANK[one.finding], -one.quotient)
            found[identity] = min(rank, found.get(identity, rank))
    first = set(sorted(found, key=lambda name: found[name])[:_MOST_PRINTED])
    return [chain for name, chain in by_identity.items() if name in first]


def _finding(chain: Mapping[str, Any]) -> str:
    finding = chain.get("finding")
    return _text(finding.get("finding") if isinstance(finding, Mapping) else finding)


def _word(chain: Mapping[str, Any], key: Key, facts: Facts) -> str:
    name = _finding(chain)
    return word(name, unsettled=key in facts.hanging_keys, cause=facts.causes.get(key, "")) if name else ""


@dataclass(slots=True)
class _Measured:
    """One cell on its way: where it is, what it says, and the steps to its last figure."""

    where: str
    cell: str
    text: str
    substance: str
    limit: bool
    figure: str
    unit: str
    changes: list[tuple[str, str]] = field(default_factory=list)  # as an equation, and as a common step

    def shown(self, *, alone: bool, common: bool) -> str:
        """``H244 “0.918”``, and in a sum its substance and last figure."""
        said = f"{self.cell} “{self.text}”".strip()
        if alone:
            return said
        ways = "" if common else "".join(f" {by.split(',')[0]}" for _, by in self.changes)
        return f"{said} {self.substance}{ways}: {'< ' if self.limit else ''}{self.figure}"


def _blocks(steps: Sequence[Mapping[str, Any]]) -> tuple[Block, ...]:
    """The steps in blocks: cells that end in one figure; a field duplicate gives a second block."""
    out: list[Block] = []
    measured: list[_Measured] = []
    sums: list[Mapping[str, Any]] = []
    tail: list[str] = []

    def finish() -> None:
        if measured or sums or tail:
            out.append(_block(measured, sums, tail))
        for kept in (measured, sums, tail):
            kept.clear()

    for step in steps:
        kind = str(step["step"])
        if kind in _ENDS:
            continue
        if kind == "read":
            if sums or tail:
                finish()
            where, _, cell = _text(step.get("source")).rpartition(", ")
            measured.append(
                _Measured(
                    where,
                    cell,
                    _text(step.get("from")),
                    _text(step.get("substance")),
                    step.get("quantity") == "limit",
                    _short(step.get("to")),
                    _text(step.get("unit")),
                )
            )
        elif kind == "sum":
            sums.append(step)
        elif measured and not sums and step.get("substance"):
            _change(measured[-1], step)
        else:
            tail.append(_equation(step))
    finish()
    return tuple(out)


def _change(one: _Measured, step: Mapping[str, Any]) -> None:
    source = _text(step.get("source"))
    words = _CHANGES.get(str(step["step"]), str(step["step"])) + (f" ({source})" if source else "")
    by = f"{step.get('operation') or '×'} {_short(step.get('by'))}"
    one.figure, one.unit = _short(step.get("to")), _text(step.get("unit"))
    one.changes.append((_equation(step), f"{by}, {words}"))


def _equation(step: Mapping[str, Any]) -> str:
    source = _text(step.get("source"))
    words = _CHANGES.get(str(step["step"]), str(step["step"])) + (f" ({source})" if source else "")
    start = step.get("from")
    if isinstance(start, Sequence) and not isinstance(start, str):
        return f"{words}: {_figure(step)}"
    return f"{_short(start)} {step.get('operation') or '×'} {_short(step.get('by'))} = {_figure(step)}, {words}"


def _block(measured: Sequence[_Measured], sums: Sequence[Mapping[str, Any]], tail: Sequence[str]) -> Block:
    alone = len(measured) == 1 and not sums
    changes = [tuple(by for _, by in one.changes) for one in measured]
    common = len(set(changes)) == 1
    sheets: dict[str, list[str]] = {}
    for one in measured:
        shown = one.shown(alone=alone, common=common)
        if shown not in sheets.setdefault(one.where, []):
            sheets[one.where].append(shown)
    lines: list[str] = []
    if alone:
        lines += [equation for equation, _ in measured[0].changes] or [f"{measured[0].figure} {measured[0].unit}"]
    elif common and measured:
        lines += [f"each figure {by}" for by in changes[0]]
    if sums:
        lines.append(_sum(sums))
    return Block(tuple((where, tuple(cells)) for where, cells in sheets.items()), tuple(dict.fromkeys([*lines, *tail])))


def _sum(sums: Iterable[Mapping[str, Any]]) -> str:
    """One line for the sum, its bounds and the highest limit: ``sum of 2 figures × 2 = 41 ug/kg, high 47``."""
    found = {_text(step.get("quantity")) or "value": step for step in sums}
    first = next(found[name] for name in (*_ORDER, *found) if name in found)
    members, by = first.get("from"), first.get("by")
    number = f" of {len(members)} figures" if isinstance(members, Sequence) and not isinstance(members, str) else ""
    factor = f" × {_short(by)}" if by not in (None, 1, 1.0) else ""
    said = [f"sum{number}{factor} = {_figure(first)}" if first.get("quantity") != "limit" else f"sum{number}{factor}"]
    words = {"limit": "highest single limit", "low": "low", "high": "high"}
    said += [f"{words[name]} {_short(found[name].get('to'))}" for name in _ORDER if name in found and name in words]
    unit = f" {_text(first.get('unit'))}" if first.get("quantity") == "limit" else ""
    source = _text(first.get("source"))
    return ", ".join(said) + unit + (f" ({source})" if source else "")


def _ending(steps: Sequence[Mapping[str, Any]]) -> str:
    levels: dict[str, str] = {}
    quotients: dict[str, tuple[str, str]] = {}
    for step in steps:
        name = _text(step.get("level"))
        if step["step"] == "level":
            by = step.get("by")
            changed = f" (printed as {_short(step.get('from'))}, × {_short(by)})" if by not in (None, 1, 1.0) else ""
            levels[name] = f"{name} {_figure(step)}{changed}".strip()
        elif step["step"] == "quotient":
            quotients[name] = (_short(step.get("from")), _short(step.get("to")))
    return "; ".join(
        f"{quotients[name][0]} ÷ {level} = {quotients[name][1]}" if name in quotients else level
        for name, level in levels.items()
    )


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
