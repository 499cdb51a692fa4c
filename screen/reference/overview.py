"""The guideline sets side by side. In: set ids, a substance. Out: frames, and their text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

import pandas as pd

from screen.likeness import nearest
from screen.reference.names import name_book
from screen.reference.rules import sum_rules
from screen.reference.sets import (
    GuidelineSet,
    SetError,
    builtin_ids,
    default_sets,
    load_set,
    mostly_unseen,
    read_basis_word,
)
from screen.reference.substances import table
from screen.reference.units import convert, factor

__all__ = [
    "COMPARISON",
    "compare_sets",
    "dry_levels",
    "list_sets",
    "render_comparison",
    "render_list",
    "render_set",
    "show_set",
]

_WIDTH = 80
_WATERS = ("fresh", "estuarine", "marine")
_MARKS = ("seen", "from_memory", "conflict", "own")
#: The columns of :func:`compare_sets`.
COMPARISON = [
    "set", "water", "substance", "totals", "level", "value", "unit", "basis", "dry_value", "dry_unit", "at", "evidence"
]  # fmt: skip


def list_sets() -> pd.DataFrame:
    """The built-in sets, one row each.

    Columns: id, title, water, levels, figures, seen, from_memory, conflict, default_for, mostly_unseen, second.
    ``water``, ``levels`` and ``default_for`` are joined by ``;``. ``figures`` counts substance and level together, and
    the next three how many of them carry that evidence mark. ``second`` is the other publication that the figures were
    checked against, "" for none.
    """
    found = []
    for name in builtin_ids():
        one = load_set(name)
        counts = one.rows["evidence"].value_counts()
        found.append(
            {
                "id": name,
                "title": one.title,
                "water": ";".join(one.water),
                "levels": ";".join(one.levels),
                "figures": len(one.rows),
                **{mark: int(counts.get(mark, 0)) for mark in _MARKS[:3]},
                "default_for": ";".join(water for water in _WATERS if name in default_sets(water)),
                "mostly_unseen": mostly_unseen(one),
                "second": one.second,
            }
        )
    return pd.DataFrame(found)


def show_set(name: str) -> dict[str, Any]:
    """All that a set says, as ``siltmark guidelines show --json`` prints it. Raises SetError."""
    one = load_set(name)
    return {
        "id": one.id,
        "title": one.title,
        "citation": one.citation,
        "water": list(one.water),
        "levels": list(one.levels),
        "lower": one.lower,
        "upper": one.upper,
        "caveats": list(one.caveats),
        "rows": [{str(key): value for key, value in row.items()} for row in one.rows.to_dict("records")],
        "issuer": one.issuer,
        "year": one.year,
        "meaning": dict(one.meanings),
        "basis": one.basis,
        "at_level": one.at_level,
        "nondetects": one.nondetects,
        "toc": None if one.toc_range is None else {"range_pct": list(one.toc_range), "outside": one.toc_outside},
        "sums": {sum_name: [list(kind) for kind in kinds] for sum_name, kinds in one.sums.items()},
        "second": one.second,
        "mostly_unseen": mostly_unseen(one),
    }


def compare_sets(substance: str, carbon_pct: float = 1.0) -> pd.DataFrame:
    """The levels that the built-in sets have for one substance or guideline sum, with the columns COMPARISON.

    ``value``, ``unit`` and ``basis`` are as published. ``dry_value`` is the same level on dry weight in ``dry_unit``
    (the substance's standard unit): one per carbon at ``carbon_pct`` per cent of organic carbon, as ``at`` then says;
    one as tin as the cation; NaN for a level that whole sediment cannot be compared with. ``totals`` are the ids that a
    set's sum is made by, joined by ``;``, the kinds of measurement by ``|``. Raises SetError when no set has a level.
    """
    sets = [load_set(name) for name in builtin_ids()]
    wanted = _names(substance, sets)
    found = [row for one in sets for row in _levels_of(one, wanted, carbon_pct)]
    return pd.DataFrame(found, columns=COMPARISON).astype({"value": float, "dry_value": float})


def dry_levels(one: GuidelineSet, carbon_pct: float) -> pd.DataFrame:
    """All figures of a set on dry weight, in the set's order, with the columns of :func:`compare_sets`."""
    found = _levels_of(one, {str(name) for name in one.rows["substance"]}, carbon_pct)
    return pd.DataFrame(found, columns=COMPARISON).astype({"value": float, "dry_value": float})


def _names(substance: str, sets: Iterable[GuidelineSet]) -> set[str]:
    """The names that ``substance`` goes by in the sets, whichever of its names it was asked for by."""
    held = {str(name) for one in sets for name in one.rows["substance"]}
    folded = {name.casefold(): name for name in held}
    text = substance.strip()
    name = folded.get(text.casefold()) or name_book().resolve(text).substance or ""
    totals = sum_rules().totals["name"]
    lab = table()["lab_total_of"].get(name, "")
    also = {str(totals[total]) for total in str(lab).split(";") if total in totals.index}
    also |= {str(totals[total]) for total, (member, _) in _lone_members().items() if member == name}
    if found := ({name} | also) & held:
        return found
    near = nearest(text, held)
    hint = f" Did you mean {near[0]!r}?" if near else ""
    raise SetError(f"No built-in set has a level for {substance!r}.{hint}")


@cache
def _lone_members() -> dict[str, tuple[str, float]]:
    """The totals of one member, which state it in another way (tributyltin as tin): the member and its weight."""
    members = sum_rules().members
    alone = members[~members["total"].duplicated(keep=False)]
    return {
        str(total): (str(member), float(weight))
        for total, member, weight in zip(alone["total"], alone["substance"], alone["weight"], strict=True)
    }


def _levels_of(one: GuidelineSet, names: set[str], carbon_pct: float) -> list[dict[str, Any]]:
    rows = one.rows[one.rows["substance"].isin(names)]
    found = []
    for row in rows.to_dict("records"):
        kinds = one.sums.get(row["substance"], ())
        standard = _standard(row["substance"], kinds)
        dry, at = _on_dry(float(row["value"]), str(row["unit"]), str(row["basis"]), standard, carbon_pct)
        if len(kinds) == 1 and len(kinds[0]) == 1:
            member, weight = _lone_members().get(kinds[0][0], ("", 1.0))
            dry, at = dry / weight, "; ".join(text for text in (f"as {member}" if member else "", at) if text)
        found.append(
            {
                "set": one.id,
                "water": ";".join(one.water),
                "totals": "|".join(";".join(kind) for kind in kinds),
                **{column: row[column] for column in ("substance", "level", "value", "unit", "basis", "evidence")},
                "dry_value": dry,
                "dry_unit": standard,
                "at": at,
            }
        )
    return found


def _standard(name: str, kinds: tuple[tuple[str, ...], ...]) -> str:
    if kinds:
        return str(sum_rules().totals.loc[kinds[0][0], "unit"])
    return str(table().loc[name, "unit"])


def _on_dry(value: float, unit: str, basis: str, standard: str, carbon_pct: float) -> tuple[float, str]:
    kind, percent = read_basis_word(basis)
    if kind == "below":
        return float("nan"), f"fraction below {percent:g} um"
    if factor(unit, standard) is None:
        return float("nan"), ""
    dry = convert(value, unit, standard)
    if kind == "oc":
        return dry * carbon_pct / (100.0 if percent is None else percent), f"{carbon_pct:g} % carbon"
    return dry, f"{percent:g} % aluminium" if kind == "al" else ""


def render_list(sets: pd.DataFrame) -> str:
    """The frame of :func:`list_sets` as text."""
    lines: list[str] = []
    for row in sets.to_dict("records"):
        marks = ", ".join(f"{row[mark]} {mark.replace('_', ' ')}" for mark in _MARKS[:3] if row[mark])
        lines += [f"{row['id']}", *_wrapped(str(row["title"]), 4)]
        lines += _wrapped(
            f"water {_words(row['water'])}; levels {_words(row['levels'])}; {row['figures']} figures: {marks}", 4
        )
        if row["default_for"]:
            lines += _wrapped(f"default for water {_words(row['default_for'])}", 4)
        if row["mostly_unseen"]:
            lines += _wrapped("most of its figures were not seen in a source: never a default", 4)
        if not row["second"]:
            lines += _wrapped("unchecked: not compared with a second publication", 4)
        lines.append("")
    return "\n".join(lines).rstrip()


def render_set(found: Mapping[str, Any]) -> str:
    """The dictionary of :func:`show_set` as text."""
    lines = [str(found["id"]), *_wrapped(str(found["title"]), 0), "", *_wrapped(f"Source: {found['citation']}", 0)]
    lines += _wrapped(f"Water: {', '.join(found['water'])}. Basis: {found['basis']}, where a row says no other.", 0)
    pair = " and ".join(name for name in (found["lower"], found["upper"]) if name)
    lines += _wrapped(f"Levels, mildest first: {', '.join(found['levels'])}. Compared: {pair}.", 0)
    lines += [line for level, text in found["meaning"].items() for line in _wrapped(f"{level}: {text}", 4)]
    tie = "exceeds it" if found["at_level"] == "exceeds" else "does not exceed it"
    lines += _wrapped(f"A value equal to a level {tie}.", 0)
    lines += _wrapped(f"Nondetects in sums: {found['nondetects'] or 'the source states no rule; zero is used'}.", 0)
    if found["toc"]:
        low, high = found["toc"]["range_pct"]
        lines += _wrapped(f"Organic carbon from {low:g} to {high:g} %; outside: {found['toc']['outside']}.", 0)
    for name, kinds in found["sums"].items():
        lines += _wrapped(f"{name}: {'; or '.join(', else '.join(kind) for kind in kinds)}", 4)
    lines += ["", "Caveats", *(line for text in found["caveats"] for line in _wrapped(f"- {text}", 2))]
    if found["mostly_unseen"]:
        lines += _wrapped("- Most of its figures were not seen in a source.", 2)
    second = found["second"] or "none, the figures are unchecked"
    lines += _wrapped(f"- Second publication: {second}.", 2)
    lines += ["", *_grid(["substance", "level", "value", "unit", "basis", "evidence"], found["rows"])]
    return "\n".join(lines)


def render_comparison(found: pd.DataFrame) -> str:
    """The frame of :func:`compare_sets` as text, with the figure as published where it is not on dry weight."""
    rows: list[dict[Any, Any]] = []
    for row in found.to_dict("records"):
        dry = row["dry_value"]
        published = "" if row["basis"] == "dry" else f"{row['value']:g} {row['unit']} {row['basis']}"
        shown = "" if dry != dry else f"{dry:.6g}"
        sums = str(row["totals"]).replace(";", ", else ").replace("|", "; or ")
        rows.append({**row, "dry": shown, "published as": published, "sum": sums})
    unit = str(found["dry_unit"].iloc[0])
    named = ", ".join(dict.fromkeys(found["substance"].astype(str)))
    head = _wrapped(f"{named}, {unit} dry weight; a level per carbon is shown at the carbon stated.", 0)
    columns = ["set", "level", "dry", "at", "published as", "evidence"]
    # one name, several lists: a total of 13 substances is no total of 16
    columns += ["sum"] if any(row["sum"] for row in rows) else []
    return "\n".join([*head, "", *_grid(columns, rows)])


def _words(joined: object) -> str:
    return str(joined).replace(";", ", ")


def _wrapped(text: str, indent: int) -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent=" " * indent, subsequent_indent=" " * (indent + 2))


def _grid(columns: list[str], rows: Iterable[Mapping[Any, Any]]) -> list[str]:
    texts = [[f"{row[name]:g}" if isinstance(row[name], float) else str(row[name]) for name in columns] for row in rows]
    widths = [max(len(line[place]) for line in [columns, *texts]) for place in range(len(columns))]
    lines = [columns, ["-" * width for width in widths], *texts]
    return ["  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines]
