"""Totals of each sample by the stated rules: in go results on dry weight, out comes one row per sample, total and rule.

Every peak is added once and whole, in an order of substances that no row order can change, in the total's unit. The
bounds are the sums of the members' bounds; the value follows the rule for members that were not detected.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import (
    Codes,
    Flags,
    Floats,
    Texts,
    by_code,
    coded,
    flagged,
    joined,
    patterns,
    recoded,
    spread,
    stacked,
)
from screen.kaplan_meier import kaplan_meier
from screen.model import TOTALS
from screen.stages.sums.lab_totals import AT_LEAST, beside_lab_totals
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
    asked = tuple(dict.fromkeys(nondetects))
    blocks: list[_Block] = []
    for number, (name, row) in enumerate(zip(rules.totals.index, rules.totals.to_dict("records"), strict=True)):
        rule_of_total = {str(key): value for key, value in row.items()}
        blocks += _one_total(rows, number, rule_of_total, by_total[str(name)], asked)
    table = _not_less_than(_stacked(blocks, len(rules.totals)), rules) if blocks else pd.DataFrame()
    table = _as_frame(table, rows, rules, asked)
    return beside_lab_totals(table, lab_totals, rules)


#: Columns of one total under one rule: ``_sample``, ``_number`` and ``_rule`` (codes), and those of TOTALS.
_Block = dict[str, npt.NDArray[Any] | pd.Categorical]


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
    order = order[by_code(sample[order] * len(names.names) + name[order])]
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
    rows: _Rows, number: int, rule: dict[str, object], members: pd.DataFrame, nondetects: Sequence[str]
) -> list[_Block]:
    """The rows of one total, one block for each rule for non-detects."""
    weights = dict(zip(members["substance"].astype(object), members["weight"].astype(float), strict=True))
    part = belonging(rows.names, weights, str(rule["unit"]), str(rule["group"]))
    counted = ~np.isnan(part.scale)
    if not counted.any():
        return []
    inside = _without_stand_ins(rows, np.flatnonzero(counted[rows.name]))
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
    size = len(starts)
    common: _Block = {
        "_sample": sample[starts],
        "_number": np.full(size, number),
        "low": np.add.reduceat(low, starts) * factor,
        "high": high_sum,
        "detected": count(detected) > 0,
        "_estimated": count(detected & rows.estimated[inside]) > 0,
        "members": np.full(size, len(weights)),
        "measured": cover.measured,
        "peaks": count(np.ones(len(peak), dtype=bool)),
        "detects": count(detected),
        "complete": _complete(cover, rule),
        "missing": cover.missing,
        "counted_once": cover.counted_once,
        "factor": np.full(size, factor),
    }
    at_least = rule.get("at_least")
    enough = cover.measured >= (int(at_least) if isinstance(at_least, (int, float)) and at_least == at_least else 1)
    blocks = []
    for code, wanted in enumerate(nondetects):
        notes = [
            (count(unknown) > 0, "limit of a member not detected is unknown"),
            (count(kind == _MORE_THAN) > 0, AT_LEAST),
            (quantified & (from_limits > 0.5 * high_sum), "more than half of the upper bound comes from limits"),
        ]
        shares = substituted(value, low, high, "zero" if wanted == "km" else wanted)
        sums = np.add.reduceat(shares, starts) * factor
        if wanted == "km":
            sums, failed = _km(rows, inside, part, starts, sums, (value, limit, kind), factor)
            sums = np.fmin(np.fmax(sums, common["low"]), common["high"])
            notes.append(
                (
                    failed,
                    "conditions of km not met (3 detected, fewer than half not detected, none rejected): zero used",
                )
            )
        highest = np.where(count(unknown) > 0, np.nan, np.fmax.reduceat(limit, starts) * factor)
        as_limit = highest if wanted in ("zero", "km") else np.where(count(unknown) > 0, np.nan, sums)
        block: _Block = common | {
            "_rule": np.full(size, code),
            "value": np.where(quantified, sums, np.nan),
            "limit": np.where(quantified, np.nan, as_limit),
            "note": joined([cover.note, *(flagged(*one) for one in notes)], size),
        }
        blocks.append({key: column[enough] for key, column in block.items()})
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
    pattern, distinct = patterns(present)
    covered = (distinct.astype(np.float64) @ part.covers[columns].astype(np.float64)) > 0
    listed = members["substance"].astype(object).to_numpy()
    needed = members["needed"].to_numpy(dtype=bool)
    missing = [";".join(listed[~row]) for row in covered]
    bound = members["bound"].to_numpy(dtype=bool)
    once, notes = [], []
    for row, of_row in zip(distinct, covered, strict=True):
        own = columns[row]
        once.append(";".join(names.names[i] for i in own if names.with_others[i]))
        notes.append(_pattern_note(part, names, own, listed[of_row & bound]))
    return _Cover(
        covered.sum(axis=1).astype(np.int64)[pattern],
        (needed[None, :] & ~covered).sum(axis=1).astype(np.int64)[pattern],
        spread(pattern, missing),
        spread(pattern, once),
        (pattern, notes),
    )


def _pattern_note(part: Belonging, names: Names, own: Codes, bound: Texts) -> str:
    """What is to be said of the peaks ``own``; ``bound``: members measured whose factor is printed as a limit."""
    parts = []
    outside = [names.names[i] for i in own if part.unlisted[i]]
    if outside:
        parts.append(f"includes unlisted coeluters: {', '.join(outside)}")
    mixed = [names.names[i] for i in own if part.mixed[i]]
    if mixed:
        parts.append(f"highest factor taken for the whole of: {', '.join(mixed)}")
    if len(bound):
        parts.append(f"an upper estimate, factors printed as limits (<) counted in full: {', '.join(bound)}")
    return "; ".join(parts)


def _complete(cover: _Cover, rule: dict[str, object]) -> Flags:
    complete_at = rule.get("complete_at")
    if isinstance(complete_at, (int, float)) and complete_at == complete_at:
        return np.asarray(cover.measured >= int(complete_at))
    return np.asarray(cover.needed_missing == 0)


def _stacked(blocks: Sequence[_Block], totals: int) -> pd.DataFrame:
    """All blocks below one another, by sample and total; ``totals``: how many there can be."""
    keys = [np.asarray(block["_sample"]) * totals + np.asarray(block["_number"]) for block in blocks]
    order = by_code(np.concatenate(keys))
    columns: _Block = {}
    for name, first in blocks[0].items():
        if isinstance(first, pd.Categorical):
            codes, texts = stacked([coded(pd.Series(block[name])) for block in blocks])
            columns[name] = spread(codes[order], texts)
        else:
            columns[name] = np.concatenate([np.asarray(block[name]) for block in blocks])[order]
    return pd.DataFrame(columns)


def _not_less_than(table: pd.DataFrame, rules: SumRules) -> pd.DataFrame:
    """A total that must not be less than another is incomplete where the other is larger (contract 2, pcb-nst18x2)."""
    keys = ["_sample", "_rule"]
    for name, other in rules.totals["not_less_than"].items():
        if not isinstance(other, str) or not other:
            continue
        own, theirs = ((table["_number"] == rules.totals.index.get_loc(one)).to_numpy() for one in (name, other))
        values = table.loc[theirs, [*keys, "value"]].rename(columns={"value": "_other"})
        beside = table.loc[own, keys].merge(values, on=keys, how="left")["_other"].to_numpy()
        value = table.loc[own, "value"].to_numpy()
        larger = np.zeros(len(table), dtype=bool)
        larger[own] = (beside > value * (1 + 1e-12)) | (np.isnan(value) & ~np.isnan(beside))
        note = joined([coded(table["note"]), flagged(larger, f"{other} is larger")], len(table))
        table = table.assign(complete=table["complete"].to_numpy(dtype=bool) & ~larger, note=note)
    return table


def _as_frame(table: pd.DataFrame, rows: _Rows, rules: SumRules, nondetects: Sequence[str]) -> pd.DataFrame:
    """The contract's columns, with coded texts, by sample, total and rule."""
    if table.empty:
        return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in _TYPES.items()})[TOTALS]
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
        rule=spread(table["_rule"].to_numpy(dtype=np.int64), nondetects),
        qualifier=spread(np.where(table["_estimated"], 0, -1).astype(np.int64), ["J"]),
        lab_total=none,
        lab_difference_pct=none,
    )[TOTALS]


_TYPES = dict.fromkeys(TOTALS, "category") | dict.fromkeys(
    ("value", "low", "high", "limit", "factor", "lab_total", "lab_difference_pct"), "float64"
)
_TYPES |= dict.fromkeys(("members", "measured", "peaks", "detects"), "int64") | {"detected": "bool", "complete": "bool"}
