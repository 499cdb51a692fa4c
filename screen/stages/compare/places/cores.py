"""The table of cores. In: a batch on dry weight, its totals. Out: per core and substance the peak, the cut, the rest.

Intervals weigh by their thickness, those that a cut divides by their part; a gap stays a gap. In a batch that names no
core at all, the samples of a station at several depths are taken as one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts, flagged, joined, spread, texts_of
from screen.model import CORES, CORES_LATER, SAMPLES_LATER, Batch
from screen.settings import Settings, SettingsError
from screen.stages.compare.findings.half_limits import at_half_limit
from screen.stages.compare.places.observations import Observations, observe
from screen.stages.compare.places.stations import station_order
from screen.stages.read.words.lengths import MENDS, REFUSED, read_length

__all__ = ["core_intervals", "elevations", "summarise_cores"]

_TOUCHING_CM = 1e-6


def summarise_cores(
    batch: Batch, totals: pd.DataFrame, settings: Settings, *, observed: Observations | None = None
) -> pd.DataFrame:
    """Columns CORES + CORES_LATER, by river_km, station, core, group and substance; depths in cm below the bed.

    With ``compaction = "linear"`` depths are stretched by penetration over recovered length where both are known.
    ``cut_mean`` takes non-detects at half their limit, its bounds at 0 and at the limit. Raises SettingsError for a cut
    that is not a length. ``observed`` is what ``observe`` makes of ``batch`` and ``totals``, where that is at hand.
    """
    cut = _cut(settings.cut)
    cores = _cores(batch, settings)
    rows = observed or observe(batch, totals)
    rows = rows.take(cores.of_sample[rows.sample] >= 0)
    if not len(rows.sample):
        return pd.DataFrame(columns=[*CORES, *CORES_LATER])
    layers = _Layers.of(rows, cores)
    table = _profile(layers).assign(**_cut_columns(layers, cut))
    core, measure = layers.keys // len(rows.measures), layers.keys % len(rows.measures)
    table["core"] = spread(core, cores.names)
    table["station"] = spread(core, cores.stations)
    for name in ("substance", "unit"):
        table[name] = spread(measure, rows.measures[name].to_numpy(dtype=object))
    table["rule"] = spread(measure, rows.measures["rule"].to_numpy(dtype=object))
    table["depth_rule"] = spread(core, np.where(cores.stretched, "linear", "none").astype(object))
    notes = [
        *_depth_notes(layers),
        *_profile_notes(layers, table),
        (core, cores.notes),
        *_cut_notes(layers, table, cut),
    ]
    table["note"] = joined(notes, len(table))
    return pd.concat([table, _levels(table, core, cores, batch)], axis=1)[[*CORES, *CORES_LATER]]


def _levels(table: pd.DataFrame, core: Codes, cores: _Cores, batch: Batch) -> pd.DataFrame:
    """What the field record says of each core, and depths as elevations where it gives a bed level and a datum."""
    known = _of_cores(batch, cores.names)
    bed = known["bed_level_m"].to_numpy(dtype=float)[core]

    def elevation(name: str) -> Floats:
        return np.asarray(bed - table[name].to_numpy(dtype=float) / 100, dtype=np.float64)

    return pd.DataFrame(
        {
            "recovery_pct": known["recovery_pct"].to_numpy(dtype=float)[core],
            "linear_factor": known["linear_factor"].to_numpy(dtype=float)[core],
            "bed_level_m": bed,
            "datum": spread(core, known["datum"].to_numpy(dtype=object)),
            "peak_top_m": elevation("peak_top_cm"),
            "peak_bottom_m": elevation("peak_bottom_cm"),
            "cut_m": elevation("cut_cm"),
        },
        index=table.index,
    )


def _of_cores(batch: Batch, names: Texts) -> pd.DataFrame:
    """recovery_pct, linear_factor (penetration over recovered length), bed_level_m and datum of cores, by name.

    A bed level without a datum is left out, since no elevation can be made of it.
    """
    columns = ("recovery_pct", "penetration_cm", "recovered_cm", "bed_level_cm", "datum")
    known = batch.cores.reindex(columns=["core", *columns])
    known = known.assign(core=texts_of(known["core"])).drop_duplicates("core").set_index("core").reindex(names)
    datum = texts_of(known["datum"])
    bed = known["bed_level_cm"].to_numpy(dtype=float) / 100
    factor = known["penetration_cm"].to_numpy(dtype=float) / known["recovered_cm"].to_numpy(dtype=float)
    return pd.DataFrame(
        {
            "recovery_pct": known["recovery_pct"].to_numpy(dtype=float),
            "linear_factor": np.where(np.isfinite(factor), factor, np.nan),
            "bed_level_m": np.where(datum == "", np.nan, bed),
            "datum": datum,
        }
    )


def core_intervals(batch: Batch, settings: Settings) -> pd.DataFrame:
    """The core of each sample (empty for none) and its depths by the rule in use: core, top_cm, bottom_cm."""
    cores = _cores(batch, settings)
    names = np.append(cores.names, "")
    return pd.DataFrame({"core": names[cores.of_sample], "top_cm": cores.top, "bottom_cm": cores.bottom})


def elevations(batch: Batch, settings: Settings) -> pd.DataFrame:
    """Columns SAMPLES_LATER, one row per sample: depths stretched in full, and elevations by the depths in use.

    A sample of a core without a bed level or a datum has no elevation; ``datum`` is empty then.
    """
    named = texts_of(batch.samples["core"])
    known = _of_cores(batch, named)
    used = core_intervals(batch, settings)
    factor, bed = known["linear_factor"].to_numpy(dtype=float), known["bed_level_m"].to_numpy(dtype=float)
    made: dict[str, object] = {
        f"depth_{end}_linear_cm": batch.samples[f"depth_{end}_cm"].to_numpy(dtype=float) * factor
        for end in ("top", "bottom")
    }
    made |= {f"elevation_{end}_m": bed - used[f"{end}_cm"].to_numpy(dtype=float) / 100 for end in ("top", "bottom")}
    made["datum"] = pd.Categorical(
        [one if not np.isnan(at) else None for one, at in zip(known["datum"], bed, strict=True)]
    )
    return pd.DataFrame(made, columns=SAMPLES_LATER)


def _cut(text: str | None) -> float:
    """The depth of the cut in cm, NaN for none."""
    if text is None:
        return np.nan
    depth, code = read_length(text)
    if code or not depth > 0:
        why, mend = REFUSED.get(code, "a depth above zero is needed"), MENDS.get(code, 'Write it as in "60 cm".')
        raise SettingsError(f"cut = {text!r}: {why}. {mend}")
    return depth


@dataclass(frozen=True, slots=True)
class _Cores:
    """The cores in the order of the table, and what happens to their depths."""

    names: Texts
    stations: Texts
    of_sample: Codes
    top: Floats
    bottom: Floats
    stretched: Flags
    notes: list[str]


def _cores(batch: Batch, settings: Settings) -> _Cores:
    samples = batch.samples
    station, named = texts_of(samples["station"]), texts_of(samples["core"])
    top = samples["depth_top_cm"].to_numpy(dtype=float)
    bottom = samples["depth_bottom_cm"].to_numpy(dtype=float)
    deep = (named == "").all() & ~np.isnan(top)  # where cores are named, what names none is a grab
    several = pd.DataFrame({"station": station, "top": top})[deep].drop_duplicates().groupby("station").size()
    taken = deep & pd.Series(station).isin(several.index[several > 1]).to_numpy(dtype=bool)
    core = np.where(taken, station, named)
    about = pd.DataFrame({"core": core, "station": station, "named": ~taken})[core != ""]
    place = {name: at for at, name in enumerate(station_order(samples)["station"])}
    about = about.drop_duplicates(["core", "named"]).assign(_place=about["station"].map(place))
    about = about.sort_values(["_place", "core", "named"], kind="stable", ignore_index=True)
    number = pd.Index(about["core"] + "\n" + about["named"].astype(str))
    of_sample = number.get_indexer(pd.Index(core + "\n" + pd.Series(~taken).astype(str).to_numpy(dtype=object)))
    factor = _factors(batch, about, settings)
    wanted = settings.compaction == "linear"
    stretched = wanted & ~np.isnan(factor)
    notes = [
        "; ".join(
            text
            for flag, text in (
                (not name, "no core is named: the intervals of the station are taken as one"),
                (wanted and not on, "penetration or recovered length is missing: depths as recorded"),
                (on, f"depths times {one:.6g}, penetration over recovered length"),
            )
            if flag
        )
        for name, on, one in zip(about["named"], stretched, factor, strict=True)
    ]
    times = np.append(np.where(stretched, factor, 1.0), 1.0)[of_sample]
    names, stations = about["core"].to_numpy(dtype=object), about["station"].to_numpy(dtype=object)
    return _Cores(names, stations, of_sample.astype(np.int64), top * times, bottom * times, stretched, notes)


def _factors(batch: Batch, about: pd.DataFrame, settings: Settings) -> Floats:
    """Penetration over recovered length of each core, NaN where either is not known."""
    known = batch.cores
    if not {"penetration_cm", "recovered_cm"} <= set(known.columns):
        return np.full(len(about), np.nan)
    lengths = known["penetration_cm"].to_numpy(dtype=float) / known["recovered_cm"].to_numpy(dtype=float)
    by_core = pd.Series(lengths, index=texts_of(known["core"]))
    factor = by_core.reindex(about["core"]).to_numpy(dtype=float)
    return np.where(about["named"].to_numpy(dtype=bool) & np.isfinite(factor), factor, np.nan)


@dataclass(frozen=True, slots=True)
class _Layers:
    """Observations by core and measure (``group``, of ``size``), from the top downwards; depths in cm.

    ``above`` is the deepest bottom of those before it in the group, NaN for the first.
    """

    group: Codes
    keys: Codes
    top: Floats
    bottom: Floats
    value: Floats
    low: Floats
    high: Floats
    above: Floats

    @property
    def size(self) -> int:
        """How many groups there are."""
        return len(self.keys)

    @classmethod
    def of(cls, rows: Observations, cores: _Cores) -> _Layers:
        """The observations at the depths of their cores."""
        group, keys = pd.factorize(cores.of_sample[rows.sample] * len(rows.measures) + rows.measure, sort=True)
        top, bottom = cores.top[rows.sample], cores.bottom[rows.sample]
        order = np.lexsort((rows.sample, bottom, top, group))
        group, top, bottom = group[order].astype(np.int64), top[order], bottom[order]
        ends = pd.Series(np.where(np.isnan(bottom), top, bottom))
        reach = ends.groupby(group).cummax().groupby(group).shift().to_numpy(dtype=float)
        value, low, high = rows.value[order], rows.low[order], rows.high[order]
        return cls(group, keys.astype(np.int64), top, bottom, value, low, high, np.asarray(reach, dtype=np.float64))

    def first(self, chosen: Flags, order: Codes | None = None) -> tuple[Codes, Codes]:
        """The first chosen row of each group that has one: groups and rows. ``order`` is another order of the rows."""
        rows = np.flatnonzero(chosen) if order is None else order[chosen[order]]
        _, place = np.unique(self.group[rows], return_index=True)
        found = rows[place]
        return self.group[found], found


def _profile(layers: _Layers) -> pd.DataFrame:
    size = layers.size
    columns = {name: np.full(size, np.nan) for name in ("surface", "peak", "peak_top_cm", "peak_bottom_cm")}
    on_top = layers.top == 0
    groups, rows = layers.first(on_top)
    columns["surface"][groups] = layers.value[rows]
    shown = np.where(np.isnan(layers.value), -np.inf, layers.value)
    groups, rows = layers.first(~np.isnan(layers.value), np.lexsort((layers.top, -shown, layers.group)))
    columns["peak"][groups], columns["peak_top_cm"][groups] = layers.value[rows], layers.top[rows]
    columns["peak_bottom_cm"][groups] = layers.bottom[rows]
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = columns["surface"] / columns["peak"]
    counts = np.bincount(layers.group, minlength=size)
    return pd.DataFrame({"n": counts, **columns, "surface_to_peak": ratio})


_Notes = list[tuple[Codes, Sequence[str]]]


def _depth_notes(layers: _Layers) -> _Notes:
    def some(flags: Flags) -> Flags:
        return np.asarray(np.bincount(layers.group, flags, layers.size) > 0, dtype=bool)

    return [
        flagged(some(np.isnan(layers.top)), "a sample of unknown depth is left out of depths and cut"),
        flagged(some(layers.top < layers.above - _TOUCHING_CM), "intervals overlap"),
        flagged(
            some(layers.top > layers.above + _TOUCHING_CM), "there is a gap between intervals; nothing is filled in"
        ),
        flagged(np.bincount(layers.group, minlength=layers.size) == 1, "one interval: no profile"),
    ]


def _profile_notes(layers: _Layers, table: pd.DataFrame) -> _Notes:
    has_top = np.bincount(layers.group, layers.top == 0, layers.size) > 0
    peak, surface = table["peak"].to_numpy(dtype=float), table["surface"].to_numpy(dtype=float)
    limit = np.full(layers.size, -np.inf)
    np.fmax.at(limit, layers.group, np.where(np.isnan(layers.value), layers.high, -np.inf))
    return [
        flagged(~has_top, "no interval begins at the surface"),
        flagged(has_top & np.isnan(surface), "no value at the surface (not detected or not quantified)"),
        flagged(np.isnan(peak), "no detected value"),
        flagged(~np.isnan(peak) & (limit > peak), "a limit is above the peak"),
        flagged(table["peak_top_cm"].to_numpy(dtype=float) > 0, "the peak lies below the surface"),
    ]


def _cut_columns(layers: _Layers, cut: float) -> dict[str, Floats]:
    size = layers.size
    names = ("cut_mean", "cut_mean_low", "cut_mean_high", "cut_covered_pct", "left_value")
    columns = {"cut_cm": np.full(size, cut)} | {name: np.full(size, np.nan) for name in names}
    if np.isnan(cut):
        return columns
    thick = np.clip(np.minimum(layers.bottom, cut) - layers.top, 0, None)
    inside = thick > 0
    group, weight = layers.group[inside], thick[inside]
    whole = np.bincount(group, weight, size)
    value, low, high = layers.value[inside], layers.low[inside], layers.high[inside]
    half = at_half_limit(value, low, high)
    with np.errstate(invalid="ignore", divide="ignore"):
        for name, figures in (("cut_mean", half), ("cut_mean_low", low), ("cut_mean_high", high)):
            columns[name] = np.bincount(group, weight * figures, size) / whole
    fresh = np.clip(np.minimum(layers.bottom, cut) - np.fmax(layers.top, layers.above), 0, None)
    columns["cut_covered_pct"] = 100 * np.bincount(layers.group, np.nan_to_num(fresh), size) / cut
    groups, rows = layers.first(_left(layers, cut))
    columns["left_value"][groups] = layers.value[rows]
    return columns


def _left(layers: _Layers, cut: float) -> Flags:
    """The intervals whose material lies bare after the cut."""
    return np.asarray((layers.top <= cut) & (layers.bottom > cut), dtype=bool)


def _cut_notes(layers: _Layers, table: pd.DataFrame, cut: float) -> _Notes:
    if np.isnan(cut):
        return []
    size = layers.size
    inside = (layers.top < cut) & np.isnan(layers.value)
    bare = np.bincount(layers.group, _left(layers, cut), size) > 0
    deepest = np.full(size, -np.inf)
    np.fmax.at(deepest, layers.group, layers.bottom)
    left, covered = table["left_value"].to_numpy(dtype=float), table["cut_covered_pct"].to_numpy(dtype=float)
    return [
        flagged(np.bincount(layers.group, inside, size) > 0, "the cut mean takes non-detects at half their limit"),
        flagged(covered < 100 - 1e-9, "the cut mean covers only a part of the cut"),
        flagged(bare & np.isnan(left), "no value in the layer left bare (not detected or not quantified)"),
        flagged(~bare & (deepest <= cut), "the samples end above the cut: what it leaves bare is not known"),
        flagged(~bare & (deepest > cut), "no sample at the depth of the cut"),
    ]
