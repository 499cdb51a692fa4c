"""From what a cell says, its flags and its limits to one reading: detected or not, number and bounds, or why not.

The rules, in the order in which they apply to a record (intake handbook 3, 3.1, 5.5; the contract's ``kind``):

1. A cell that ``parse_values`` refused stays refused.
2. Not detected: a flag or word says so (U, UJ, ND, ``<RL``, a detection condition), or the sign is ``<``. A number
   above 0 beside it is itself the limit. Without one (blank, 0, a word alone) the limit is the one that the text names,
   else that of the setting ``limits`` (reporting first, or detection first), else the other; none at all: unknown.
3. Trace (T, present below the quantitation limit) without a number: detected, between detection and quantitation
   limit. Beside a number: an estimated number.
4. A blank without such a flag was not analysed; with a coelution flag it points to another row; with a flag that needs
   a number it is refused.
5. A negative number is never a number: not detected at the limit of the row, refused where the row has none.
6. 0 is a number for conventionals only; for a concentration it is refused, or not detected by the setting ``zeros``.
7. ``>``, ``GT``, above the calibration range (E; organics only, unless a legend says so): a lower bound.
8. EMPC (K for dioxins and furans): an upper bound, kept as an estimated detection.
9. All else is exact. E of a metal or a conventional means interference: exact and estimated.

R (rejected) and N, NJ (identity in doubt) change nothing of this; they give ``why_not``. B, D, P, H and flags that
nothing explains change nothing either.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.model import KINDS
from screen.stages.read.words.qualifiers import Marks

__all__ = ["REASONS", "combine"]

Flags = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

#: Stable code -> (what is the matter, how to mend it), for refusals and for notices.
REASONS: dict[str, tuple[str, str]] = {
    # not analysed
    "not-analysed": ("not analysed or not reported.", ""),
    "pointer": ("no value of its own: it points to the row of its coeluting group.", ""),
    # refusals
    "not-a-number": ("text where a number belongs.", "Write the number alone, flags in a column of their own."),
    "not-one-number": ("this is a range, a ratio or an approximation, not one number.", "Ask for the figure itself."),
    "number-in-brackets": (
        "a number in brackets may be a limit, an estimate or a negative number.",
        "Say in the sheet's legend what brackets mean, such as: ( ) = not detected.",
    ),
    "number-range": ("the number is too large or too small to be a result.", "Ask the laboratory for the figure."),
    "decimal-unclear": (
        "nothing in the file shows whether this comma or point marks decimals or thousands, or it is against the rest.",
        'Set decimal = "point" or decimal = "comma" under [reading], or correct the cell.',
    ),
    "date-for-number": ("a date where a number belongs.", "Look up the figure in the laboratory's own report."),
    "boolean": ("TRUE or FALSE where a number belongs.", "Write the number."),
    "error-cell": ("the cell holds a spreadsheet error.", "Mend the formula, or write the number."),
    "formula-without-value": (
        "the cell holds a formula whose result was not stored.",
        "Open the file in a spreadsheet program, let it calculate, and save it.",
    ),
    "filler-code": (
        "this looks like a filler for a missing value.",
        "Leave the cell empty, or flag it U with a limit.",
    ),
    "unit-in-cell": ("a unit stands in the value cell.", "Put the unit into a column of its own or into the header."),
    "bare-zero": (
        "a concentration of 0 that no flag explains.",
        'Flag it U, or set zeros = "nondetect" under [reading] to take it as not detected at the limit.',
    ),
    "negative": ("a negative number, and no limit in its row.", "Give the limit, or flag it U with one."),
    "no-number": ("a flag that needs a number, and no number.", "Write the number beside the flag."),
    "sign-against-flag": (
        "the sign or flag says more than, another says not detected.",
        "Ask the laboratory which holds.",
    ),
    # notices
    "zero-nondetect": ("0 with a flag for not detected: taken as not detected at the limit of the row.", ""),
    "zero-as-nondetect": ("0 taken as not detected at the limit of the row, as the settings ask.", ""),
    "negative-nondetect": ("a negative number: taken as not detected at the limit of the row.", ""),
    "limit-unknown": ("not detected, and no limit anywhere: not compared.", "Give the detection or reporting limit."),
    "limit-other-than-named": ("the limit that the text names is not in the row; the other one was taken.", ""),
    "limit-below-detection": ("the number beside the flag, taken as the limit, is below the detection limit.", ""),
    "at-most": ("at most this: taken as not detected at this limit.", ""),
    "over-range": (
        "above the calibration range: a lower bound, unless a diluted run of the same sample stands in the sheet.",
        "Ask for the diluted run if there is none.",
    ),
    "estimated-maximum": ("an estimated maximum possible concentration: kept as an upper bound.", ""),
    "trace": (
        "present, but not quantified: kept as detected without a number.",
        "Ask the laboratory for an estimate if one is needed.",
    ),
    "apostrophe": ("an apostrophe in front of the number was left out.", ""),
    "thousands-mark": ("a thousands mark was left out of the number.", ""),
}
_INORGANIC = ("metal", "conventional")


def combine(
    values: pd.DataFrame,
    value_codes: npt.NDArray[np.int32],
    marks: Marks,
    mdl: Floats,
    rl: Floats,
    group: pd.Categorical,
    limits: str = "reporting",
    zeros: str = "refuse",
) -> pd.DataFrame:
    """One reading per record, vectorised.

    ``values`` is the frame of ``parse_values`` and ``value_codes`` points into it, one per record (so are ``mdl``,
    ``rl``, in the unit of the value, NaN where the row has none, and ``group``, missing where the substance is not
    known). ``limits`` and ``zeros`` are the settings of those names.

    Returned, default index, one row per record:

    - ``outcome`` categorical: ``result``, ``refused``, ``not-analysed``.
    - ``code`` categorical: why refused or not analysed (missing for a result), a key of REASONS.
    - ``notice`` categorical: something to say about a result that is used (missing for nothing), a key of REASONS.
    - ``kind`` categorical (model.KINDS; missing without a result), ``detected`` bool, ``estimated`` bool.
    - ``read_value``, ``read_limit``, ``read_low``, ``read_high`` float64 in the reported unit, by the rules for value,
      limit, low, high of results.csv.
    - ``limit_kind`` categorical: ``stated`` (the number in the cell), ``reporting``, ``detection``; missing without
      a limit.
    - ``why_not`` categorical: ``rejected-by-lab``, ``tentative``; missing otherwise.
    - ``diluted``, ``over_range`` bool, for the choice among several results.
    """
    nowhere = np.zeros(len(value_codes), dtype=bool)

    def said(column: str, *wanted: str) -> Flags:
        cells: Flags = values[column].isin(wanted).to_numpy(bool)
        return cells[value_codes] if cells.any() else nowhere

    def marked(effect: str) -> Flags:
        table: Flags = marks.table[effect].to_numpy(bool)
        return table[marks.codes] if table.any() else nowhere

    def grouped(*names: str) -> Flags:
        members = np.append(np.asarray(group.categories.isin(names)), False)
        chosen: Flags = members[group.codes]
        return chosen

    number = values["number"].to_numpy(float)[value_codes]
    has = np.isfinite(number)
    positive = has & (number > 0)
    inorganic = grouped(*_INORGANIC)
    over_range = (marked("over_range") & ~inorganic) | marked("over_range_any")
    above = said("sign", ">", ">=") | marked("more_than")
    absent = said("word", "nondetect") | said("sign", "<", "<=") | marked("nondetect")
    trace = said("word", "trace") | marked("trace")
    maximum = marked("emp_max") | (marked("emp_max_dioxin") & grouped("dioxin"))
    pointer = np.asarray(marks.table["coelutes_with"] != "")[marks.codes]
    needs_number = above | over_range | maximum | marked("estimated") | marked("rejected") | marked("tentative")

    mdl, rl = _known(mdl), _known(rl)
    limit, limit_code, other = _row_limit(values, value_codes, marks, mdl, rl, limits)
    negative = has & (number < 0)
    zero = has & (number == 0)
    bare_zero = zero & ~absent & ~trace & (~grouped("conventional") | above)
    zero_absent = bare_zero & ~above & (zeros == "nondetect")
    negative_absent = negative & np.isfinite(limit)
    blank = ~has & ~absent & ~trace

    code = _Labels(len(number))
    code.put("not-analysed", blank)
    code.put("no-number", blank & ~said("word", "not-analysed"))
    code.put("no-number", blank & needs_number)
    code.put("no-number", blank & marked("detected"))
    code.put("pointer", blank & pointer)
    code.put("not-analysed", blank & marked("not_analysed"))
    code.put("bare-zero", bare_zero & ~zero_absent)
    code.put("negative", negative & ~negative_absent)
    code.put("sign-against-flag", absent & said("sign", ">", ">="))
    code.take(values["code"], value_codes)
    result = code.codes == 0

    absent = result & (absent | zero_absent | negative_absent)
    stated = absent & positive
    trace_only = result & ~absent & trace & ~positive
    maximum = result & ~absent & ~trace_only & maximum
    lower = result & ~absent & ~trace_only & ~maximum & (above | over_range)
    exact = result & ~absent & ~trace_only & ~maximum & ~lower

    kind = np.full(len(number), -1, dtype=np.int8)
    for name, chosen in zip(KINDS, (exact, absent, trace_only, lower, maximum), strict=True):
        kind[chosen] = KINDS.index(name)
    limit = np.where(stated, number, np.where(absent, limit, np.nan))
    limit_code = np.where(stated, 0, np.where(absent & np.isfinite(limit), limit_code, -1))
    counted = exact | lower | maximum
    low = np.where(exact | lower, number + 0.0, np.where(maximum | (absent & np.isfinite(limit)), 0.0, np.nan))
    low = np.where(trace_only, np.where(np.isfinite(mdl), np.fmin(mdl, rl), 0.0), low)
    high = np.where(exact | maximum, number + 0.0, np.where(absent, limit, np.where(trace_only, rl, np.nan)))

    notice = _Labels(len(number))
    notice.take(values["notice"], value_codes)
    notice.put("trace", trace_only)
    notice.put("estimated-maximum", maximum)
    notice.put("over-range", lower & over_range)
    notice.put("limit-below-detection", stated & (number < mdl))
    notice.put("limit-other-than-named", absent & ~stated & other)
    notice.put("zero-nondetect", absent & zero & ~zero_absent)
    notice.put("zero-as-nondetect", absent & zero_absent)
    notice.put("limit-unknown", absent & np.isnan(limit))
    notice.put("negative-nondetect", absent & negative)
    notice.put("", ~result)

    outcome = np.where(result, 0, np.where(code.among("not-analysed", "pointer"), 2, 1))
    why_not = np.where(result & marked("rejected"), 0, np.where(result & marked("tentative"), 1, -1))
    estimated = marked("estimated") | marked("over_range") | marked("over_range_any") | maximum | (trace & counted)
    return pd.DataFrame(
        {
            "outcome": _categorical(outcome, ["result", "refused", "not-analysed"]),
            "code": code.categorical(),
            "notice": notice.categorical(),
            "kind": _categorical(kind, list(KINDS)),
            "detected": result & ~absent,
            "estimated": result & estimated,
            "read_value": np.where(counted, number + 0.0, np.nan),
            "read_limit": limit,
            "read_low": low,
            "read_high": high,
            "limit_kind": _categorical(limit_code, ["stated", "reporting", "detection"]),
            "why_not": _categorical(why_not, ["rejected-by-lab", "tentative"]),
            "diluted": marked("diluted"),
            "over_range": over_range,
        }
    )


def _known(limit: Floats) -> Floats:
    """Limits that can be one: finite and above 0."""
    return np.where(np.isfinite(limit) & (limit > 0), limit, np.nan)


def _row_limit(
    values: pd.DataFrame, value_codes: npt.NDArray[np.int32], marks: Marks, mdl: Floats, rl: Floats, limits: str
) -> tuple[Floats, npt.NDArray[np.int8], Flags]:
    """For nondetects without a number: limit, its kind (1 reporting, 2 detection), and whether another was named."""

    def named(which: str) -> Flags:
        by_mark = (marks.table["limit_named"] == which).to_numpy(bool)[marks.codes]
        if not in_cell.any():
            return by_mark
        return np.where(in_cell[value_codes], (values["limit_named"] == which).to_numpy(bool)[value_codes], by_mark)

    in_cell = (values["limit_named"] != "").to_numpy(bool)
    by_reporting, by_detection = named("reporting"), named("detection")
    detection_first = by_detection | (~by_reporting & (limits == "detection"))
    first = np.where(detection_first, mdl, rl)
    second = np.where(detection_first, rl, mdl)
    by_second = np.isnan(first) & np.isfinite(second)
    kind = np.where(detection_first ^ by_second, 2, 1).astype(np.int8)
    return np.where(by_second, second, first), kind, by_second & (by_detection | by_reporting)


class _Labels:
    """One label per record out of a few; a later label replaces an earlier one, "" takes it away."""

    def __init__(self, count: int) -> None:
        self.names = [""]
        self.codes = np.zeros(count, dtype=np.int16)

    def _number(self, name: str) -> int:
        if name not in self.names:
            self.names.append(name)
        return self.names.index(name)

    def put(self, name: str, where: Flags) -> None:
        self.codes[where] = self._number(name)

    def take(self, column: pd.Series, codes: npt.NDArray[np.int32]) -> None:
        """The labels of the distinct cells, where they have one."""
        categorical = column.array
        numbers = np.array([self._number(str(name)) for name in categorical.categories], dtype=np.int16)
        labels = numbers[categorical.codes][codes]
        self.codes = np.where(labels != 0, labels, self.codes)

    def among(self, *names: str) -> Flags:
        return np.isin(self.codes, [self._number(name) for name in names])

    def categorical(self) -> pd.Categorical:
        return _categorical(self.codes - 1, self.names[1:])


def _categorical(codes: npt.NDArray[np.integer], names: list[str]) -> pd.Categorical:
    return pd.Categorical.from_codes(codes, categories=pd.Index(names, dtype=object))
