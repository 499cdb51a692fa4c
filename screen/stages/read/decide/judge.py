"""What becomes of each record, in order: set aside, quality control, other medium, refused, or open for the choice.

In: records with their readings and owners. Out: verdicts, ``why_not`` codes, and problems grouped by their matter.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from screen.model import WHY_NOT
from screen.stages.read.cells.coded import equals, pair_codes, present
from screen.stages.read.cells.grid import DATE, Column
from screen.stages.read.decide.case import Case
from screen.stages.read.decide.questions import answer_lines, quoted, reading_lines
from screen.stages.read.records.owners import QC_KINDS
from screen.stages.read.words.detection import REASONS
from screen.stages.read.words.meanings import BASES
from screen.stages.read.words.vocabulary import look_up

__all__ = ["ask_for_basis", "ask_for_water", "judge", "why_not"]

Bools = npt.NDArray[np.bool_]


def judge(case: Case, soil: bool) -> None:
    """Decide all records that cannot be a result, whatever else the batch holds."""
    frame = case.readings.frame
    _qc(case)
    _media(case, soil)
    absent = equals(frame["outcome"], "not-analysed")
    case.verdicts.give(absent, "ignored", "not-analysed: the cell says that nothing was measured or reported")
    _names(case)
    percent_odd = case.readings.percent & (case.measures.canonical.codes != 0) & ~_is(case.measures.canonical, "%")
    case.verdicts.give(percent_odd, "rejected", "percent-sign: the cell is in per cent and its unit is not")
    value = case.records.get("value")
    case.grouped.tell_each(
        percent_odd & case.verdicts.is_("rejected"),
        value,
        lambda text: (
            "percent-sign",
            f"the cell {text!r} has a percent sign, but the unit of its row is another",
            "Correct the cell or the unit.",
        ),
        "refused",
    )
    refused = equals(frame["outcome"], "refused") & case.verdicts.open
    for code in present(frame["code"], refused):
        what, mend = REASONS.get(code, (code, ""))
        now = case.verdicts.give(refused & equals(frame["code"], code), "rejected", f"{code}: {what}")
        _tell_values(case, now, code, what, mend)
    _second_flags(case)
    _units(case)
    now = case.verdicts.give(case.measures.conflict, "rejected", "basis-conflict: two places state different bases")
    case.grouped.tell(
        now,
        "basis-conflict",
        "the basis is stated as dry in one place and as wet in another",
        'Say which holds with basis = "..." in an [[answers]] of this file.',
        "refused",
    )
    ids = case.records.get("sample")
    now = case.verdicts.give(
        (ids.kinds == DATE)[ids.codes], "rejected", "date-for-id: a date where a sample id belongs"
    )
    case.grouped.tell_each(
        now,
        ids,
        lambda text: (
            "date-for-id",
            f"a spreadsheet's date stands where a sample id belongs ({text!r}); the id that was typed is lost",
            "Write the id as text, with an apostrophe in front.",
        ),
        "refused",
    )
    lost = case.owners.sample.codes == 0
    now = case.verdicts.give(lost, "rejected", "sample-missing: the row or column names no sample")
    case.grouped.tell(
        now,
        "sample-missing",
        "no sample is named for this result",
        "Write the sample id in its row or above its column.",
        "refused",
    )
    for code in present(frame["notice"], case.verdicts.open):
        what, mend = REASONS.get(code, (code, ""))
        case.grouped.tell(case.verdicts.open & equals(frame["notice"], code), code, what, mend)
    flags = case.readings.unexplained
    case.grouped.tell_each(
        case.verdicts.open & (flags.codes != 0),
        flags,
        lambda text: (
            "flag-unexplained",
            f"the flag {text!r} is explained nowhere; it is shown and changes nothing",
            "If it changes a result, add its meaning to the sheet's legend.",
        ),
    )
    case.grouped.tell_each(
        case.verdicts.open & (case.measures.notice.codes != 0),
        case.measures.notice,
        lambda text: ("unit-read", text.rstrip("."), ""),
    )


def _second_flags(case: Case) -> None:
    """Rows where a second column of flags, which may be the validator's, says something else than the first."""
    other = case.records.get("qualifier_other")
    rows = np.flatnonzero(other.codes != 0)
    if not len(rows):
        return
    first = case.records.get("qualifier")
    codes, where = pair_codes(other.codes[rows], first.codes[rows])
    differ = [
        str(other.texts[other.codes[rows[one]]]).strip() != str(first.texts[first.codes[rows[one]]]).strip()
        for one in where
    ]
    case.verdicts.give(
        rows[np.array(differ, dtype=bool)[codes]], "rejected", "two-qualifiers: a second flag, and nothing says whose"
    )


