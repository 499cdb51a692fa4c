"""What does not fit together in a field record. In: its frames, with the place of each row. Out: problems to tell.

Nothing is mended here; only coordinates that cannot exist are taken out, so that no map shows them.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.model import Problem
from screen.stages.read.words.ids import near_ids

__all__ = ["check_coordinates", "check_cores", "check_ids", "check_intervals"]

#: Below this share of the penetration depths are doubtful (common practice, no source; 75 to 80 % is usual).
LOW_RECOVERY_PCT = 75.0
_FAR_DEGREES = 1.0
_TOUCHING_CM = 1e-6


def check_coordinates(stations: pd.DataFrame) -> tuple[pd.DataFrame, list[Problem]]:
    """Take out coordinates that no place on earth has; name those, halves of a pair, and stations far from the rest."""
    latitude, longitude = stations["latitude"].to_numpy(dtype=float), stations["longitude"].to_numpy(dtype=float)
    outside = (np.abs(latitude) > 90) | (np.abs(longitude) > 180)
    turned = outside & (np.abs(longitude) <= 90) & (np.abs(latitude) <= 180)
    half = np.isnan(latitude) != np.isnan(longitude)
    problems = [
        _at(
            stations,
            place,
            "coordinates-swapped" if turned[place] else "coordinates-range",
            f"{_pair(stations, place)} is no place on earth"
            + ("; latitude and longitude look swapped" if turned[place] else ""),
            "Write WGS 84 decimal degrees: latitude from -90 to 90, longitude from -180 to 180.",
        )
        for place in np.flatnonzero(outside).tolist()
    ]
    problems += [
        _at(stations, place, "coordinates-half", "only one of latitude and longitude is known", "Give both.")
        for place in np.flatnonzero(half & ~outside).tolist()
    ]
    kept = stations.copy()
    kept.loc[outside, ["latitude", "longitude"]] = np.nan
    placed = np.flatnonzero(kept[["latitude", "longitude"]].notna().all(axis=1).to_numpy())
    if len(placed) > 1:
        problems += _far(kept, placed, latitude[placed], longitude[placed])
    return kept, problems


def _far(
    stations: pd.DataFrame,
    places: npt.NDArray[np.intp],
    latitude: npt.NDArray[np.float64],
    longitude: npt.NDArray[np.float64],
) -> list[Problem]:
    bounds = [*_others(latitude), *_others(longitude)]

    def near(north: npt.NDArray[np.float64], east: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        south, top, west, right = bounds
        return (
            (north >= south - _FAR_DEGREES)
            & (north <= top + _FAR_DEGREES)
            & (east >= west - _FAR_DEGREES)
            & (east <= right + _FAR_DEGREES)
        )

    far = ~near(latitude, longitude)
    guesses = [
        (near(longitude, latitude), "latitude and longitude look swapped"),
        (near(latitude, -longitude), "the sign of the longitude looks wrong"),
        (near(-latitude, longitude), "the sign of the latitude looks wrong"),
    ]
    problems = []
    for one in np.flatnonzero(far).tolist():
        hint = next((text for fits, text in guesses if fits[one] and len(places) > 2), "")
        code = "coordinates-swapped" if "swapped" in hint else "coordinates-far"
        message = f"{_pair(stations, int(places[one]))} is more than 1 degree outside the other stations"
        problems.append(
            _at(stations, int(places[one]), code, message + (f"; {hint}" if hint else ""), "Check the coordinates.")
        )
    return problems


def _others(values: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """The least and the greatest of the other values, for each value."""
    order = np.sort(values)
    return np.where(values == order[0], order[1], order[0]), np.where(values == order[-1], order[-2], order[-1])


def check_ids(stations: pd.DataFrame, cores: pd.DataFrame, samples: pd.DataFrame) -> list[Problem]:
    """Ids that may be one, and ids that another table names and their own table does not have."""
    problems: list[Problem] = []
    for frame, key in ((stations, "station"), (cores, "core"), (samples, "sample")):
        for group in near_ids(frame[key]):
            place = int(np.flatnonzero((frame[key] == group[1]).to_numpy())[0])
            message = f"the {key}s {', '.join(map(repr, group))} may be one {key}; they are kept apart"
            problems.append(_at(frame, place, f"{key}-ids-alike", message, "Write the id in one way if it is one."))
    for frame, column, known, mend in (
        (cores, "station", stations["station"], "Add it to the table of stations or mend the id."),
        (samples, "station", stations["station"], "Add it to the table of stations or mend the id."),
        (samples, "core", cores["core"], "Add it to the table of cores or mend the id."),
        (samples, "parent", samples["sample"], "Add the sample that this one duplicates, or mend the id."),
    ):
        if len(known):
            problems += _strangers(frame, column, known, mend)
    return problems


def _strangers(frame: pd.DataFrame, column: str, known: Iterable[str], mend: str) -> list[Problem]:
    missing = frame[frame[column].notna() & ~frame[column].isin(list(known))].drop_duplicates([column])
    return [
        _at(frame, int(place), f"{column}-not-listed", f"the {column} {frame.loc[place, column]!r} is not listed", mend)
        for place in missing.index
    ]


def check_cores(cores: pd.DataFrame, samples: pd.DataFrame) -> list[Problem]:
    """Recovery that is doubtful, bed levels without a datum, and samples from below the core's end."""
    problems: list[Problem] = []
    recovery = cores["recovery_pct"].to_numpy(dtype=float)
    for place in np.flatnonzero(recovery > 100).tolist():
        message = f"more was recovered than penetrated ({recovery[place]:.0f} %)"
        problems.append(_at(cores, place, "core-expanded", message, "Check the two lengths."))
    for place in np.flatnonzero(recovery < LOW_RECOVERY_PCT).tolist():
        message = f"only {recovery[place]:.0f} % of the penetration was recovered, so depths in this core are doubtful"
        problems.append(_at(cores, place, "core-recovery-low", message, "Say in the remarks what was lost, if known."))
    for place in np.flatnonzero((cores["bed_level_cm"].notna() & cores["datum"].isna()).to_numpy()).tolist():
        message = "the bed level has no datum, so elevations are not given"
        problems.append(_at(cores, place, "datum-missing", message, "Name the datum."))
    lengths = cores.set_index("core")["recovered_cm"]
    ends = samples["core"].map(lengths).to_numpy(dtype=float)
    for place in np.flatnonzero(samples["depth_bottom_cm"].to_numpy(dtype=float) > ends + 0.5).tolist():
        message = f"the sample ends below the recovered length of its core ({ends[place]:.4g} cm)"
        problems.append(_at(samples, place, "depth-below-core", message, "Check the depths and the recovered length."))
    return problems


