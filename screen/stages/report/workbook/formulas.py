"""Live formulas beside the tables of the workbook, by which a checker can redo a quotient, a finding and a sum.

In: a finished run. Out: columns of formulas, each with the value that it has now. The rule for ties is the one of the
findings: a figure within 1e-9 of a level, relative, equals it. No text from outside is ever part of a formula.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from screen import model
from screen.explain import results_summed, tables_of
from screen.letters import column_letter
from screen.reference.units import factor as unit_factor
from screen.stages.report.facts import records
from screen.stages.report.text import number_text
from screen.stages.report.workbook.spreadsheet import Formulas

if TYPE_CHECKING:
    from screen.model import Run

__all__ = ["MOST_SUMS", "finding_formulas", "sum_formulas", "too_many_sums"]

#: Sums of larger runs have no formulas; the tables have every figure.
MOST_SUMS = 5_000
_TIE = 1e-9
_FINDING = {name: column_letter(at) for at, name in enumerate(model.FINDINGS)}
_TOTAL = {name: column_letter(at) for at, name in enumerate(model.TOTALS)}
_RESULT = {name: column_letter(at) for at, name in enumerate([*model.RESULTS, *model.RESULTS_LATER])}
_SHARES = {"half": ("/2", 0.5), "root2": ("/SQRT(2)", 1 / math.sqrt(2.0)), "full": ("", 1.0)}


def finding_formulas(run: Run) -> dict[str, Formulas]:
    """For each row of findings: both quotients, the finding as far as value or limit and levels give it, agreement.

    A partial sum or a figure known only as ``more than`` is not told from a whole one here, so what is not above a
    level is ``not above``, which agrees with below and undetermined. A sum without any detect is left out: it is judged
    by its highest single limit, which stands in totals.
    """
    at_level = {one.id: one.at_level for one in run.sets}
    lower_is, upper_is, found_is, agrees_is = _Column(), _Column(), _Column(), _Column()
    after = len(model.FINDINGS)
    check = column_letter(after + 2)
    for row, one in enumerate(records(run.findings[model.FINDINGS]), 2):
        ref = {name: f"{letter}{row}" for name, letter in _FINDING.items()}
        for column, side in ((lower_is, "lower"), (upper_is, "upper")):
            level = one[f"{side}_level"]
            if math.isnan(one["value"]) or math.isnan(level):
                column.skip()
            else:
                column.add(f"{ref['value']}/{ref[f'{side}_level']}", one["value"] / level)
        formula, value = _judged(one, ref, ties=at_level.get(one["set"]) == "exceeds")
        if not formula:
            found_is.skip()
            agrees_is.skip()
            continue
        found_is.add(formula, value)
        cell, finding = f"{check}{row}", ref["finding"]
        agrees_is.add(
            f'OR({cell}={finding},AND({cell}="not above",OR({finding}="below",{finding}="undetermined")))',
            value == one["finding"] or (value == "not above" and one["finding"] in ("below", "undetermined")),
        )
    return {
        "check_lower_quotient": lower_is.formulas,
        "check_upper_quotient": upper_is.formulas,
        "check_finding": found_is.formulas,
        "check_agrees": agrees_is.formulas,
    }


def _judged(one: dict[str, Any], ref: dict[str, str], *, ties: bool) -> tuple[str, str]:
    """The formula that judges a row, and what it gives; empty for a row that value, limit and levels do not judge."""
    lower, upper = one["lower_level"], one["upper_level"]
    if one["finding"] == "not-assessed" or (math.isnan(lower) and math.isnan(upper)):
        return "", ""

    def exceeds(name: str, side: str) -> tuple[str, bool]:
        figure, level = ref[name], ref[f"{side}_level"]
        gap, room = one[name] - one[f"{side}_level"], _TIE * one[f"{side}_level"]
        if ties:
            return f"{figure}-{level}>=-{_TIE:G}*{level}", gap >= -room
        return f"{figure}-{level}>{_TIE:G}*{level}", gap > room

    if math.isnan(one["value"]):
        if one["total"] or math.isnan(one["high"]):
            return "", ""
        formula, met = exceeds("high", "upper" if math.isnan(lower) else "lower")
        return f'IF({formula},"undetermined","below")', "undetermined" if met else "below"
    formula, value = '"not above"', "not above"
    for side, word in (("lower", "between"), ("upper", "above")):
        if not math.isnan(one[f"{side}_level"]):
            test, met = exceeds("value", side)
            formula, value = f'IF({test},"{word}",{formula})', word if met else value
    return formula, value


def sum_formulas(run: Run) -> dict[str, Formulas]:
    """For each row of totals that is compared: the sum of the cells of results that it is made of, by its rule.

    ``check_value`` is of sums that have a value, but for those by ``km``, which are estimates from ranks;
    ``check_limit`` of sums without a value: their highest limit, or the substituted sum. Neither for a laboratory's own
    total, nor for a run of more than MOST_SUMS such rows.
    """
    columns = {name: _Column() for name in ("check_value", "check_limit", "check_high", "check_agrees")}
    rows = records(run.totals[model.TOTALS])
    wanted = [] if too_many_sums(run) else _summed(run)
    places = {identity: at for at, identity in enumerate(run.batch.results["result_id"].tolist(), 2)}
    names = list(dict.fromkeys(rows[at]["total"] for at in wanted))
    made = results_summed(tables_of(run), run.totals["sample"].iloc[wanted], names) if wanted else {}
    chosen = set(wanted)
    for at, one in enumerate(rows):
        members = made.get((one["sample"], one["total"]), []) if at in chosen else []
        _add_sum(columns, one, at + 2, [(row, weight, places[row["result_id"]]) for row, weight in members])
    return {name: column.formulas for name, column in columns.items()}


def too_many_sums(run: Run) -> bool:
    """Whether a run compares so many sums that none has a formula."""
    return len(_summed(run)) > MOST_SUMS


def _summed(run: Run) -> list[int]:
    """The rows of totals that are compared and are no laboratory's own."""
    pairs = run.findings[["sample", "total"]].drop_duplicates()
    compared = {(one["sample"], one["total"]) for one in records(pairs)}
    rows = records(run.totals[["sample", "total"]])
    return [
        at
        for at, one in enumerate(rows)
        if (one["sample"], one["total"]) in compared and not one["total"].endswith("-lab")
    ]