def ask_for_basis(case: Case) -> None:
    """The question for results of no stated basis; carbon is dry unless it says wet."""
    needs = (
        case.substances.facts["needs_basis"].to_numpy(dtype=bool)
        & (case.substances.facts["default_basis"] != "dry").to_numpy()
    )
    which = case.verdicts.is_("result") & case.substances.flag(needs) & (case.measures.basis == 0)
    text = "nothing says whether these results are on dry or on wet weight; without it they are not compared"
    case.grouped.ask(which, "no-basis", text, answer_lines('basis = "dry"'))


def ask_for_water(case: Case) -> None:
    """Offer a water figure over dry mass for samples with wet results and no other figure of their water."""
    names = case.substances.names
    results, sample = case.verdicts.is_("result"), case.owners.sample

    def has(which: Bools) -> Bools:
        """Which records are of a sample with such a result."""
        found = np.zeros(len(sample.texts), dtype=bool)
        found[sample.codes[results & which]] = True
        return found[sample.codes]

    def of(*wanted: str) -> Bools:
        return case.substances.flag([name in wanted for name in names])

    water = of("Water content (dry basis)")
    needs = case.substances.flag(case.substances.facts["needs_basis"].to_numpy(dtype=bool))
    wet = has(needs & (case.measures.basis == BASES.index("wet")))
    which = results & water & wet & ~has(of("Percent moisture", "Percent solids"))
    text = "the only water figure of samples with wet results is over dry mass; it is not used unless you say so"
    line = 'water-content = "use"'
    case.grouped.tell(which, "water-content-only", text, f"Set {line} under [reading], or add percent solids.")
    case.grouped.ask(which, "water-content-only", text, reading_lines(line))


def _is(column: Column, text: str) -> Bools:
    return np.array([one == text for one in column.texts], dtype=bool)[column.codes]


def _tell_values(case: Case, now: Bools, code: str, what: str, mend: str) -> None:
    """A refused value with what the first cell holds and may have been."""
    value = case.records.get("value")

    def example(row: int) -> str:
        hint = str(case.readings.hints.texts[case.readings.hints.codes[row]])
        was = f", which may have been {hint}" if hint else ""
        return f" ({str(value.texts[value.codes[row]])!r}{was})"

    case.grouped.tell(now, code, what, mend, "refused", example)


def _qc(case: Case) -> None:
    for kind in QC_KINDS:
        which = _is(case.owners.kind, kind)
        if which.any():
            case.verdicts.give(which, "qc", f"{kind}: no result of a field sample")
    case.verdicts.give(
        case.substances.has_role("surrogate"), "qc", "surrogate: added by the laboratory to check recovery"
    )
    organic = case.substances.in_groups("pah", "pcb-congener", "pcb-aroclor", "pesticide", "dioxin", "organotin")
    recovery = organic & _is(case.measures.canonical, "%")
    case.verdicts.give(recovery, "qc", "surrogate: a recovery in per cent, not a concentration")
    text_recovery = np.array(["recover" in str(text).casefold() for text in case.measures.unit.texts], dtype=bool)[
        case.measures.unit.codes
    ]
    case.verdicts.give(text_recovery, "qc", "surrogate: a recovery in per cent, not a concentration")
    band = case.records.get("band")
    surrogates = np.array(
        ["surrogate" in str(text).casefold() or "recover" in str(text).casefold() for text in band.texts], dtype=bool
    )[band.codes]
    case.verdicts.give(surrogates, "qc", "surrogate: stands under a heading of recoveries")


def _media(case: Case, soil: bool) -> None:
    matrix, part = case.records.get("matrix"), case.records.get("matrix_part")
    media = [look_up("media", "medium", str(text)) for text in matrix.texts]
    divisions = [look_up("media", "medium", str(text)) for text in part.texts]

    def is_(said: list[str], column: Column, wanted: str) -> Bools:
        return np.array([one == wanted for one in said], dtype=bool)[column.codes]

    other = is_(media, matrix, "other") | is_(divisions, part, "other")
    now = case.verdicts.give(other, "ignored", "other-medium: not sediment")
    case.grouped.tell_each(
        now,
        matrix,
        lambda text: (
            "other-medium",
            f"rows of the medium {text!r} are not sediment and were left out",
            "If it is sediment, correct the medium.",
        ),
    )
    if not soil:
        earth = is_(media, matrix, "soil") & ~is_(divisions, part, "sediment")
        now = case.verdicts.give(earth, "ignored", "soil: left out unless bank soil counts as sediment")
        case.grouped.tell(
            now,
            "soil",
            "rows of soil were left out",
            'If it is bank soil that counts as sediment, set soil = "include" under [reading].',
        )
    unknown = (matrix.codes != 0) & is_(media, matrix, "")
    case.grouped.tell_each(
        unknown & case.verdicts.open,
        matrix,
        lambda text: (
            "medium-unknown",
            f"the medium {text!r} is not known; its rows are read as sediment",
            "If it is not sediment, set skip = true in an [[answers]] for these rows.",
        ),
    )


