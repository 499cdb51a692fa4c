"""Whether parts of the reach differ. In: observations, places. Out: one row per substance and pair or row of groups.

Compared are the surface results of the places of reach.csv: upstream and downstream, site and reference, and the zones.
Ranks where no result is censored or all share one limit, else the Peto-Peto test. A group below 4 independent results
is left out, and no claim is made where fewer than two groups remain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats
from screen.model import COMPARISONS, Batch
from screen.settings import Settings
from screen.stages.compare.places.observations import Observations, observe
from screen.stages.compare.places.places import independent_units, surface
from screen.stages.compare.places.rank_tests import SIGNIFICANT, Tested, censored_test, holm, rank_test
from screen.stages.compare.places.reach import places_of

__all__ = ["LEAST", "compare_places"]

#: Independent results that each group needs ("at least 4 to 8 per group", methods handbook 6.1, after Helsel 2012).
LEAST = 4
_ASSUMED = {
    "Mann-Whitney": "assumes independent results and tests for a shift between distributions of like shape",
    "Kruskal-Wallis": "assumes independent results and tests for a shift between distributions of like shape",
    "Peto-Peto": "assumes independent results and limits that do not depend on the group",
}


def compare_places(
    batch: Batch, totals: pd.DataFrame, settings: Settings, *, observed: Observations | None = None
) -> pd.DataFrame:
    """Columns COMPARISONS, by groups compared and then in the order of substances.

    ``p`` is two-sided; ``p_holm`` is adjusted by Holm (1979) for all substances of the same groups, and ``outcome``
    goes by it: ``differ``, ``no difference shown`` or ``too few``. Lists have one entry per group, in the order of
    ``groups``; a median that lies among non-detects is empty.
    """
    rows = observed or observe(batch, totals)
    rows = rows.take(surface(rows.samples)[rows.sample])
    parts = [_compared(rows, labels, place_of) for labels, place_of in _families(batch.samples, settings)]
    table = pd.DataFrame([row for part in parts for row in _adjusted(part)], columns=COMPARISONS)
    texts = [name for name in COMPARISONS if name not in ("statistic", "p", "p_holm")]
    numbers = dict.fromkeys(("statistic", "p", "p_holm"), np.float64)
    return table.astype(numbers | dict.fromkeys(texts, object)).astype(dict.fromkeys(texts, "category"))


def _families(samples: pd.DataFrame, settings: Settings) -> list[tuple[list[str], Codes]]:
    """Places that are compared with each other: their names, and the place of each sample (-1 for none)."""
    fixed: dict[str, Codes] = {}
    families: list[tuple[list[str], Codes]] = []
    for labels, place_of in places_of(samples, settings):
        if len(labels) == 1:
            fixed[labels[0]] = place_of
        elif len(labels) > 1:
            families.append((labels, place_of))
    pairs = [pair for pair in (("upstream", "downstream"), ("site", "reference")) if set(pair) <= fixed.keys()]
    return [(list(pair), np.where(fixed[pair[0]] >= 0, 0, np.where(fixed[pair[1]] >= 0, 1, -1))) for pair in pairs] + (
        families
    )


@dataclass(frozen=True, slots=True)
class _Group:
    """The results of one substance in one place: figure (value, or limit where not detected)."""

    name: str
    figure: Floats
    detected: Flags
    open: bool
    independent: int

    @property
    def median(self) -> str:
        """The median as a text, empty where non-detects leave it open."""
        low = np.sort(np.where(self.detected, self.figure, 0.0))
        high = np.sort(self.figure)
        at = [(len(low) - 1) // 2, len(low) // 2]
        least, most = low[at].mean(), high[at].mean()
        return repr(float(least)) if least == most else ""


def _compared(rows: Observations, labels: Sequence[str], place_of: Codes) -> list[dict[str, object]]:
    place = place_of[rows.sample]
    units = independent_units(rows.samples)[rows.sample]
    detected = ~np.isnan(rows.value)
    figure = np.where(detected, rows.value, rows.high)
    order = np.lexsort((place, rows.measure))
    order = order[place[order] >= 0]
    told: list[dict[str, object]] = []
    names, medians_unit, rules = (rows.measures[name].to_numpy(dtype=object) for name in ("substance", "unit", "rule"))
    for part in np.split(order, np.flatnonzero(np.diff(rows.measure[order])) + 1):
        if not len(part):
            continue
        measure = int(rows.measure[part[0]])
        groups = []
        for at in np.unique(place[part]):
            here = part[place[part] == at]
            groups.append(
                _Group(
                    labels[int(at)],
                    figure[here],
                    detected[here],
                    bool(np.isnan(figure[here]).any()),
                    len(np.unique(units[here])),
                )
            )
        if len(groups) > 1:
            told.append(
                {"layer": "surface", "substance": names[measure], "unit": medians_unit[measure]}
                | _judged(groups, str(rules[measure] or ""))
            )
    return told


def _judged(groups: list[_Group], rule: str) -> dict[str, object]:
    enough = [one for one in groups if one.independent >= LEAST and not one.open]
    used = enough if len(enough) > 1 else groups
    row: dict[str, object] = {
        "groups": ";".join(one.name for one in used),
        "n": ";".join(str(len(one.figure)) for one in used),
        "detects": ";".join(str(int(one.detected.sum())) for one in used),
        "medians": ";".join("" if one.open else one.median for one in used),
        "sided": "two",
    }
    notes = [f"sums by the rule {rule}"] if rule else []
    if len(enough) < 2:
        why = (
            "a result has no known upper bound"
            if any(one.open for one in groups)
            else f"fewer than {LEAST} independent results in a group"
        )
        return row | {"outcome": "too few", "note": "; ".join([*notes, f"no test: {why}"])}
    left_out = [one.name for one in groups if one not in enough]
    if left_out:
        notes.append(f"left out for too few results: {', '.join(left_out)}")
    found = _test(enough)
    if found is None:
        return row | {"outcome": "too few", "note": "; ".join([*notes, "no test: no two results can be told apart"])}
    if found.name != "Peto-Peto" and not all(one.detected.all() for one in enough):
        notes.append("results below the one limit are tied")
    if any(one.independent < len(one.figure) for one in enough):
        notes.append("intervals of one core are not independent")
    notes.append(_ASSUMED[found.name])
    return row | {"test": found.name, "statistic": found.statistic, "p": found.p, "note": "; ".join(notes)}


def _test(groups: list[_Group]) -> Tested | None:
    figure, detected = (np.concatenate([getattr(one, name) for one in groups]) for name in ("figure", "detected"))
    group = np.repeat(np.arange(len(groups)), [len(one.figure) for one in groups])
    limits = np.unique(figure[~detected])
    if len(limits) <= 1:
        tied = np.where(detected & (figure > limits.max(initial=-np.inf)), figure, limits.max(initial=-np.inf))
        ranked = figure if not len(limits) else tied
        return rank_test(ranked, group) if np.ptp(ranked) > 0 else None
    return censored_test(figure, detected, group) if detected.any() else None


def _adjusted(rows: list[dict[str, object]]) -> list[dict[str, object]]:
    """The rows with ``p_holm`` and the outcome of those that were tested."""
    tested = [row for row in rows if isinstance(row.get("p"), float)]
    p = np.array([row["p"] for row in tested], dtype=np.float64)
    for row, own, adjusted in zip(tested, p, holm(p), strict=True):
        row["p_holm"] = float(adjusted)
        row["outcome"] = "differ" if adjusted < SIGNIFICANT else "no difference shown"
        if own < SIGNIFICANT <= adjusted:
            row["note"] = f"{row['note']}; p is below 0.05 before it is adjusted for {len(tested)} substances"
    return rows
