"""Findings: in go results, totals and guideline sets, out comes one row per sample, set and guideline substance.

Nothing is rounded. A figure equals a level when the two lie within 1e-9 of the level, relative.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts, coded, flagged, joined, recoded, spread, texts_of
from screen.model import FINDINGS
from screen.reference.rules import SumRules, sum_rules
from screen.reference.sets import GuidelineSet, load_set, set_outside
from screen.stages.compare.findings.candidates import Candidates, candidates
from screen.stages.compare.findings.duplicates import merged, roots
from screen.stages.compare.findings.levels import EVIDENCE, Carbon, Levels, OnBasis, levels_of, on_basis
from screen.stages.compare.findings.source import Source, source_of
from screen.stages.normalise.carbon import carbon_of

__all__ = ["Verdict", "compare", "judge"]

#: Two numbers within this of the level, relative to it, are equal (contract 2).
TIE = 1e-9
NAMES = ("not-assessed", "below", "undetermined", "between", "above")
NOT_ASSESSED, BELOW, UNDETERMINED, BETWEEN, ABOVE = range(5)
_ABOUT = ("station", "river_km", "depth_top_cm", "depth_bottom_cm", "parent")


def compare(
    results: pd.DataFrame,
    totals: pd.DataFrame,
    sets: Sequence[GuidelineSet | Path | str],
    *,
    samples: pd.DataFrame | None = None,
    assigned: pd.DataFrame | None = None,
    refused: pd.DataFrame | None = None,
    duplicates: str = "higher",
    nondetects: str = "stated",
) -> pd.DataFrame:
    """Compare results and totals with the levels of ``sets``: columns FINDINGS, by sample, set and substance.

    A set may be given by its id or, one's own, by the path of its files (SetError when there is none such).
    ``samples`` (SAMPLES) tells station, river km, depths, parent and carbon; without it ``results`` do.
    ``assigned`` (sample, set) says which sets are compared for which sample; without it all for all. ``refused``
    (sample, substance, reason) become ``not-assessed``. ``duplicates`` is ``higher``, ``mean`` or ``separate``;
    ``nondetects`` is ``stated`` or the rule of the totals to use for every set. Raises ValueError for another word.
    """
    if duplicates not in ("higher", "mean", "separate"):
        raise ValueError(f"{duplicates!r} is no rule for duplicates: use higher, mean or separate.")
    rules = sum_rules()
    about = _about(results, samples, refused)
    names = about["sample"].to_numpy(dtype=object)
    source = source_of(results, totals, refused, names, rules)
    carbon = Carbon(about["toc_pct"].to_numpy(dtype=np.float64), _aluminium(results, names))
    root = roots(names, texts_of(about["parent"]))
    work = _Work(source, carbon, root, duplicates, rules, nondetects)
    chosen_sets = [one if isinstance(one, GuidelineSet) else load_set(one) for one in sets]
    by_id = {one.id: one for one in chosen_sets}
    blocks: list[pd.DataFrame] = []
    for number, chosen in enumerate(chosen_sets):
        on = _assigned_to(assigned, chosen.id, names)
        block, moved = work.of_set(chosen, on)
        blocks.append(block.assign(_number=number))
        if len(moved) and (another := by_id.get(str(chosen.toc_outside)) or set_outside(chosen)) is not None:
            on_already = (
                _assigned_to(assigned, another.id, names) if another.id in by_id else np.zeros(len(names), dtype=bool)
            )
            blocks.append(work.in_place_of(chosen, another, moved, on_already).assign(_number=number))
    table = pd.concat(blocks, ignore_index=True) if blocks else pd.DataFrame()
    if table.empty:
        return pd.DataFrame(columns=FINDINGS)
    table = table.sort_values(["_sample", "_number", "_place"], kind="stable", ignore_index=True)
    return _framed(table, about)


def _about(results: pd.DataFrame, samples: pd.DataFrame | None, refused: pd.DataFrame | None) -> pd.DataFrame:
    """One row per sample that may have a finding: what FINDINGS says of it, its parent and its carbon."""
    columns = ["sample", *(name for name in _ABOUT if name in results)]
    # one row per sample without touching a million rows of text: the first row of each code
    codes, _ = coded(results["sample"])
    first = np.sort(np.unique(codes, return_index=True)[1]) if len(codes) else np.array([], dtype=np.int64)
    own = results[columns].iloc[first]
    own = own[own["sample"].notna()].astype(
        {name: object for name in columns if name in ("sample", "station", "parent")}
    )
    if samples is None:
        carbon, _ = carbon_of(results)
        about = own.assign(toc_pct=own["sample"].map(carbon).astype(np.float64))
    else:
        wanted = ["sample", *_ABOUT, "toc_pct"]
        about = samples[wanted].astype(dict.fromkeys(("sample", "station", "parent"), object))
        missing = own[~own["sample"].isin(about["sample"])]
        about = pd.concat([about, missing.reindex(columns=wanted)]) if len(missing) else about
    if refused is not None and len(refused):
        more = [one for one in dict.fromkeys(texts_of(refused["sample"])) if one and one not in set(about["sample"])]
        if more:
            about = pd.concat([about, pd.DataFrame({"sample": more, "station": more}).reindex(columns=about.columns)])
    return about.reset_index(drop=True)


def _aluminium(results: pd.DataFrame, names: Texts) -> Floats:
    """Per cent aluminium of each sample, where it was detected."""
    good = results[
        (results["substance"] == "Aluminum") & results["used"] & results["detected"] & (results["kind"] == "exact")
    ]
    out = np.full(len(names), np.nan)
    place = recoded(good["sample"], names)
    out[place[place >= 0]] = good["value"].to_numpy(dtype=np.float64)[place >= 0] / 10000.0
    return out


def _assigned_to(assigned: pd.DataFrame | None, name: str, names: Texts) -> Flags:
    if assigned is None:
        return np.ones(len(names), dtype=bool)
    on = np.zeros(len(names), dtype=bool)
    place = recoded(assigned.loc[assigned["set"] == name, "sample"], names)
    on[place[place >= 0]] = True
    return on


@dataclass(frozen=True, slots=True)
class _Work:
    """All that stays the same from set to set."""

    source: Source
    carbon: Carbon
    root: Codes
    duplicates: str
    rules: SumRules
    nondetects: str

    def of_set(self, chosen: GuidelineSet, on: Flags) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Findings of one set, and the (sample, substance) pairs that another set must take."""
        levels = levels_of(chosen, self.rules)
        rows = candidates(self.source, levels, self._rule(chosen))
        rows = rows.take(on[self.root[rows.sample]])
        basis = on_basis(levels, chosen, self.carbon, rows.sample, rows.place)
        moved = basis.outside & (rows.why < 0)
        pairs = pd.DataFrame({"sample": rows.sample[moved], "substance": levels.substances[rows.place[moved]]})
        stay = np.flatnonzero(~moved)
        return self._judged(chosen, levels, rows.take(stay), _only(basis, stay), None), pairs.drop_duplicates()

    def in_place_of(
        self, chosen: GuidelineSet, another: GuidelineSet, pairs: pd.DataFrame, done: Flags
    ) -> pd.DataFrame:
        """Findings by ``another`` set for the pairs that ``chosen`` cannot assess at their carbon."""
        levels = levels_of(another, self.rules)
        rows = candidates(self.source, levels, self._rule(another))
        key = pd.MultiIndex.from_arrays([rows.sample, levels.substances[rows.place]])
        wanted = pd.MultiIndex.from_frame(pairs)
        rows_in = rows.take(key.isin(wanted) & ~done[self.root[rows.sample]])
        low, high = chosen.toc_range or (np.nan, np.nan)
        note = f"organic carbon outside {low:g} to {high:g} %: {another.id} in place of {chosen.id}"
        basis = on_basis(levels, another, self.carbon, rows_in.sample, rows_in.place)
        found = self._judged(another, levels, rows_in, basis, note)
        # no level there: not assessed by the set that was asked for
        own = levels_of(chosen, self.rules)
        left = pairs[~wanted.isin(key)]
        rows = candidates(self.source, own, self._rule(chosen))
        key = pd.MultiIndex.from_arrays([rows.sample, own.substances[rows.place]])
        rows = rows.take(np.asarray(key.isin(pd.MultiIndex.from_frame(left)), dtype=bool))
        basis = on_basis(own, chosen, self.carbon, rows.sample, rows.place)
        return pd.concat([found, self._judged(chosen, own, rows, basis, None)], ignore_index=True)

    def _rule(self, chosen: GuidelineSet) -> str:
        return self.nondetects if self.nondetects != "stated" else (chosen.nondetects or "zero")

    def _judged(
        self, chosen: GuidelineSet, levels: Levels, rows: Candidates, basis: OnBasis, note: str | None
    ) -> pd.DataFrame:
        none = basis.why >= 0
        scaled = replace(
            rows,
            value=np.where(none, np.nan, rows.value * basis.scale),
            low=np.where(none, np.nan, rows.low * basis.scale),
            high=np.where(none, np.nan, rows.high * basis.scale),
            limit=np.where(none, np.nan, rows.limit * basis.scale),
            why=np.where(rows.why >= 0, rows.why, np.where(none, basis.why + len(self.source.words.texts), -1)),
        )
        reasons = [*self.source.words.texts, *basis.reasons]
        out, kept, pair_note, pair_texts = merged(scaled, self.root, self.source.samples, self.duplicates)
        basis = _only(basis, kept)
        verdict = judge(out, levels, basis.levels, chosen.at_level == "exceeds")
        count = len(out.sample)
        parts = [
            (out.why, reasons),
            (out.note, self.source.words.texts),
            (basis.note, basis.notes),
            flagged(np.full(count, note is not None), note or ""),
            (pair_note, pair_texts),
            flagged(verdict.at_level, "at the level"),
            flagged(verdict.as_printed, "equal as printed"),
            flagged(verdict.no_upper, "no upper level"),
        ]
        lower = np.where(verdict.lower >= 0, verdict.lower, 0)
        rows_of = np.arange(count)
        mark = np.where(verdict.lower >= 0, basis_evidence(levels, out.place, lower), -1)
        if levels.upper >= 0:
            mark = np.fmax(mark, basis_evidence(levels, out.place, np.full(count, levels.upper)))
        exceeded = np.where(verdict.exceeded >= 0, verdict.exceeded, 0)
        mark = np.where(verdict.exceeded >= 0, np.fmax(mark, basis_evidence(levels, out.place, exceeded)), mark)
        lower_level = np.where(verdict.lower >= 0, basis.levels[rows_of, lower], np.nan)
        upper_level = basis.levels[:, levels.upper] if levels.upper >= 0 else np.full(count, np.nan)
        upper = np.where((levels.upper >= 0) & (levels.evidence[out.place, levels.upper] >= 0), levels.upper, -1)
        assessed = verdict.finding != NOT_ASSESSED
        return pd.DataFrame(
            {
                "_sample": out.sample,
                "_place": out.place,
                "group": spread(out.place, levels.group),
                "substance": spread(out.place, levels.substances),
                "total": spread(out.total, list(self.source.total_ids)),
                "set": spread(np.zeros(count, dtype=np.int64), [chosen.id]),
                "basis": spread(basis.basis, levels.bases),
                "value": np.where(assessed, out.value, np.nan),
                "low": np.where(assessed, out.low, np.nan),
                "high": np.where(assessed, out.high, np.nan),
                "unit": spread(basis.unit, basis.units),
                "detected": out.detected,
                "qualifier": spread(out.qualifier, self.source.qualifiers.texts),
                "lower_name": spread(verdict.lower, levels.names),
                "lower_level": lower_level,
                "upper_name": spread(upper, levels.names),
                "upper_level": upper_level,
                "lower_quotient": np.where(assessed, out.value / lower_level, np.nan),
                "upper_quotient": np.where(assessed, out.value / upper_level, np.nan),
                "finding": pd.Categorical.from_codes(verdict.finding, pd.Index(NAMES)),
                "highest_exceeded": spread(verdict.exceeded, levels.names),
                "settled": verdict.settled,
                "evidence": spread(mark, EVIDENCE),
                "note": joined(parts, count),
            }
        )


