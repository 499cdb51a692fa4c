"""Where each sample is from. In: the samples of the sheets, the field record. Out: samples, stations and cores joined.

The field record goes before the sheet, and where the two disagree both are named. Without a field record the sheet's
own station and depth are used; a sample of which nothing is known is a station of its own.
"""

from __future__ import annotations

from collections.abc import Sequence, Set

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import coded, recoded, spread, texts_of
from screen.model import SAMPLES, Problem
from screen.settings import Settings
from screen.stages.read.field.record import FIELD_CORES, FIELD_STATIONS, FieldRecord
from screen.stages.read.words.ids import near_ids

__all__ = ["join_places", "placed"]

_NUMBERS = (
    "river_km",
    "latitude",
    "longitude",
    "depth_top_cm",
    "depth_bottom_cm",
    "solids_pct",
    "toc_pct",
    "fines_pct",
)
#: What both the sheet and the field record may say of a sample.
_BOTH = ("station", "core", "depth_top_cm", "depth_bottom_cm", "collected", "parent")
_FIELD_ONLY = ("texture", "colour", "odour", "inclusions")
_OF_STATION = ("zone", "role", "water", "river_km", "latitude", "longitude")
_CLOSE_CM = 0.05
_NAMED = 6


def join_places(
    samples: pd.DataFrame, record: FieldRecord, settings: Settings
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, tuple[Problem, ...]]:
    """Samples (SAMPLES, then the flags ``without_results`` and ``without_field``), stations, cores and problems.

    ``samples`` has ``sample`` and whatever else of SAMPLES the sheets say, one row per sample in the order met; it is
    not changed. Samples that only the field record has follow, in its order. Depths in cm, river_km from the mouth.
    """
    joined, problems = _both(samples, record)
    joined = _from_parents(_from_cores(joined, record, problems))
    joined["station"] = joined["station"].fillna(joined["sample"])
    stations = _stations(joined, record, settings, problems)
    for name in _OF_STATION:
        joined[name] = joined["station"].map(stations.set_index("station")[name])
    alike = _alike(joined, record)
    problems += [_written_differently(group) for group in alike]
    problems += _unplaced(joined, record, {name for group in alike for name in group})
    cores = _cores(joined, record)
    return _typed(joined), _typed(stations), _typed(cores), tuple(problems)


def placed(rows: pd.DataFrame, samples: pd.DataFrame) -> pd.DataFrame:
    """``rows`` (results, the laboratory's totals, quality control) with what ``samples`` says of each sample's place.

    Columns set: parent, station, core, river_km, depth_top_cm, depth_bottom_cm, collected. A row whose sample is not
    among ``samples`` keeps its own; ``rows`` is not changed.
    """
    place = recoded(rows["sample"], texts_of(samples["sample"]))
    known = place >= 0
    made = rows.copy(deep=False)
    for name in (*_BOTH, "river_km"):
        if name in _NUMBERS:
            figures = np.append(samples[name].to_numpy(dtype=float), np.nan)
            made[name] = np.where(known, figures[place], rows[name].to_numpy(dtype=float))
        else:
            own, texts = coded(rows[name])
            theirs = texts_of(samples[name])
            codes = np.where(known, place, np.where(own < 0, -1, own + len(theirs)))
            made[name] = spread(codes, np.append(theirs, texts))
    return made


def _both(samples: pd.DataFrame, record: FieldRecord) -> tuple[pd.DataFrame, list[Problem]]:
    """One row per sample of either, the field record's word first; and where the two disagree."""
    sheet = _plain(samples.reindex(columns=SAMPLES)).set_index("sample", drop=False)
    field = record.samples.set_index("sample", drop=False)
    names = pd.Index([*sheet.index, *field.index.difference(sheet.index, sort=False)], name=None)
    sheet, field = sheet.reindex(names), field.reindex(names)
    problems: list[Problem] = []
    notes = sheet["note"].copy()
    for name in _BOTH:
        differs = _differ(sheet[name], field[name], name)
        problems += [_disagreement(str(one), name, sheet.loc[one], field.loc[one]) for one in names[differs]]
        said = f"{name} of the sheet differs from the field record"
        notes = notes.mask(
            differs, notes.map(lambda text, said=said: f"{text}; {said}" if isinstance(text, str) else said)
        )
        sheet[name] = field[name].where(field[name].notna(), sheet[name])
    for name in _FIELD_ONLY:
        sheet[name] = field[name].where(field[name].notna(), sheet[name])
    remarks = field["remarks"]
    notes = notes.mask(remarks.notna(), remarks.where(notes.isna(), notes.astype(str) + "; " + remarks.astype(str)))
    known, met = field["sample"].notna().to_numpy(), sheet["sample"].notna().to_numpy()
    sheet = sheet.assign(
        note=notes,
        sample=np.asarray(names, dtype=object),
        without_results=~met,
        without_field=~known if record.given else np.zeros(len(names), dtype=bool),
    )
    return sheet.reset_index(drop=True), problems


def _differ(sheet: pd.Series, field: pd.Series, name: str) -> npt.NDArray[np.bool_]:
    both = (sheet.notna() & field.notna()).to_numpy()
    if name.endswith("_cm"):
        apart = np.abs(sheet.to_numpy(dtype=float) - field.to_numpy(dtype=float)) > _CLOSE_CM
        return np.asarray(both & apart, dtype=bool)
    first = sheet.astype(str).str[:10] if name == "collected" else sheet
    return np.asarray(both & (first != field).to_numpy(dtype=bool), dtype=bool)


