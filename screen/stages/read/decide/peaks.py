"""Coeluting congeners: groups named by flags, members beside their group, peaks across groups (intake handbook 5.3).

In: records with substances and coelution flags. Out: substances of the group rows renamed, and which rows are pointers,
members of a group that is there, or mixed peaks.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from screen.reference.substances import describe, peak_name
from screen.stages.read.cells.coded import pair_codes
from screen.stages.read.cells.grid import Column
from screen.stages.read.records.readings import Substances

__all__ = ["beside_group", "name_groups"]

Bools = npt.NDArray[np.bool_]


def name_groups(
    substances: Substances, sample: Column, file: npt.NDArray[np.int32], coelutes: Column, having: Bools
) -> Bools:
    """Give a row the name of its group where other rows point to it (``C129``); returns the pointers.

    ``having`` marks records with a value. A pointer whose leader has no value in the sample stays a result of its own.
    """
    pointing = np.array([str(text).isdigit() for text in coelutes.texts], dtype=bool)[coelutes.codes]
    in_name = substances.told["points_to"].to_numpy(dtype=object)
    named = np.array([bool(one) for one in in_name], dtype=bool)[substances.told_codes]
    rows = np.flatnonzero((pointing | named) & (substances.codes >= 0))
    pointers = np.zeros(len(sample.codes), dtype=bool)
    if not len(rows):
        return pointers
    places = {name: place for place, name in enumerate(substances.names)}
    key, _ = pair_codes(sample, file)
    groups: dict[tuple[int, str], list[int]] = {}
    for row in rows:
        leader = (
            f"PCB-{coelutes.texts[coelutes.codes[row]]}" if pointing[row] else str(in_name[substances.told_codes[row]])
        )
        if leader != substances.names[substances.codes[row]]:
            groups.setdefault((int(key[row]), leader), []).append(int(row))
    leaders = {places[leader] for _, leader in groups if leader in places}
    candidates = np.flatnonzero(np.isin(substances.codes, list(leaders)) & having)
    at = {(int(key[row]), substances.names[substances.codes[row]]): int(row) for row in candidates}
    renamed: dict[str, int] = {}
    for (owner, leader), members in groups.items():
        lead = at.get((owner, leader))
        if lead is None:
            continue
        name = peak_name([leader, *(substances.names[substances.codes[one]] for one in members)])
        if name not in places:
            places[name] = len(substances.names)
            substances.names.append(name)
            renamed[name] = places[name]
        substances.codes[lead] = places[name]
        pointers[members] = True
    if renamed:
        substances.facts = describe(substances.names).reset_index(drop=True)
    return pointers


def beside_group(
    substances: Substances, sample: Column, numbers: npt.NDArray[np.float64], open_: Bools
) -> tuple[Bools, Bools]:
    """Substances that stand alone in a sample that also has their peak: those with the same number, and the others.

    A congener beside its coeluting group, or benzo(b)fluoranthene beside a peak of b and j: the peak holds it already.
    """
    same = np.zeros(len(numbers), dtype=bool)
    other = np.zeros(len(numbers), dtype=bool)
    facts = substances.facts
    members = [tuple(one) for one in facts["members"]] if len(facts) else []
    groups = facts["group"].to_numpy(dtype=object) if len(facts) else np.zeros(0, dtype=object)
    whole = np.isin(facts["kind"], ("single", "peak")) if len(facts) else np.zeros(0, dtype=bool)
    places = {name: place for place, name in enumerate(substances.names)}
    for peak in np.flatnonzero(whole & np.array([len(one) > 1 for one in members], dtype=bool)):
        rows = np.flatnonzero(open_ & (substances.codes == peak))
        if not len(rows):
            continue
        inside = [
            place
            for place, name in enumerate(substances.names)
            if whole[place]
            and groups[place] == groups[peak]
            and place != peak
            and set(members[place]) < set(members[peak])
            and places.get(name) == place
        ]
        figures = np.full(len(sample.texts), np.nan)
        present = np.zeros(len(sample.texts), dtype=bool)
        present[sample.codes[rows]] = True
        figures[sample.codes[rows]] = numbers[rows]
        hit = open_ & np.isin(substances.codes, inside) & present[sample.codes]
        equal = hit & np.isclose(numbers, figures[sample.codes], rtol=1e-9, atol=0.0)
        same |= equal
        other |= hit & ~equal
    return same, other
