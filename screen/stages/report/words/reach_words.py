"""What the tables say of the reach, in sentences. In: a finished run. Out: steps along the river, layers of cores.

A sentence is made only of what the guideline sets speak of, and only where enough was measured: a step needs three
stations on each side, a layer three intervals. Non-detects count with both their bounds: what they leave open is said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.columns import texts_of
from screen.model import Run
from screen.reference.rules import sum_rules
from screen.stages.compare.places.trends import LEAST_STATIONS as LEAST_FOR_TREND
from screen.stages.report.numbers import MINUS, counted, depths, figure, given, listed

__all__ = ["Step", "core_sentences", "reach_sentences", "steps", "total_name", "trend_sentences"]

#: A step is told from this factor on (our choice), between sides of at least so many stations.
LEAST_FACTOR = 2.0
LEAST_STATIONS = 3
LEAST_INTERVALS = 3
_MOST = 4


@dataclass(frozen=True, slots=True)
class Step:
    """Where surface values of ``substance`` step along the river: mean of one side over that of the other.

    ``higher`` is ``downstream`` or ``upstream``; the step lies between the stations ``below`` and ``above`` (the latter
    farther from the mouth); ``least`` and ``most`` are the factors with non-detects at their bounds.
    """

    substance: str
    higher: str
    below: str
    above: str
    factor: float
    least: float
    most: float
    counts: tuple[int, int]

    @property
    def settled(self) -> bool:
        """Whether the step stands whatever the non-detects are."""
        return self.least >= LEAST_FACTOR


def reach_sentences(run: Run) -> list[str]:
    """At most four sentences on steps along the river, the largest first, then one for the cores of each substance."""
    found = sorted(steps(run), key=lambda one: (-one.factor, one.substance))[:_MOST]
    return [_of_step(one) for one in found] + core_sentences(run)


def steps(run: Run) -> list[Step]:
    """The largest step of each substance that the sets speak of, without reference stations.

    Of several totals of one name, the one that most findings compare stands for it.
    """
    table = run.stations
    names = texts_of(table["substance"])
    chosen = (
        (texts_of(table["layer"]) == "surface")
        & (texts_of(table["role"]) != "reference")
        & np.isin(names, list(_spoken_of(run)))
        & table["river_km"].notna().to_numpy()
    )
    rows = table[chosen].assign(substance=names[chosen], station=texts_of(table["station"])[chosen])
    rows = rows.assign(method=texts_of(rows["method"])).drop_duplicates(["substance", "station"])
    made = []
    for substance, part in rows.groupby("substance", sort=False):
        step = _largest(str(substance), part.sort_values(["river_km", "station"], kind="stable"))
        if step is not None:
            made.append(step)
    return made


def _spoken_of(run: Run) -> set[str]:
    """Substances and ids of totals that were compared with a level, one total for each guideline sum."""
    findings = run.findings[run.findings["finding"] != "not-assessed"]
    totals, names = texts_of(findings["total"]), texts_of(findings["substance"])
    counts = pd.DataFrame({"name": names, "id": np.where(totals != "", totals, names)}).value_counts().reset_index()
    return {str(one) for one in counts.drop_duplicates("name")["id"]}


def _largest(substance: str, part: pd.DataFrame) -> Step | None:
    low, high = part["mean_low"].to_numpy(dtype=float), part["mean_high"].to_numpy(dtype=float)
    names, km = part["station"].tolist(), part["river_km"].to_numpy(dtype=float)
    known = ~np.isnan(high)
    low, high, km = low[known], high[known], km[known]
    names = [one for one, kept in zip(names, known, strict=True) if kept]
    middle = (low + high) / 2
    best: Step | None = None
    for at in range(LEAST_STATIONS, len(names) - LEAST_STATIONS + 1):
        if km[at] <= km[at - 1]:
            continue
        down, up = middle[:at].mean(), middle[at:].mean()
        higher = "downstream" if down > up else "upstream"
        first, second = (slice(None, at), slice(at, None)) if down > up else (slice(at, None), slice(None, at))
        factor = _ratio(middle[first].mean(), middle[second].mean())
        least, most = _ratio(low[first].mean(), high[second].mean()), _ratio(high[first].mean(), low[second].mean())
        if factor >= LEAST_FACTOR and (best is None or factor > best.factor):
            best = Step(substance, higher, names[at - 1], names[at], factor, least, most, (at, len(names) - at))
    return best


def _ratio(first: float, second: float) -> float:
    return float(first / second) if second > 0 else math.inf


def _of_step(step: Step) -> str:
    down, up = step.counts
    if step.higher == "downstream":
        sides = f"the {down} stations downstream of {step.above} as at the {up} from there upstream"
    else:
        sides = f"the {up} stations upstream of {step.below} as at the {down} from there downstream"
    text = (
        f"{total_name(step.substance)}: surface values are on average {_times(step.factor)} times as high at {sides} "
        f"(the step lies between {step.below} and {step.above}"
    )
    if _times(step.least) != _times(step.most):
        most = "upwards" if math.isinf(step.most) else f"to {_times(step.most)}"
        text += f"; non-detects leave open anything from {_times(step.least)} {most}"
        text += "" if step.settled else ", so the step itself is not settled"
    return text + ")."


def trend_sentences(run: Run) -> list[str]:
    """Which of the substances that the sets speak of go with the distance from the mouth, or why none was tested."""
    table = run.trends
    if table is None or table.empty:
        return []
    rows = table[np.isin(texts_of(table["substance"]), list(_spoken_of(run)))]
    tested = rows[rows["p"].notna()]
    if tested.empty:
        most = int(rows["n"].max()) if len(rows) else 0
        few = f"at most {counted(most, 'station')} with a river km and a result, and a test needs {LEAST_FOR_TREND}"
        return [f"No trend along the river was tested: {few}."] if 1 < most < LEAST_FOR_TREND else []
    fewest, most = int(tested["n"].min()), int(tested["n"].max())
    begin = (
        f"Trend along the river, at {fewest if fewest == most else f'{fewest} to {most}'} stations between km "
        f"{given(float(tested['km_low'].min()))} and {given(float(tested['km_high'].max()))} (Kendall's tau, "
        f"non-detects by their bounds, p adjusted for all {len(table)} substances and sums)"
    )
    outcome = texts_of(tested["outcome"])
    told = []
    for words in ("higher downstream", "higher upstream"):
        found = tested[outcome == words].sort_values(["p", "substance"], kind="stable")
        names = [
            f"{total_name(str(row.substance))} (tau {figure(float(row.tau), 2)}, p {_p(float(row.p_holm))})"
            for row in found.itertuples()
        ]
        if names:
            told.append(f"{words}: {listed(names, _MOST)}")
    return [
        f"{begin}: {'; '.join(told) or f'none shown for any of the {len(tested)} that a set in use has a level for'}."
    ]


def _p(value: float) -> str:
    return "below 0.001" if value < 0.001 else figure(value, 2)


def _times(value: float) -> str:
    return "more than a thousand" if value > 1000 else figure(value, 2)


def total_name(substance: str) -> str:
    """A substance, or a total by its name with its id in brackets: ``Total PAHs (pah-13)``."""
    totals = sum_rules().totals["name"]
    known = substance.removesuffix("-lab")
    return f"{totals[known]} ({substance})" if known in totals.index else substance


def core_sentences(run: Run) -> list[str]:
    """For each core of three intervals or more: at which depth most of what the sets speak of has its peak."""
    table = run.cores
    if table.empty:
        return []
    names = texts_of(table["substance"])
    enough = np.isin(names, list(_spoken_of(run))) & (table["n"].to_numpy() >= LEAST_INTERVALS)
    rows = table[enough].assign(substance=names[enough], core=texts_of(table["core"])[enough])
    rows = rows[rows["peak"].notna()].drop_duplicates(["core", "substance"])
    sentences = []
    for core, part in rows.groupby("core", sort=False):
        counts = part.groupby(["peak_top_cm", "peak_bottom_cm"], sort=True).size()
        top, bottom = (float(one) for one in counts.index[int(counts.to_numpy().argmax())])
        peaked = part[(part["peak_top_cm"] == top) & (part["peak_bottom_cm"] == bottom)]
        text = (
            f"Core {core}: the layer at {depths(top, bottom)} cm below the bed{_elevation(peaked)} holds the most of "
            f"{len(peaked)} of {counted(len(part), 'substance or sum', 'substances and sums')} with a value"
        )
        most = peaked[peaked["surface_to_peak"] > 0].sort_values(["surface_to_peak", "substance"], kind="stable")
        if top > 0 and len(most):
            first = most.iloc[0]
            times = figure(1 / float(first["surface_to_peak"]), 2)
            text += f"; {total_name(str(first['substance']))} is {times} times its surface value there"
        sentences.append(f"{text}.")
    return sentences


def _elevation(peaked: pd.DataFrame) -> str:
    """The elevations of the layer in brackets, where the core has a bed level and a datum."""
    if "peak_top_m" not in peaked or peaked["peak_top_m"].isna().any():
        return ""
    first = peaked.iloc[0]
    ends = f"{float(first['peak_top_m']):.2f} to {float(first['peak_bottom_m']):.2f}".replace("-", MINUS)
    return f" (elevation {ends} m, {first['datum']})"
