"""Totals of each sample by the stated rules: in go results on dry weight, out comes one row per sample, total and rule.

Every peak is added once and whole, in an order of substances that no row order can change, in the total's unit. The
bounds are the sums of the members' bounds; the value follows the rule for members that were not detected.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts, coded, flagged, joined, recoded, spread
from screen.kaplan_meier import kaplan_meier
from screen.model import TOTALS
from screen.stages.sums.lab_totals import beside_lab_totals
from screen.stages.sums.nondetects import KM_DETECTS, SHARES, substituted
from screen.stages.sums.peaks import Belonging, Names, belonging, look_up

if TYPE_CHECKING:
    from screen.reference.rules import SumRules

__all__ = ["total"]

_KINDS = ("exact", "nondetect", "trace", "more-than", "estimated-maximum")
_EXACT, _NONDETECT, _TRACE, _MORE_THAN, _MAXIMUM = range(5)


def total(
    results: pd.DataFrame,
    rules: SumRules | None = None,
    nondetects: Sequence[str] = ("zero",),
    *,
    lab_totals: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Every total of every sample that has a part of it: columns TOTALS, by sample, total and rule.

    ``results`` has the columns RESULTS with figures on dry weight, and ``estimated``; rows that are not ``used`` are
    not measured here. ``rules`` are the built-in ones unless given; ``nondetects`` are rules among zero, half, root2,
    full, km. ``lab_totals`` (the same columns) are set beside ours and never added. Raises ValueError for an unknown
    rule.
    """
    if rules is None:
        from screen.reference.rules import sum_rules

        rules = sum_rules()
    for rule in nondetects:
        if rule not in (*SHARES, "km"):
            raise ValueError(f"{rule!r} is no rule for non-detects: use zero, half, root2, full or km.")
    rows = _sorted_rows(results)
    by_total = {str(name): part for name, part in rules.members.groupby("total", sort=False, observed=True)}
    blocks: list[pd.DataFrame] = []
    for number, (name, row) in enumerate(zip(rules.totals.index, rules.totals.to_dict("records"), strict=True)):
        rule_of_total = {str(key): value for key, value in row.items()}
        members = by_total[str(name)]
        blocks += [
            block.assign(_number=number)
            for block in _one_total(rows, str(name), rule_of_total, members, list(dict.fromkeys(nondetects)))
        ]
    table = pd.concat(blocks, ignore_index=True) if blocks else pd.DataFrame(columns=["_sample", "_number", "_rule"])
    table = _not_less_than(table, rules)
    table = _as_frame(table, rows, rules)
    return beside_lab_totals(table, lab_totals, rules)


@dataclass(frozen=True, slots=True)
class _Rows:
    """The used rows that can be summed, sorted by sample and by the fixed order of substances."""

    samples: Texts
    stations: Texts
    names: Names
    sample: Codes
    name: Codes
    kind: Codes
    value: Floats
    low: Floats
    high: Floats
    limit: Floats
    estimated: Flags
    rejected: tuple[Codes, Codes]


def _sorted_rows(results: pd.DataFrame) -> _Rows:
    names = look_up(coded(results["substance"])[1])
    name = recoded(results["substance"], names.names)
    sample_texts = coded(results["sample"])[1]
    samples = np.array(sorted(sample_texts, key=str), dtype=object)
    sample = recoded(results["sample"], samples)
    used = results["used"].to_numpy(dtype=bool) & (name >= 0) & (sample >= 0)
    order = np.flatnonzero(used)
    order = order[np.lexsort((name[order], sample[order]))]
    if len(order):
        same = (sample[order][1:] == sample[order][:-1]) & (name[order][1:] == name[order][:-1])
        order = order[np.append(True, ~same)]
    station_codes, station_texts = coded(results["station"])
    stations = np.full(len(samples), None, dtype=object)
    stated = (station_codes >= 0) & (sample >= 0)
    stations[sample[stated]] = station_texts[station_codes[stated]]
    away = np.flatnonzero((results["why_not"] == "rejected-by-lab").to_numpy() & (sample >= 0))

    def number(column: str) -> Floats:
        return results[column].to_numpy(dtype=np.float64)[order]

    limit, high = number("limit"), number("high")
    return _Rows(
        samples,
        stations,
        names,
        sample[order],
        name[order],
        recoded(results["kind"], _KINDS)[order],
        number("value"),
        np.nan_to_num(number("low")),
        high,
        np.where(np.isnan(limit), high, limit),
        results["estimated"].to_numpy(dtype=bool)[order]
        if "estimated" in results
        else np.zeros(len(order), dtype=bool),
        (sample[away], name[away]),
    )