def basis_evidence(levels: Levels, place: Codes, column: Codes) -> Codes:
    """The evidence of one level of each row, -1 for none."""
    return levels.evidence[place, column]


def _only(basis: OnBasis, rows: Codes) -> OnBasis:
    return replace(
        basis,
        scale=basis.scale[rows],
        levels=basis.levels[rows],
        basis=basis.basis[rows],
        unit=basis.unit[rows],
        why=basis.why[rows],
        outside=basis.outside[rows],
        note=basis.note[rows],
    )


@dataclass(frozen=True, slots=True)
class Verdict:
    """The finding of each row: codes into NAMES; ``lower`` the column that stands for the lower level (-1: none)."""

    finding: Codes
    settled: pd.arrays.BooleanArray
    exceeded: Codes
    lower: Codes
    at_level: Flags
    as_printed: Flags
    no_upper: Flags


def judge(rows: Candidates, levels: Levels, figure: Floats, ties_exceed: bool) -> Verdict:
    """Judge figures (on the basis of ``figure``, the levels of shape (rows, names)) by the contract's table."""
    count = len(rows.place)
    upper = figure[:, levels.upper] if levels.upper >= 0 else np.full(count, np.nan)
    lower_place = _lower(levels, figure)
    lower = np.where(lower_place >= 0, figure[np.arange(count), np.maximum(lower_place, 0)], np.nan)

    def ladder(x: Floats) -> Codes:
        return np.where(
            _exceeds(x, upper, ties_exceed), ABOVE, np.where(_exceeds(x, lower, ties_exceed), BETWEEN, BELOW)
        )

    mildest = np.where(np.isnan(lower), upper, lower)
    has_value = ~np.isnan(rows.value)
    by_value = np.where(has_value, ladder(rows.value), BELOW)
    bound = np.where(rows.detected, rows.high, rows.limit)
    open_end = ~has_value & (_exceeds(bound, mildest, False) | (rows.detected & np.isnan(bound)) | rows.partial)
    open_end |= has_value & (by_value == BELOW) & (rows.partial | rows.more_than)
    finding = np.where(open_end, UNDETERMINED, by_value)
    not_assessed = (rows.why >= 0) | (~has_value & ~rows.detected & np.isnan(bound)) | np.isnan(mildest)
    finding = np.where(not_assessed, NOT_ASSESSED, finding)

    high = np.where(np.isnan(rows.high) | rows.partial, np.inf, rows.high)
    settled = (ladder(np.nan_to_num(rows.low)) == finding) & (ladder(high) == finding)
    exceeded = np.full(count, -1, dtype=np.int64)
    at_level, as_printed = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    for column in range(len(levels.names)):
        level = figure[:, column]
        exceeded = np.where(_exceeds(rows.value, level, ties_exceed), column, exceeded)
        tie = _tie(rows.value, level)
        at_level |= tie
        as_printed |= ~tie & (_three_figures(rows.value) == _three_figures(level))
    shown = ~not_assessed
    return Verdict(
        finding.astype(np.int64),
        pd.arrays.BooleanArray(settled & (finding != UNDETERMINED), not_assessed),
        np.where(shown, exceeded, -1),
        lower_place,
        at_level & shown,
        as_printed & shown,
        (finding == BETWEEN) & np.isnan(upper),
    )


