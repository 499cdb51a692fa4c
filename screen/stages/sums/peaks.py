"""Which measured peaks belong to a total: in go names and one rule's members, out come weights and what each covers.

A coeluting group is one peak. It belongs to a list when any of its members does, goes in once and whole, and covers
every listed member that it names (methods handbook 1.4).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from screen.columns import Flags, Floats, Texts
from screen.reference.substances import describe
from screen.reference.units import factor

__all__ = ["Belonging", "Names", "belonging", "look_up", "unit_factor"]


@dataclass(frozen=True, slots=True)
class Names:
    """The substances met, in a fixed order of their own that no row order can change.

    ``members``: the substances in each peak (itself, for a single one; the one it stands for, where the substance table
    takes a pair as one); ``with_others``: peaks that name more than one substance; ``stand_ins``: names counted as
    another substance; ``homologs``: sums over one chlorine number; ``units``: the standard units.
    """

    names: Texts
    members: tuple[tuple[str, ...], ...]
    with_others: Flags
    stand_ins: Flags
    homologs: Flags
    groups: Texts
    units: Texts


def look_up(names: Texts) -> Names:
    """``Names`` of distinct canonical names, sorted by the substance table's order, then by name."""
    facts = describe(list(names))
    orders = facts["order"].to_numpy(dtype=np.float64)
    place = np.array(sorted(range(len(names)), key=lambda i: (orders[i], str(names[i]))), dtype=np.int64)
    kinds = facts["kind"].to_numpy(dtype=object)[place]
    names = np.asarray(names, dtype=object)[place]
    members: list[tuple[str, ...]] = []
    for name, kind, stands_for, own in zip(
        names, kinds, facts["stands_for"].iloc[place], facts["members"].iloc[place], strict=True
    ):
        if kind in ("taken-as-one", "homolog") and stands_for:
            members.append((stands_for,))
        else:
            members.append(tuple(own) if kind in ("peak", "mixed-peak") else (name,))
    return Names(
        names,
        tuple(members),
        np.array([len(own) > 1 for own in members], dtype=bool),
        np.array([own != (name,) and len(own) == 1 for own, name in zip(members, names, strict=True)], dtype=bool),
        kinds == "homolog",
        facts["group"].to_numpy(dtype=object)[place],
        facts["unit"].to_numpy(dtype=object)[place],
    )


def unit_factor(unit: object, wanted: str) -> float:
    """What a figure in ``unit`` is multiplied by to be in ``wanted``; NaN where the two cannot be converted."""
    found = factor(unit, wanted) if isinstance(unit, str) else None
    return float("nan") if found is None else found


@dataclass(frozen=True, slots=True)
class Belonging:
    """How the names met take part in one total.

    - ``scale`` (names,): weight x unit factor, NaN for a name that is not in the total.
    - ``covers`` (names, members): which listed members each name covers.
    - ``unlisted``: for each name the members that are not on the list; ``mixed``: several weights in one peak.
    """

    scale: Floats
    covers: Flags
    unlisted: tuple[tuple[str, ...], ...]
    mixed: Flags


def belonging(names: Names, weights: Mapping[str, float], unit: str, group: str) -> Belonging:
    """Match ``names`` with the members of one total (``weights``, in list order) of a ``group``, summed in ``unit``.

    A homolog sum belongs to totals of its own group only, since it repeats the congeners. Of several listed members in
    one peak the highest weight counts for the whole, as an upper bound.
    """
    place = {member: i for i, member in enumerate(weights)}
    scale = np.full(len(names.names), np.nan)
    covers = np.zeros((len(names.names), len(place)), dtype=bool)
    unlisted: list[tuple[str, ...]] = []
    mixed = np.zeros(len(names.names), dtype=bool)
    for i, members in enumerate(names.members):
        listed = [member for member in members if member in place]
        if names.homologs[i] and names.groups[i] != group:
            listed = []
        unlisted.append(tuple(member for member in members if member not in place) if listed else ())
        if not listed:
            continue
        own = {weights[member] for member in listed}
        mixed[i] = len(own) > 1
        scale[i] = max(own) * unit_factor(names.units[i], unit)
        covers[i, [place[member] for member in listed]] = True
    return Belonging(scale, covers, tuple(unlisted), mixed)
