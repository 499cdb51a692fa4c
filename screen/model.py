"""The frames and records that travel between the stages, declared once.

Text columns are pandas categoricals (missing = no text), numbers are float64, flags are bool.
The contract's columns come first in each list; columns after them are ours and may change.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

    from screen.reference.sets import GuidelineSet
    from screen.settings import Settings

__all__ = [
    "BECAME",
    "CHANGE",
    "COMPARISONS",
    "CORES",
    "CORES_LATER",
    "CUTS",
    "FINDINGS",
    "FINDING_ORDER",
    "GROUPS",
    "INDICES",
    "KINDS",
    "LEDGER",
    "QUALITY",
    "RANKING",
    "REACH",
    "RESULTS",
    "RESULTS_INNER",
    "RESULTS_LATER",
    "SAMPLES",
    "SAMPLES_LATER",
    "STATIONS",
    "TOTALS",
    "TRENDS",
    "WHY_NOT",
    "Batch",
    "Problem",
    "Run",
]

GROUPS = (
    "metal",
    "pah",
    "pcb-congener",
    "pcb-aroclor",
    "pcb-homolog",
    "pesticide",
    "dioxin",
    "organotin",
    "conventional",
    "other",
)
KINDS = ("exact", "nondetect", "trace", "more-than", "estimated-maximum")
WHY_NOT = (
    "no-basis",
    "no-moisture",
    "moisture-conflict",
    "no-carbon",
    "rejected-by-lab",
    "tentative",
    "fraction",
    "in-a-group",
    "mixed-peak",
)
BECAME = ("result", "qc", "duplicate", "superseded", "rejected", "lab-total", "context", "ignored")
#: From mildest to gravest, as ``--fail-on`` counts.
FINDING_ORDER = ("not-assessed", "below", "undetermined", "between", "above")

RESULTS = [
    "result_id",
    "sample",
    "lab_sample",
    "parent",
    "station",
    "core",
    "river_km",
    "depth_top_cm",
    "depth_bottom_cm",
    "collected",
    "substance",
    "cas",
    "group",
    "reported",
    "qualifier",
    "reported_unit",
    "reported_basis",
    "detected",
    "kind",
    "value",
    "limit",
    "limit_kind",
    "low",
    "high",
    "unit",
    "oc_value",
    "oc_unit",
    "method",
    "used",
    "why_not",
    "file",
    "sheet",
    "row",
    "column",
]
#: What reading leaves for the later stages, in the reported unit and basis: the numbers as read, the factor from the
#: reported unit to the substance's standard unit, whether a flag makes the figure an estimate, and the dates of
#: extraction and analysis.
RESULTS_INNER = ["read_value", "read_limit", "read_low", "read_high", "factor", "estimated", "extracted", "analysed"]
#: What results.csv shows after the contract's columns, so that a chain can be redone from it: the numbers as read, the
#: factor of the unit, and the solids that a wet result was divided by.
RESULTS_LATER = ["read_value", "read_limit", "factor", "solids_pct"]
TOTALS = [
    "sample",
    "station",
    "total",
    "name",
    "rule",
    "value",
    "low",
    "high",
    "limit",
    "unit",
    "detected",
    "qualifier",
    "members",
    "measured",
    "peaks",
    "detects",
    "complete",
    "missing",
    "counted_once",
    "factor",
    "lab_total",
    "lab_difference_pct",
    "note",
]
FINDINGS = [
    "sample",
    "station",
    "river_km",
    "depth_top_cm",
    "depth_bottom_cm",
    "group",
    "substance",
    "total",
    "set",
    "basis",
    "value",
    "low",
    "high",
    "unit",
    "detected",
    "qualifier",
    "lower_name",
    "lower_level",
    "upper_name",
    "upper_level",
    "lower_quotient",
    "upper_quotient",
    "finding",
    "highest_exceeded",
    "settled",
    "evidence",
    "note",
]
INDICES = [
    "sample",
    "station",
    "index",
    "substance",
    "value",
    "low",
    "high",
    "unit",
    "class",
    "set_or_source",
    "members",
    "evidence",
    "note",
]
#: What the tables of places say of each layer and substance or total.
_STATISTICS = [
    "layer",
    "substance",
    "n",
    "detects",
    "mean",
    "mean_low",
    "mean_high",
    "median",
    "max",
    "upper95",
    "unit",
    "method",
    "note",
]
STATIONS = ["station", "role", "river_km", *_STATISTICS]
REACH = ["place", *_STATISTICS, "share_of_area_pct", "area_mean", "area_mean_low", "area_mean_high"]
SAMPLES = [
    "sample",
    "lab_sample",
    "parent",
    "station",
    "core",
    "zone",
    "role",
    "water",
    "river_km",
    "latitude",
    "longitude",
    "collected",
    "depth_top_cm",
    "depth_bottom_cm",
    "solids_pct",
    "toc_pct",
    "fines_pct",
    "texture",
    "colour",
    "odour",
    "inclusions",
    "note",
]
#: What samples.csv shows after the contract's columns: depths stretched by penetration over recovered length, and
#: elevations of the interval where its core has a bed level and a datum.
SAMPLES_LATER = ["depth_top_linear_cm", "depth_bottom_linear_cm", "elevation_top_m", "elevation_bottom_m", "datum"]
QUALITY = ["check", "sample", "substance", "value", "criterion", "outcome", "note", "file", "sheet", "row"]
CHANGE = ["station", "layer", "substance", "earlier", "now", "ratio", "unit", "note"]
CORES = [
    "core",
    "station",
    "substance",
    "n",
    "surface",
    "peak",
    "peak_top_cm",
    "peak_bottom_cm",
    "surface_to_peak",
    "cut_cm",
    "cut_mean",
    "cut_mean_low",
    "cut_mean_high",
    "cut_covered_pct",
    "left_value",
    "unit",
    "depth_rule",
    "note",
]
#: What cores.csv shows after the contract's columns: the rule of a sum, how the core was recovered, and the same levels
#: as elevations above the datum.
CORES_LATER = [
    "rule",
    "recovery_pct",
    "linear_factor",
    "bed_level_m",
    "datum",
    "peak_top_m",
    "peak_bottom_m",
    "cut_m",
]
#: One row per core, part (the prism that is cut, the layer left bare), set and guideline substance.
CUTS = [
    "core",
    "station",
    "part",
    "top_cm",
    "bottom_cm",
    "covered_pct",
    "substance",
    "total",
    "set",
    "basis",
    "value",
    "low",
    "high",
    "unit",
    "lower_name",
    "lower_level",
    "upper_name",
    "upper_level",
    "finding",
    "settled",
    "evidence",
    "note",
]
#: One row per layer, substance or total, groups compared and test.
COMPARISONS = [
    "layer",
    "substance",
    "groups",
    "n",
    "detects",
    "medians",
    "test",
    "statistic",
    "p",
    "p_holm",
    "sided",
    "outcome",
    "unit",
    "note",
]
#: One row per substance or total: whether surface figures go with the distance from the mouth.
TRENDS = [
    "layer",
    "substance",
    "n",
    "detects",
    "km_low",
    "km_high",
    "test",
    "tau",
    "rho",
    "statistic",
    "p",
    "p_holm",
    "sided",
    "outcome",
    "note",
]
#: One row per set and station, the one to look at first on top; counts are of substances and sums.
RANKING = [
    "set",
    "rank",
    "station",
    "role",
    "river_km",
    "samples",
    "compared",
    "above",
    "above_low",
    "above_high",
    "between",
    "undetermined",
    "not_assessed",
    "below",
    "unsettled",
    "highest_quotient",
    "highest_level",
    "highest_substance",
    "highest_total",
    "highest_sample",
    "highest_top_cm",
    "highest_bottom_cm",
    "evidence",
    "note",
]
LEDGER = ["file", "sheet", "row", "column", "cells", "text", "became", "reason", "result_id"]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that a user should know: what, where, and how to mend it.

    ``severity`` is ``warning`` (used all the same), ``refused`` (a row or cell left out) or ``file`` (an input that
    could not be read at all). ``row`` counts from 1 as in the sheet; ``column`` is a letter.
    """

    code: str
    message: str
    mend: str = ""
    severity: str = "warning"
    file: str = ""
    sheet: str = ""
    row: int | None = None
    column: str = ""

    @property
    def where(self) -> str:
        """The place in words: ``lab.xlsx, sheet PAH, cell G41``."""
        parts = [self.file] if self.file else []
        if self.sheet:
            parts.append(f"sheet {self.sheet}")
        if self.row is not None and self.column:
            parts.append(f"cell {self.column}{self.row}")
        elif self.row is not None:
            parts.append(f"row {self.row}")
        elif self.column:
            parts.append(f"column {self.column}")
        return ", ".join(parts)

    @property
    def text(self) -> str:
        """The whole message on one line."""
        place = f"{self.where}: " if self.where else ""
        mend = f" {self.mend}" if self.mend else ""
        return f"{place}{self.message}{mend}"

    @property
    def record(self) -> dict[str, Any]:
        """The message and its place as ``run.json`` and ``read --json`` list them."""
        place = {"file": self.file, "sheet": self.sheet, "row": self.row, "column": self.column}
        return {"code": self.code, "message": self.text, **place}