def _one_total(
    rows: _Rows, name: str, rule: dict[str, object], members: pd.DataFrame, nondetects: Sequence[str]
) -> list[pd.DataFrame]:
    """The rows of one total, one block for each rule for non-detects."""
    weights = dict(zip(members["substance"].astype(object), members["weight"].astype(float), strict=True))
    part = belonging(rows.names, weights, str(rule["unit"]), str(rule["group"]))
    inside = _without_stand_ins(rows, np.flatnonzero(~np.isnan(part.scale[rows.name])))
    if not len(inside):
        return []
    sample, peak, kind = rows.sample[inside], rows.name[inside], rows.kind[inside]
    starts = np.flatnonzero(np.append(True, sample[1:] != sample[:-1]))
    scale = part.scale[peak]
    value, low, high = rows.value[inside] * scale, rows.low[inside] * scale, rows.high[inside] * scale
    limit = rows.limit[inside] * scale
    factor = float(rule["factor"])  # type: ignore[arg-type]

    def count(flags: Flags) -> Codes:
        return np.add.reduceat(flags.astype(np.int64), starts)

    detected = kind != _NONDETECT
    quantified = count(~np.isnan(value)) > 0
    cover = _coverage(part, rows.names, peak, starts, members)
    unknown = np.isnan(high) & ((kind == _NONDETECT) | (kind == _TRACE))
    high_sum = np.add.reduceat(high, starts) * factor
    from_limits = np.add.reduceat(np.where(detected, 0.0, high), starts) * factor
    common = {
        "_sample": sample[starts],
        "_total": name,
        "low": np.add.reduceat(low, starts) * factor,
        "high": high_sum,
        "detected": count(detected) > 0,
        "_estimated": count(detected & rows.estimated[inside]) > 0,
        "members": len(weights),
        "measured": cover.measured,
        "peaks": count(np.ones(len(peak), dtype=bool)),
        "detects": count(detected),
        "complete": _complete(cover, rule),
        "missing": cover.missing,
        "counted_once": cover.counted_once,
        "factor": factor,
    }
    at_least = rule.get("at_least")
    enough = cover.measured >= (int(at_least) if isinstance(at_least, (int, float)) and at_least == at_least else 1)
    blocks = []
    for wanted in nondetects:
        notes = [
            (count(unknown) > 0, "limit of a member not detected is unknown"),
            (quantified & (from_limits > 0.5 * high_sum), "more than half of the upper bound comes from limits"),
        ]
        shares = substituted(value, low, high, "zero" if wanted == "km" else wanted)
        sums = np.add.reduceat(shares, starts) * factor
        if wanted == "km":
            sums, failed = _km(rows, inside, part, starts, sums, (value, limit, kind), factor)
            sums = np.fmin(np.fmax(sums, common["low"]), common["high"])  # type: ignore[call-overload]
            notes.append(
                (
                    failed,
                    "conditions of km not met (3 detected, fewer than half not detected, none rejected): zero used",
                )
            )
        highest = np.where(count(unknown) > 0, np.nan, np.fmax.reduceat(limit, starts) * factor)
        as_limit = highest if wanted in ("zero", "km") else np.where(count(unknown) > 0, np.nan, sums)
        block = pd.DataFrame(
            common
            | {
                "_rule": wanted,
                "value": np.where(quantified, sums, np.nan),
                "limit": np.where(quantified, np.nan, as_limit),
                "note": joined([cover.note, *(flagged(*one) for one in notes)], len(starts)),
            }
        )
        blocks.append(block[enough] if not enough.all() else block)
    return blocks