def check_intervals(samples: pd.DataFrame) -> list[Problem]:
    """Intervals upside down, and overlaps and gaps within one core (field duplicates apart)."""
    problems: list[Problem] = []
    top, bottom = samples["depth_top_cm"].to_numpy(dtype=float), samples["depth_bottom_cm"].to_numpy(dtype=float)
    for place in np.flatnonzero(top >= bottom).tolist():
        message = f"the top ({top[place]:.4g} cm) is not above the bottom ({bottom[place]:.4g} cm)"
        problems.append(_at(samples, place, "depth-order", message, "Check the two depths."))
    sound = samples[samples["core"].notna() & samples["parent"].isna() & (top < bottom)]
    ordered = sound.sort_values(["core", "depth_top_cm", "depth_bottom_cm"], kind="stable")
    reach = ordered.groupby("core")["depth_bottom_cm"].cummax().groupby(ordered["core"]).shift()
    step = ordered["depth_top_cm"] - reach
    for place in step.index[step < -_TOUCHING_CM]:
        message = f"the interval overlaps another one of core {samples.loc[place, 'core']!r} by {-step[place]:.4g} cm"
        problems.append(_at(samples, int(place), "depth-overlap", message, "Check the depths."))
    for place in step.index[step > _TOUCHING_CM]:
        message = f"{step[place]:.4g} cm of core {samples.loc[place, 'core']!r} above this interval have no sample"
        problems.append(_at(samples, int(place), "depth-gap", message, "A gap stays a gap: nothing is filled in."))
    return problems


def _pair(stations: pd.DataFrame, place: int) -> str:
    row = stations.iloc[place]
    return f"station {row['station']!r} at latitude {row['latitude']:.6g}, longitude {row['longitude']:.6g}"


def _at(frame: pd.DataFrame, place: int, code: str, message: str, mend: str) -> Problem:
    row = frame.iloc[int(place)]
    return Problem(code, f"{message}.", mend, file=str(row["file"]), sheet=str(row["sheet"]), row=int(row["row"]))
