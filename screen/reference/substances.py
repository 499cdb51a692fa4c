"""The substance table, and what is known of any canonical name, coeluting peaks and grain sizes included.

In: `guidelines/substances/substances.csv` and canonical names. Out: frames with one row per substance.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any

import pandas as pd

from screen.reference.grain_sizes import read_grain_size
from screen.reference.locate import read_table

__all__ = ["HIGHEST_CONGENER", "KINDS", "describe", "peak_name", "table"]

KINDS = (
    "single",  # one substance, or one property
    "mixture",  # defined by its pattern or method: Aroclors, toxaphene, petroleum hydrocarbons
    "peak",  # several substances that the instrument does not part
    "mixed-peak",  # the same, across groups
    "taken-as-one",  # a peak that is read as its `stands_for`
    "homolog",  # all congeners of one chlorine number
    "alkyl-group",  # all isomers of one alkylated PAH
    "expressed-as",  # `stands_for`, stated as the mass of another thing (tributyltin as tin)
    "lab-total",  # a sum that the laboratory made itself
    "derived",  # a difference or ratio
    "attribute",  # read, and no result: sieves, temperature, lipids
    "surrogate",  # added by the laboratory to check recovery
    "ambiguous",  # a name that stands for several things, its `members`
)
HIGHEST_CONGENER = 209
_FLAGS = ("needs_basis", "nonionic")


@cache
def _table() -> pd.DataFrame:
    frame = read_table("substances/substances.csv").set_index("substance")
    for flag in _FLAGS:
        frame[flag] = frame[flag] == "true"
    frame["members"] = pd.Series(
        [
            tuple(text.split(";")) if text else (() if kind in ("lab-total", "ambiguous") else (name,))
            for name, text, kind in zip(frame.index, frame["members"], frame["kind"], strict=True)
        ],
        index=frame.index,
        dtype=object,
    )
    frame["order"] = range(len(frame))
    return frame


def table() -> pd.DataFrame:
    """The substance table, indexed by canonical name, in canonical order.

    Columns: cas, other_cas (further registry numbers printed for the same measured thing, joined by ``;``), group, unit
    (standard unit), kind (one of :data:`KINDS`), members (tuple; a single is its own member, a laboratory's total has
    none), stands_for, lab_total_of (ids of our totals, joined by ``;``), needs_basis, default_basis, nonionic, note,
    evidence and order. An absent text is "". The frame is the caller's own.
    """
    return _table().copy()


def describe(names: Sequence[str]) -> pd.DataFrame:
    """What the table says of ``names``, one row each in the order given, with the columns of :func:`table`.

    Peaks that stand in no table are worked out from their members: ``PCB-129/138/163``, ``Aroclor 1016/1242``, and
    across groups ``PCB-85/4,4'-DDE`` (kind ``mixed-peak``); so are grain sizes with a printed limit from their name
    (``Coarse sand (0.425 mm)``, ``Passing 0.075 mm``). Of an unknown name group, unit and kind are missing.
    """
    known = _table()
    singles = _records()
    unique = list(dict.fromkeys(names))
    rows = [
        singles.get(name) or _peak(name, known) or _grain_size(name, known) or _unknown(name, len(known))
        for name in unique
    ]
    frame = pd.DataFrame(rows, index=unique, columns=list(known.columns))
    for flag in _FLAGS:
        frame[flag] = frame[flag].astype(bool)
    frame = frame.loc[list(names)] if len(unique) < len(names) else frame
    frame.index = pd.Index(list(names), name="substance", dtype=known.index.dtype)
    return frame


def peak_name(members: Iterable[str]) -> str:
    """The canonical name of an unresolved group of canonical names, in canonical order.

    Congeners and Aroclors share one prefix (``PCB-28/31``, ``Aroclor 1016/1242``), others are joined by a stroke.
    """
    order = _order()
    ordered = sorted(set(members), key=lambda name: order.get(name, len(order)))
    parts: list[str] = []
    previous = ""
    for name in ordered:
        prefix = next((text for text in ("PCB-", "Aroclor ") if name.startswith(text)), "")
        parts.append(name[len(prefix) :] if prefix and prefix == previous else name)
        previous = prefix
    return "/".join(parts)


@cache
def _records() -> dict[str, dict[str, Any]]:
    """The rows of the table by name."""
    rows = _table().to_dict("index")
    return {str(name): {str(column): value for column, value in row.items()} for name, row in rows.items()}


@cache
def _order() -> dict[str, int]:
    return {str(name): place for place, name in enumerate(_table().index)}


def _members_of(name: str, known: pd.DataFrame) -> list[str] | None:
    members: list[str] = []
    prefix = ""
    for part in name.split("/"):
        if part.isdigit() and prefix:
            part = prefix + part
        if part not in known.index:
            return None
        prefix = next((text for text in ("PCB-", "Aroclor ") if part.startswith(text)), "")
        members.append(part)
    return members if len(members) > 1 and peak_name(members) == name else None


def _peak(name: str, known: pd.DataFrame) -> dict[str, Any] | None:
    members = _members_of(name, known)
    if members is None:
        return None
    rows = known.loc[members]
    first = rows.iloc[0]
    one_group = bool((rows["group"] == first["group"]).all())
    return {
        "cas": "",
        "other_cas": "",
        "group": first["group"],
        "unit": first["unit"],
        "kind": "peak" if one_group else "mixed-peak",
        "members": tuple(members),
        "stands_for": "",
        "lab_total_of": "",
        "needs_basis": bool(rows["needs_basis"].any()),
        "default_basis": "",
        "nonionic": bool(rows["nonionic"].all()),
        "note": "Reported as one peak: counted once and whole.",
        "evidence": "members: see each",
        "order": int(first["order"]),
    }


def _grain_size(name: str, known: pd.DataFrame) -> dict[str, Any] | None:
    """A class, sieve or cumulative figure with its printed limit: like the class of the table, else like a sieve."""
    if not name or read_grain_size(name) != name:
        return None
    like = name.partition(" (")[0]
    place = _order()[like if like in known.index else "Sieve passing"]
    own = {"kind": "single", "members": (name,), "note": "The limit is as printed.", "evidence": "its name"}
    return dict(zip(known.columns, known.iloc[place].tolist(), strict=True)) | own


def _unknown(name: str, order: int) -> dict[str, Any]:
    text = dict.fromkeys(("cas", "other_cas", "stands_for", "lab_total_of", "default_basis", "note", "evidence"), "")
    return {
        **text,
        "group": None,
        "unit": None,
        "kind": None,
        "members": (name,),
        "needs_basis": True,
        "nonionic": False,
        "order": order,
    }