def _without_stand_ins(rows: _Rows, inside: Codes) -> Codes:
    """``inside`` without the rows that are counted as a substance which the sample has a row of its own for."""
    stand_in = rows.names.stand_ins[rows.name[inside]]
    if not stand_in.any():
        return inside
    place = {name: i for i, name in enumerate(rows.names.names)}
    real = np.array([place.get(own[0], -1) if own else -1 for own in rows.names.members], dtype=np.int64)
    width = len(rows.names.names)
    own_key = rows.sample[inside] * width + rows.name[inside]
    real_key = rows.sample[inside] * width + real[rows.name[inside]]
    gone = stand_in & (real[rows.name[inside]] >= 0) & np.isin(real_key, own_key)
    return inside[~gone]


def _km(
    rows: _Rows,
    inside: Codes,
    part: Belonging,
    starts: Codes,
    zero: Floats,
    figures: tuple[Floats, Floats, Codes],
    factor: float,
) -> tuple[Floats, Flags]:
    """Kaplan-Meier sums, and where their conditions failed (there the sum with non-detects as zero)."""
    value, limit, kind = figures
    censored = kind == _NONDETECT
    figure = np.where(censored, limit, value)
    size = np.diff(np.append(starts, len(kind)))
    undetected = np.add.reduceat(censored.astype(np.int64), starts)
    odd = np.isnan(figure) | (kind == _MORE_THAN)
    away_sample, away_name = rows.rejected
    rejected = np.zeros(len(rows.samples), dtype=bool)
    rejected[away_sample[~np.isnan(part.scale[away_name])]] = True
    failed = (
        (size - undetected < KM_DETECTS)
        | (undetected * 2 >= size)
        | (np.add.reduceat(odd.astype(np.int64), starts) > 0)
        | rejected[rows.sample[inside][starts]]
    )
    groups = np.repeat(np.arange(len(starts)), size)
    means = kaplan_meier(groups, np.where(odd, 0.0, figure), ~censored, len(starts)).mean
    return np.where(failed, zero, means * size * factor), failed


@dataclass(frozen=True, slots=True)
class _Cover:
    """What was measured of a total in each sample: counts, and texts coded by pattern."""

    measured: Codes
    needed_missing: Codes
    missing: pd.Categorical
    counted_once: pd.Categorical
    note: tuple[Codes, list[str]]


def _coverage(part: Belonging, names: Names, peak: Codes, starts: Codes, members: pd.DataFrame) -> _Cover:
    """Samples with the same peaks share one pattern; each pattern is worked out once."""
    columns = np.flatnonzero(~np.isnan(part.scale))
    place = np.full(len(names.names), -1)
    place[columns] = np.arange(len(columns))
    group = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, len(peak))))
    present = np.zeros((len(starts), len(columns)), dtype=bool)
    present[group, place[peak]] = True
    packed = np.ascontiguousarray(np.packbits(present, axis=1))
    keys = packed.view(f"V{packed.shape[1]}").ravel()
    _, first, pattern = np.unique(keys, return_index=True, return_inverse=True)
    pattern = np.asarray(pattern, dtype=np.int64).ravel()
    patterns = present[first]
    covered = (patterns.astype(np.float32) @ part.covers[columns].astype(np.float32)) > 0
    listed = members["substance"].astype(object).to_numpy()
    needed = members["needed"].to_numpy(dtype=bool)
    missing = [";".join(listed[~row]) for row in covered]
    once, notes = [], []
    for row in patterns:
        own = columns[row]
        once.append(";".join(names.names[i] for i in own if names.with_others[i]))
        notes.append(_pattern_note(part, names, own))
    return _Cover(
        covered.sum(axis=1).astype(np.int64)[pattern],
        (needed[None, :] & ~covered).sum(axis=1).astype(np.int64)[pattern],
        spread(pattern, missing),
        spread(pattern, once),
        (pattern, notes),
    )


