"""Change between two runs at the same stations. In: an earlier run's folder, this run's stations. Out: CHANGE.

A ratio is given only between means of one kind: the same unit, way to the mean, rule of a sum and analytical method.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from screen.columns import flagged, joined, texts_of
from screen.model import CHANGE
from screen.stages.read.earlier import read_earlier

__all__ = ["compare_runs"]

_KEYS = ["station", "layer", "substance"]
_PARTIAL = "some of the sums lack members"
_MEANS = ("arithmetic mean", "Kaplan-Meier mean")


def compare_runs(earlier: Path, stations: pd.DataFrame, results: pd.DataFrame | None = None) -> pd.DataFrame:
    """Columns CHANGE for the stations of both runs, in this run's order, then what only the earlier one measured.

    ``stations`` has the columns STATIONS; ``earlier`` and ``now`` are means, ``ratio`` is now over earlier. With
    ``results`` (RESULTS) analytical methods are compared too. Raises SettingsError where ``earlier`` is no earlier run.
    """
    before = read_earlier(earlier)
    now = pd.DataFrame({name: texts_of(stations[name]) for name in (*_KEYS, "unit", "method", "note")})
    now["mean"] = stations["mean"].to_numpy(dtype=float)
    common = set(now["station"]) & set(before.stations["station"])
    left, right = (frame[frame["station"].isin(common)] for frame in (now, before.stations))
    left, right = (frame.assign(rule=frame["method"].map(_rule)) for frame in (left, right))
    both = left.merge(right, on=[*_KEYS, "rule"], how="outer", suffixes=("", "_before"), sort=False, indicator=True)
    both = both.set_index(pd.MultiIndex.from_frame(both[[*_KEYS, "rule"]]))
    order = [*pd.MultiIndex.from_frame(left[[*_KEYS, "rule"]]), *_only(right, left)]
    both = both.reindex(pd.MultiIndex.from_tuples(order, names=[*_KEYS, "rule"])).reset_index(drop=True)
    if both.empty:
        return pd.DataFrame(columns=CHANGE)
    reasons = [
        (both["_merge"] == "left_only", "not measured in the earlier run"),
        (both["_merge"] == "right_only", "not measured in this run"),
        ((both["_merge"] == "both") & both["mean_before"].isna(), "the earlier run has no mean"),
        ((both["_merge"] == "both") & both["mean"].isna(), "this run has no mean"),
        (_differ(both["unit"], both["unit_before"]), "units differ"),
        (_differ(both["method"].map(_way), both["method_before"].map(_way)), "the means were made in different ways"),
        (_partial(both["note"]) != _partial(both["note_before"]), "the sums lack members in one of the runs"),
        (_methods_differ(both, before.methods, results), "analytical methods differ"),
    ]
    flags = np.column_stack([np.asarray(flag.fillna(False), dtype=bool) for flag, _ in reasons])
    flags[(both["_merge"] != "both").to_numpy(), 2:] = False
    note = joined([flagged(flags[:, at], text) for at, (_, text) in enumerate(reasons)], len(flags))
    comparable = ~flags.any(axis=1) & (both["mean_before"] > 0).to_numpy(dtype=bool)
    ratio = np.where(comparable, both["mean"] / both["mean_before"], np.nan)
    made = both[_KEYS].assign(earlier=both["mean_before"], now=both["mean"], ratio=ratio)
    made["unit"], made["note"] = both["unit"].fillna(both["unit_before"]), note
    return made.assign(**{name: pd.Categorical(made[name]) for name in (*_KEYS, "unit")})[CHANGE]


def _only(right: pd.DataFrame, left: pd.DataFrame) -> list[tuple[str, ...]]:
    keys = [*_KEYS, "rule"]
    known = pd.MultiIndex.from_frame(left[keys])
    return [key for key in pd.MultiIndex.from_frame(right[keys]) if key not in known]


def _rule(method: str) -> str:
    """The rule of the sum that a method names, if any."""
    return next((part.rpartition(" ")[2] for part in method.split("; ") if part.startswith("sums by the rule ")), "")


def _way(method: object) -> str:
    """How a mean was made; one result is its own arithmetic mean."""
    return next((way for way in _MEANS if way in str(method)), _MEANS[0] if "one result" in str(method) else "")


def _differ(one: pd.Series, other: pd.Series) -> pd.Series:
    return (one.fillna("") != other.fillna("")) & (one.fillna("") != "") & (other.fillna("") != "")


def _partial(notes: pd.Series) -> pd.Series:
    return notes.fillna("").str.contains(_PARTIAL, regex=False)


def _methods_differ(both: pd.DataFrame, before: pd.DataFrame, results: pd.DataFrame | None) -> pd.Series:
    """Where both runs name analytical methods of a station and substance, and not the same ones."""
    if results is None:
        return pd.Series(False, index=both.index)
    used = results[results["used"].astype(bool)].drop_duplicates(["station", "substance", "method"])
    now = pd.DataFrame({name: texts_of(used[name]) for name in ("station", "substance", "method")})
    first, second = _by_place(now), _by_place(before)
    keys = pd.MultiIndex.from_frame(both[["station", "substance"]])
    return _differ(
        pd.Series(first.reindex(keys).to_numpy(), index=both.index),
        pd.Series(second.reindex(keys).to_numpy(), index=both.index),
    )


def _by_place(methods: pd.DataFrame) -> pd.Series:
    named = methods[methods["method"] != ""]
    ordered = named.sort_values(["station", "substance", "method"])
    return ordered.groupby(["station", "substance"])["method"].agg(";".join)