@dataclass(frozen=True, slots=True)
class Batch:
    """All that was read from one batch of sheets and field records. No stage changes a batch; it returns another.

    - ``results``: RESULTS + RESULTS_INNER, in the order read. After reading, value, limit, low, high, unit, oc_value
      and oc_unit are still empty and ``used`` is false where a ``why_not`` of reading applies; ``normalise`` fills
      them.
    - ``lab_totals``: the same columns for the totals that the laboratory reported itself.
    - ``qc``: the same columns for blanks, spikes, laboratory duplicates and surrogates, with ``qc_kind`` and ``qc_of``.
    - ``refused``: sample, substance, reason, file, sheet, row, column of refused rows whose sample and substance are
      known (they become ``not-assessed`` findings).
    - ``samples``: SAMPLES, one row per sample, in the order met; ``without_results`` and ``without_field`` are flags.
    - ``stations``: station, river_km, latitude, longitude, water, role, zone, area_m2, remarks.
    - ``cores``: core, station and what the field record says of it, lengths in cm.
    - ``ledger``: LEDGER, in the order read.
    - ``tables``: what was found and why, for ``siltmark read`` (plain dicts).
    - ``inputs``: path (below the argument), sha256 and bytes of each file.
    - ``cells``: non-empty cells counted while reading, before anything was decided about them.
    """

    results: pd.DataFrame
    lab_totals: pd.DataFrame
    qc: pd.DataFrame
    refused: pd.DataFrame
    samples: pd.DataFrame
    stations: pd.DataFrame
    cores: pd.DataFrame
    ledger: pd.DataFrame
    cells: int = 0
    problems: tuple[Problem, ...] = ()
    tables: tuple[dict[str, object], ...] = ()
    questions: tuple[dict[str, object], ...] = ()
    inputs: tuple[dict[str, object], ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Run:
    """A finished run: all that the report, the tables and ``explain`` need, and nothing that they must work out.

    - ``batch``: the normalised batch (its ``results`` and ``ledger`` are tables of the output, as is ``samples``).
    - ``sets``: the guideline sets in use, the first leads the report; ``assigned``: sample, set (which are compared).
    - ``change`` is None without an earlier run. ``cuts``: CUTS, empty without a cut; ``comparisons``: COMPARISONS;
      ``trends``: TRENDS; ``ranking``: RANKING.
    - ``record``: what goes into run.json.
    """

    settings: Settings
    batch: Batch
    sets: tuple[GuidelineSet, ...]
    assigned: pd.DataFrame
    totals: pd.DataFrame
    findings: pd.DataFrame
    indices: pd.DataFrame
    stations: pd.DataFrame
    reach: pd.DataFrame
    quality: pd.DataFrame
    cores: pd.DataFrame
    change: pd.DataFrame | None
    problems: tuple[Problem, ...]
    record: dict[str, object]
    cuts: pd.DataFrame | None = None
    comparisons: pd.DataFrame | None = None
    trends: pd.DataFrame | None = None
    ranking: pd.DataFrame | None = None