def _lower(levels: Levels, figure: Floats) -> Codes:
    """The column of the lower level; where there is none, the mildest level but the upper one stands for it."""
    count = len(figure)
    has = ~np.isnan(figure)
    place = np.full(count, -1, dtype=np.int64)
    for column in range(len(levels.names) - 1, -1, -1):
        if column != levels.upper:
            place = np.where(has[:, column], column, place)
    if levels.lower >= 0:
        place = np.where(has[:, levels.lower], levels.lower, place)
    return place


def _tie(x: Floats, level: Floats) -> Flags:
    with np.errstate(invalid="ignore"):
        return np.asarray(np.abs(x - level) <= TIE * np.abs(level))


def _exceeds(x: Floats, level: Floats, ties_exceed: bool) -> Flags:
    return np.where(_tie(x, level), ties_exceed, x > level)


def _three_figures(x: Floats) -> Floats:
    """``x`` rounded to three figures, as a reader would print it; NaN stays NaN."""
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.floor(np.log10(np.abs(x))) - 2
        step = 10.0 ** np.abs(power)
        return np.asarray(np.where(power >= 0, np.round(x / step) * step, np.round(x * step) / step))


def _framed(table: pd.DataFrame, about: pd.DataFrame) -> pd.DataFrame:
    """The columns of FINDINGS, with what is known of each sample."""
    sample = table["_sample"].to_numpy(dtype=np.int64)
    columns: dict[str, Floats | pd.Categorical | pd.Series] = {
        "sample": spread(sample, about["sample"].to_numpy(dtype=object)),
        "station": spread(sample, about["station"].to_numpy(dtype=object)),
    }
    for name in ("river_km", "depth_top_cm", "depth_bottom_cm"):
        known = about[name].to_numpy(dtype=np.float64) if name in about else np.full(len(about), np.nan)
        columns[name] = known[sample]
    for name in ("group", "substance", "total", "set", "basis", "unit", "qualifier", "lower_name", "upper_name"):
        columns[name] = table[name].astype("category")
    for name in ("finding", "highest_exceeded", "evidence", "note"):
        columns[name] = table[name].astype("category")
    return table.assign(**columns)[FINDINGS]