_Member = tuple[dict[str, Any], float, int]


def _add_sum(columns: dict[str, _Column], one: dict[str, Any], line: int, members: Sequence[_Member]) -> None:
    """Add the cells of one row of totals, whose line in the sheet is ``line``."""
    value_is, limit_is, high_is, agrees_is = columns.values()
    tests: list[tuple[str, bool]] = []

    def checked(column: _Column, head: str, name: str, figure: float) -> None:
        cell, own = f"{head}{line}", f"{_TOTAL[name]}{line}"
        tests.append((f"ABS({cell}-{own})<={_TIE:G}*ABS({own})", abs(figure - one[name]) <= _TIE * abs(one[name])))

    head = {name: column_letter(len(model.TOTALS) + at) for at, name in enumerate(columns)}
    if members and not math.isnan(one["value"]) and one["rule"] != "km":
        figure = value_is.sum_of([_term(one, *member) for member in members], one["factor"])
        checked(value_is, head["check_value"], "value", figure)
    else:
        value_is.skip()
    if members and math.isnan(one["value"]) and not math.isnan(one["limit"]):
        if one["rule"] in _SHARES:
            figure = limit_is.sum_of([_term(one, *member) for member in members], one["factor"])
        else:
            figure = limit_is.most_of([_limit(one, *member) for member in members], one["factor"])
        checked(limit_is, head["check_limit"], "limit", figure)
    else:
        limit_is.skip()
    if members and not math.isnan(one["high"]):
        terms = [_scaled(one, row, weight, "high", at, "", 1.0) for row, weight, at in members]
        checked(high_is, head["check_high"], "high", high_is.sum_of(terms, one["factor"]))
    else:
        high_is.skip()
    if tests:
        agrees_is.add(f"AND({','.join(text for text, _ in tests)})", all(met for _, met in tests))
    else:
        agrees_is.skip()


def _limit(total: dict[str, Any], row: dict[str, Any], weight: float, at: int) -> tuple[str, float]:
    """The single limit of one member: a reference to its cell, and the figure."""
    return _scaled(total, row, weight, "limit" if _known(row["limit"]) else "high", at, "", 1.0)


def _term(total: dict[str, Any], row: dict[str, Any], weight: float, at: int) -> tuple[str, float]:
    """What one member brings to the value of its sum: a reference to its cell, and the figure."""
    if _known(row["value"]):
        return _scaled(total, row, weight, "value", at, "", 1.0)
    if total["rule"] in _SHARES:
        said, share = _SHARES[total["rule"]]
        return _scaled(total, row, weight, "limit" if _known(row["limit"]) else "high", at, said, share)
    return _scaled(total, row, weight, "low", at, "", 1.0) if row["kind"] == "trace" else ("", 0.0)


def _scaled(
    total: dict[str, Any], row: dict[str, Any], weight: float, name: str, at: int, said: str, share: float
) -> tuple[str, float]:
    if not _known(row[name]):
        return "", 0.0
    by = (unit_factor(str(row["unit"]), str(total["unit"])) or 1.0) * weight
    return f"results!{_RESULT[name]}{at}{said}{'' if by == 1 else f'*{number_text(by)}'}", row[name] * share * by


def _known(value: object) -> bool:
    return isinstance(value, (int, float)) and not math.isnan(value)


class _Column:
    """A column of formulas in the making."""

    def __init__(self) -> None:
        self._texts: list[str] = []
        self._values: list[float | str | bool] = []

    @property
    def formulas(self) -> Formulas:
        return Formulas(self._texts, self._values)

    def add(self, text: str, value: float | str | bool) -> None:
        self._texts.append(text)
        self._values.append(value)

    def skip(self) -> None:
        self.add("", "")

    def most_of(self, terms: Sequence[tuple[str, float]], factor: float) -> float:
        """Add the greatest of ``terms`` times ``factor``, and give its figure."""
        said = f"MAX({','.join(text for text, _ in terms if text) or '0'})"
        value = max((figure for _, figure in terms), default=0.0)
        return self._times(said, value, factor)

    def sum_of(self, terms: Sequence[tuple[str, float]], factor: float) -> float:
        """Add the sum of ``terms`` times ``factor``, and give its figure."""
        said = "+".join(text for text, _ in terms if text) or "0"
        return self._times(said, math.fsum(figure for _, figure in terms), factor)

    def _times(self, said: str, value: float, factor: float) -> float:
        if factor != 1.0 and not math.isnan(factor):
            said, value = f"{number_text(factor)}*({said})", value * factor
        self.add(said, value)
        return value