def _names(case: Case) -> None:
    told = case.substances.told
    for place in range(len(told)):
        row = told.iloc[place]
        if row["role"] == "analyte" and not row["notice"]:
            continue
        which = case.verdicts.open & (case.substances.told_codes == place)
        if not which.any():
            continue
        if row["role"] == "lab-total":
            continue
        if row["role"] == "derived":
            case.verdicts.give(
                which,
                "ignored",
                f"not-a-result: {row['substance'] or row['analyte']} is read and is no result of its own",
            )
        elif row["role"] == "none":
            code = str(row["code"]) or "unknown-substance"
            now = case.verdicts.give(which, "rejected", f"{code}: {row['message']}")
            mend = {
                "unknown-substance": "Write the substance's name or CAS number, or add it to a file of own names "
                "(names under [reading]).",
                "ambiguous-name": "Write the name in full or give the CAS number.",
                "cas-against-name": "Correct the name or the CAS number.",
            }.get(code, "")
            case.grouped.tell(now, code, str(row["message"]).rstrip("."), mend, "refused")
            printed, near = str(row["analyte"]), str(row["suggestion"])
            told_as = f"read_as = {quoted(near)}" if near else "skip = true  # or read_as with the name in full"
            case.grouped.ask(now, code, str(row["message"]), answer_lines(told_as, f"substance = {quoted(printed)}"))
        if row["notice"]:
            case.grouped.tell(which & case.verdicts.open, "name-notice", str(row["notice"]).rstrip("."), "")


def _units(case: Case) -> None:
    bad = case.measures.code.codes != 0
    mends = {
        "unit-missing": 'Write the unit in the sheet, or say it with unit = "..." in an [[answers]], '
        "or with --unit for a sheet that states none.",
        "unit-unknown": "Write the unit as mg/kg, ug/kg, ng/kg or %.",
        "unit-ambiguous": "Write ng/kg or g/kg.",
        "unit-not-solid": "Check the medium of these rows; a result per litre or wipe cannot be used for sediment.",
        "unit-unfit": "Correct the unit or the substance.",
        "unit-expressed": "Write in the substance's name what the mass is stated as.",
        "basis-refused": "Ask the laboratory for results per dry mass.",
    }
    for code in np.unique(case.measures.code.codes[bad & case.verdicts.open]):
        name = str(case.measures.code.texts[code])
        which = bad & (case.measures.code.codes == code) & case.verdicts.open
        message = case.measures.message
        for each in np.unique(message.codes[which]):
            now = case.verdicts.give(which & (message.codes == each), "rejected", f"{name}: {message.texts[each]}")
            case.grouped.tell(now, name, str(message.texts[each]).rstrip("."), mends.get(name, ""), "refused")
    refused = case.measures.basis == 4
    now = case.verdicts.give(refused, "rejected", "basis-refused: the basis cannot be brought to dry sediment")
    basis = case.records.get("basis")
    case.grouped.tell_each(
        now,
        basis,
        lambda text: (
            "basis-refused",
            f"the basis {text!r} cannot be brought to dry sediment",
            "Ask the laboratory for results on dry weight.",
        ),
        "refused",
    )


def why_not(case: Case) -> npt.NDArray[np.int8]:
    """Place in WHY_NOT of each record, -1 where it may be used: the laboratory's refusal, doubt, the fraction."""
    why = np.full(len(case.records), -1, dtype=np.int8)
    given = case.readings.frame["why_not"]
    fraction = case.records.get("fraction")
    uses = [look_up("fractions", "use", str(text)) if text else "use" for text in fraction.texts]

    def of(wanted: str) -> Bools:
        return np.array([one == wanted for one in uses], dtype=bool)[fraction.codes]

    for name, which in (
        ("rejected-by-lab", equals(given, "rejected-by-lab")),
        ("tentative", equals(given, "tentative") | case.owners.tentative),
        ("rejected-by-lab", (case.use == 0) | (case.status == 0)),
        ("fraction", of("refuse") | of("")),
    ):
        why[which & (why < 0)] = WHY_NOT.index(name)
    for kind, message in (
        ("partial", "total recoverable: a partial digestion"),
        ("sieved", "the sieved fraction was analysed"),
    ):
        case.grouped.tell(
            case.verdicts.open & of(kind), f"fraction-{kind}", f"the fraction says {message}; the results are used", ""
        )
    case.grouped.tell_each(
        case.verdicts.open & of(""),
        fraction,
        lambda text: (
            "fraction-unknown",
            f"the fraction {text!r} is not known; its results are kept and not used",
            'If it is the whole sediment, say so with read_as = "Total" in an [[answers]] for that column.',
        ),
    )
    return why