def _pattern_note(part: Belonging, names: Names, own: Codes) -> str:
    parts = []
    outside = [names.names[i] for i in own if part.unlisted[i]]
    if outside:
        parts.append(f"includes unlisted coeluters: {', '.join(outside)}")
    mixed = [names.names[i] for i in own if part.mixed[i]]
    if mixed:
        parts.append(f"highest factor taken for the whole of: {', '.join(mixed)}")
    return "; ".join(parts)


def _complete(cover: _Cover, rule: dict[str, object]) -> Flags:
    complete_at = rule.get("complete_at")
    if isinstance(complete_at, (int, float)) and complete_at == complete_at:
        return np.asarray(cover.measured >= int(complete_at))
    return np.asarray(cover.needed_missing == 0)


def _not_less_than(table: pd.DataFrame, rules: SumRules) -> pd.DataFrame:
    """A total that must not be less than another is incomplete where the other is larger (contract 2, pcb-nst18x2)."""
    for name, other in rules.totals["not_less_than"].items():
        if not isinstance(other, str) or not other or table.empty:
            continue
        own = (table["_total"] == name).to_numpy()
        theirs = table.loc[table["_total"] == other, ["_sample", "_rule", "value"]].rename(columns={"value": "_other"})
        beside = (
            table.loc[own, ["_sample", "_rule"]].merge(theirs, on=["_sample", "_rule"], how="left")["_other"].to_numpy()
        )
        value = table.loc[own, "value"].to_numpy()
        larger = (beside > value * (1 + 1e-12)) | (np.isnan(value) & ~np.isnan(beside))
        rows = np.flatnonzero(own)[larger]
        if len(rows):
            complete = table["complete"].to_numpy(dtype=bool).copy()
            complete[rows] = False
            note = table["note"].astype(object)
            extra = f"{other} is larger"
            note.iloc[rows] = [f"{text}; {extra}" if isinstance(text, str) else extra for text in note.iloc[rows]]
            table = table.assign(complete=complete, note=note)
    return table


def _as_frame(table: pd.DataFrame, rows: _Rows, rules: SumRules) -> pd.DataFrame:
    """The contract's columns, with coded texts, by sample, total and rule."""
    if table.empty:
        return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in _TYPES.items()})[TOTALS]
    table = table.sort_values(["_sample", "_number"], kind="stable", ignore_index=True)
    ids = rules.totals.index.to_numpy(dtype=object)
    number = table["_number"].to_numpy(dtype=np.int64)
    sample = table["_sample"].to_numpy(dtype=np.int64)
    none = np.full(len(table), np.nan)
    return table.assign(
        sample=spread(sample, rows.samples),
        station=spread(sample, rows.stations),
        total=spread(number, ids),
        name=spread(number, rules.totals["name"].astype(object).to_numpy()),
        unit=spread(number, rules.totals["unit"].astype(object).to_numpy()),
        rule=pd.Categorical(table["_rule"].astype(object)),
        qualifier=spread(np.where(table["_estimated"], 0, -1).astype(np.int64), ["J"]),
        missing=pd.Categorical(table["missing"].astype(object)),
        counted_once=pd.Categorical(table["counted_once"].astype(object)),
        note=pd.Categorical(table["note"].astype(object)),
        lab_total=none,
        lab_difference_pct=none,
    )[TOTALS]


_TYPES = dict.fromkeys(TOTALS, "category") | dict.fromkeys(
    ("value", "low", "high", "limit", "factor", "lab_total", "lab_difference_pct"), "float64"
)
_TYPES |= dict.fromkeys(("members", "measured", "peaks", "detects"), "int64") | {"detected": "bool", "complete": "bool"}