def _disagreement(sample: str, name: str, sheet: pd.Series, field: pd.Series) -> Problem:
    return Problem(
        "field-disagrees",
        f"sample {sample!r}: {name} is {sheet[name]} in the laboratory's sheet and {field[name]} in the field record, "
        "which is used.",
        "Mend the one that is wrong.",
        file=str(field["file"]),
        sheet=str(field["sheet"]),
        row=int(field["row"]),
    )


def _from_cores(joined: pd.DataFrame, record: FieldRecord, problems: list[Problem]) -> pd.DataFrame:
    """The station of a sample that names only its core; a core of no known station is a station of its own."""
    of_core = joined["core"].map(record.cores.set_index("core")["station"])
    other = of_core.notna() & joined["station"].notna() & (of_core != joined["station"])
    for sample, station, core, theirs in zip(
        joined["sample"][other], joined["station"][other], joined["core"][other], of_core[other], strict=True
    ):
        message = f"sample {sample!r} is of station {station!r}, but its core {core!r} is of {theirs!r}."
        mend = "Mend the one that is wrong; the sample's own station is used."
        problems.append(Problem("core-station", message, mend))
    return joined.assign(station=joined["station"].fillna(of_core))


def _from_parents(joined: pd.DataFrame) -> pd.DataFrame:
    """A field duplicate that says nothing of its place has that of its parent; then a core stands for its station."""
    first = joined.set_index("sample")
    filled = joined.copy()
    for name in ("station", "core", "depth_top_cm", "depth_bottom_cm"):
        filled[name] = filled[name].fillna(filled["parent"].map(first[name]))
    return filled.assign(station=filled["station"].fillna(filled["core"]))


def _stations(joined: pd.DataFrame, record: FieldRecord, settings: Settings, problems: list[Problem]) -> pd.DataFrame:
    """All stations of the record, then those that only samples name; the sheets fill what the record leaves open."""
    own = record.stations.set_index("station", drop=False)
    names = pd.Index([*own.index, *pd.Index(joined["station"].unique()).difference(own.index, sort=False)])
    stations = own.reindex(names)[list(FIELD_STATIONS)].assign(station=np.asarray(names, dtype=object))
    for name in _OF_STATION:
        said = joined[joined[name].notna()]
        several = said.groupby("station", sort=False)[name].nunique()
        problems += [
            Problem(
                "station-conflict",
                f"the sheets give several figures of {name} for station {station!r}; the first is used.",
                "Give it once, in the field record.",
            )
            for station in several.index[several > 1]
        ]
        stations[name] = stations[name].fillna(said.groupby("station", sort=False)[name].first())
    if settings.water is not None:
        stations["water"] = stations["water"].fillna(settings.water)
    return stations.reset_index(drop=True)


def _cores(joined: pd.DataFrame, record: FieldRecord) -> pd.DataFrame:
    """The record's cores, then those that only samples name."""
    columns = [*FIELD_CORES, "recovery_pct"]
    own = record.cores.set_index("core", drop=False)
    met = joined[joined["core"].notna()].groupby("core", sort=False)["station"].first()
    names = pd.Index([*own.index, *met.index.difference(own.index, sort=False)])
    cores = own.reindex(names)[columns].assign(core=np.asarray(names, dtype=object))
    cores["station"] = cores["station"].fillna(met)
    return cores.reset_index(drop=True)


def _alike(joined: pd.DataFrame, record: FieldRecord) -> list[tuple[str, ...]]:
    """Ids of the sheets and of the field record that may be one sample."""
    if not len(record.samples):
        return []
    lonely = set(joined[joined["without_results"] | joined["without_field"]]["sample"])
    return [tuple(group) for group in near_ids(joined["sample"]) if lonely.intersection(group)]


def _written_differently(group: Sequence[str]) -> Problem:
    return Problem(
        "sample-ids-alike",
        f"{', '.join(map(repr, group))} may be one sample, written differently in the field record and the sheets; "
        "they are kept apart.",
        "Write the id in one way in both.",
    )


def _unplaced(joined: pd.DataFrame, record: FieldRecord, told: Set[str]) -> list[Problem]:
    """The samples of the sheets of which the field record that was given does not know, but those ``told``."""
    unknown = joined["without_field"].astype(bool) & ~joined["station"].isin(record.stations["station"])
    names = [name for name in joined.loc[unknown, "sample"].astype(str) if name not in told]
    if not names:
        return []
    shown = ", ".join(map(repr, names[:_NAMED])) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")
    return [
        Problem(
            "sample-not-in-field-record",
            f"the field record names neither sample nor station of {shown}: nothing is known of their place but what "
            "the laboratory's sheet says.",
            "Add them to its table of samples, with the id as the sheet writes it (siltmark read shows what was read).",
        )
    ]


def _plain(frame: pd.DataFrame) -> pd.DataFrame:
    """Texts as objects with None where missing, numbers as floats."""
    made = {name: frame[name].astype(float) if name in _NUMBERS else _texts(frame[name]) for name in frame.columns}
    return pd.DataFrame(made)


def _texts(column: pd.Series) -> pd.Series:
    texts = column.astype(object)
    return texts.where(texts.notna() & (texts != ""), None)


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    """Texts as categoricals, as everywhere between the stages."""
    texts: Sequence[str] = [name for name in frame.columns if frame[name].dtype == object]
    return frame.assign(**{name: pd.Categorical(_texts(frame[name])) for name in texts})
