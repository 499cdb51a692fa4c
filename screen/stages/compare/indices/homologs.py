"""Distribution of PCBs over chlorine numbers: in go congeners or homolog sums, out come shares in per cent.

Shown beside what was published of Aroclors (`guidelines/coefficients/aroclor_homologs.csv`), never as one verdict.
"""

from __future__ import annotations

import numpy as np

from screen.columns import Codes, Flags, Floats
from screen.reference.locate import read_table
from screen.stages.compare.findings.source import Source
from screen.stages.compare.indices.index_rows import IndexRows
from screen.stages.sums.peaks import unit_factor

__all__ = ["chlorines_of", "homolog_shares"]

#: The lowest congener number of each chlorine number, from one chlorine to ten (Ballschmiter and Zell 1980).
FIRST_NUMBERS = np.array([1, 4, 16, 40, 82, 128, 170, 194, 206, 209])
_WORDS = ("Mono", "Di", "Tri", "Tetra", "Penta", "Hexa", "Hepta", "Octa", "Nona", "Deca")
_HOMOLOGS = {f"Total {word}chlorobiphenyls": place for place, word in enumerate(_WORDS)}
#: Fewer measured congeners than the shortest published list for a total make no distribution (our choice).
_AT_LEAST = 18
_MIXED = len(_WORDS)


def chlorines_of(congener: int) -> int:
    """How many chlorines the PCB congener of that number (1 to 209) has."""
    return int(np.searchsorted(FIRST_NUMBERS, congener, side="right"))


def homolog_shares(source: Source) -> list[IndexRows]:
    """Per cent of the sum for each chlorine number, in the value by what was detected.

    From a sample's homolog sums where all ten were reported, else from its congeners where at least 18 were. A peak
    that spans chlorine numbers has a row of its own. ``low`` takes the share's own limits as 0 and all others in full,
    ``high`` the other way round.
    """
    stated = _Sums(source, _homolog_places(source))
    own = _Sums(source, _congener_places(source))
    whole = np.asarray(stated.measured[:, :_MIXED].all(axis=1))
    enough = ~whole & (own.members >= _AT_LEAST)
    notes = _notes()
    return [
        *_shares(stated, whole, notes, "the reported homolog sums"),
        *_shares(own, enough, notes, "the measured congeners"),
    ]


class _Sums:
    """Sums by sample and chlorine number (the last column: peaks of several): detected, low, high; what was measured.

    ``members`` counts the measured congeners of each sample, those in a peak each by itself.
    """

    def __init__(self, source: Source, places: list[int]) -> None:
        results, names = source.results, source.names
        width, count = _MIXED + 1, len(source.samples)
        place = np.append(np.array(places, dtype=np.int64), -1)
        to = np.append([unit_factor(unit, "ug/kg") for unit in names.units], np.nan)
        inside = source.used & (results.sample >= 0) & (place[results.name] >= 0)
        rows = np.flatnonzero(inside)
        sample, name = results.sample[rows], results.name[rows]
        key = sample * width + place[name]

        def sums(figures: Floats) -> Floats:
            flat = np.bincount(key, weights=figures[rows] * to[name], minlength=count * width)
            return flat.reshape(count, width).astype(np.float64)

        low = np.nan_to_num(results.low)  # of a limit that is unknown, too, the least is nothing
        found = np.where(np.isnan(results.value), low, results.value)
        self.value, self.low, self.high = sums(found), sums(low), sums(results.high)
        self.measured = np.bincount(key, minlength=count * width).reshape(count, width) > 0
        size = np.array([len(own) for own in names.members] + [0], dtype=np.float64)
        self.members = np.bincount(sample, weights=size[name], minlength=count)


def _homolog_places(source: Source) -> list[int]:
    return [_HOMOLOGS.get(name, -1) for name in source.names.names]


def _congener_places(source: Source) -> list[int]:
    places = []
    for own, name, group in zip(source.names.members, source.names.names, source.names.groups, strict=True):
        if group != "pcb-congener" or not all(one.startswith("PCB-") for one in own) or name in _HOMOLOGS:
            places.append(-1)
            continue
        met = {chlorines_of(int(one.removeprefix("PCB-"))) - 1 for one in own}
        places.append(met.pop() if len(met) == 1 else _MIXED)
    return places


def _shares(sums: _Sums, on: Flags, notes: list[str], of: str) -> list[IndexRows]:
    together = sums.value.sum(axis=1)
    low_of_all, high_of_all = sums.low.sum(axis=1), sums.high.sum(axis=1)
    counts = sums.members.astype(np.int64)
    texts = np.array([f"{count} congeners" for count in range(counts.max(initial=0) + 1)], dtype=object)
    blocks = []
    for place in range(_MIXED + 1):
        rows: Codes = np.flatnonzero(on & sums.measured[:, place] & (together > 0))
        if not len(rows):
            continue
        low, high = sums.low[rows, place], sums.high[rows, place]
        other_low, other_high = low_of_all[rows] - low, high_of_all[rows] - high
        share = 100.0 * sums.value[rows, place] / together[rows]
        with np.errstate(divide="ignore", invalid="ignore"):
            least = np.where(low > 0, 100.0 * low / (low + other_high), 0.0)
            most = np.where(high > 0, 100.0 * high / (high + np.maximum(other_low, 0.0)), 0.0)
        blocks.append(
            IndexRows(
                rows,
                f"ratio-homolog-{place + 1}" if place < _MIXED else "ratio-homolog-mixed",
                "",
                share,
                np.fmin(np.nan_to_num(least), share),
                np.where(np.isnan(high), 100.0, np.fmax(most, share)),
                "%",
                f"share of {of}; Aroclors: NOAA 2008, OR&R Report 08-1, p. 28",
                texts[counts[rows]] if "congeners" in of else of,
                notes[place],
                evidence="seen",
            )
        )
    return blocks


def _notes() -> list[str]:
    """What the Aroclors have of each chlorine number, as printed; one note for each."""
    table = read_table("coefficients/aroclor_homologs.csv")
    notes = []
    for number in range(1, _MIXED + 1):
        few = table[table["chlorines"] == str(number)]
        printed = [
            f"{name.removeprefix('Aroclor ')} {share}{'' if share == 'trace' else ' %'}"
            for name, share in zip(few["aroclor"], few["weight_pct"], strict=True)
        ]
        notes.append(
            f"{number} chlorine{'s' if number > 1 else ''}; weight of it in Aroclors as made: {', '.join(printed)}"
            if printed
            else f"{number} chlorines; none printed for the Aroclors"
        )
    return [*(f"{one}; patterns weather, and a partial list distorts them" for one in notes), "peaks that span "
            "chlorine numbers"]  # fmt: skip
