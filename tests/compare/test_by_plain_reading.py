"""Every finding against the contract's table read from the top, with plain comparisons, on figures that often tie."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from made import compared, set_of

SMALL = st.integers(1, 6)
KINDS = ("{}", "{}", "<{}", "ND", "trace 0-{}", "trace", ">{}", "max {}")
TEXT = st.builds(str.format, st.sampled_from(KINDS), SMALL)
NAMES = ("A", "B", "C")
ROW = st.tuples(TEXT, st.sampled_from(("dry", "oc", "oc-1%", "mixed")), st.sampled_from((None, "0.5", "1", "2", "4")))
SEVEN = ("Aroclor 1016", "Aroclor 1221", "Aroclor 1232", "Aroclor 1242", "Aroclor 1248", "Aroclor 1254", "Aroclor 1260")


def figures(text: str) -> dict[str, Any]:
    """Value, low, high and what a result without value is judged by; None where empty."""
    number = float(text.split("-")[-1].strip("<>max ")) if text not in ("ND", "trace") else None
    if text == "ND":
        return {"value": None, "low": 0, "high": None, "judged": None, "known": False, "more": False}
    if text.startswith("<"):
        return {"value": None, "low": 0, "high": number, "judged": number, "known": True, "more": False}
    if text.startswith("trace"):
        judged = math.inf if number is None else number
        return {"value": None, "low": 0, "high": number, "judged": judged, "known": True, "more": False}
    low, high = (number, None) if text[0] == ">" else (0 if text.startswith("max") else number, number)
    return {"value": number, "low": low, "high": high, "judged": None, "known": True, "more": text[0] == ">"}


def finding_of(
    one: dict[str, Any], by: float, levels: dict[str, float], upper_name: str, exceeds: bool, partial: bool
) -> tuple[str, bool | None, str]:
    """The finding, whether settled and the highest level exceeded; ``by`` brings figures to the levels' basis."""
    lower_name = next((name for name in NAMES if name != upper_name and name in levels), None)
    upper = levels.get(upper_name)
    lower = levels[lower_name] if lower_name else None

    def above(value: float, level: float | None) -> bool:
        if level is None:
            return False
        return exceeds if math.isclose(value, level, rel_tol=1e-9) else value > level

    def ladder(value: float) -> str:
        return "above" if above(value, upper) else "between" if above(value, lower) else "below"

    if not one["known"]:
        return "not-assessed", None, ""
    value, mildest = one["value"], lower if lower is not None else upper
    assert mildest is not None
    if value is not None:
        found = ladder(value * by)
        if found == "below" and (partial or one["more"]):
            found = "undetermined"
    else:
        past = one["judged"] * by > mildest * (1 + 1e-9)
        found = "undetermined" if past or partial else "below"
    high = math.inf if one["high"] is None or partial else one["high"] * by
    settled = found != "undetermined" and ladder(one["low"] * by) == found and ladder(high) == found
    exceeded = [name for name in NAMES if value is not None and name in levels and above(value * by, levels[name])]
    return found, settled, exceeded[-1] if exceeded else ""


def plainly(found: pd.DataFrame) -> list[tuple[str, bool | None, str]]:
    table = found.astype({"finding": object, "highest_exceeded": object, "settled": object, "sample": object})
    table = table.sort_values("sample", key=lambda names: names.str[1:].astype(int))
    return [
        (row["finding"], None if pd.isna(row["settled"]) else bool(row["settled"]),
         row["highest_exceeded"] if isinstance(row["highest_exceeded"], str) else "")
        for row in table.to_dict("records")
    ]  # fmt: skip


LEVELS = st.tuples(*[st.one_of(st.none(), SMALL) for _ in NAMES]).filter(lambda some: any(some))


@settings(max_examples=15, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(st.lists(ROW, min_size=4, max_size=12), LEVELS, st.sampled_from(("B", "C")), st.booleans())
def test_every_finding_of_a_single_substance(
    rows: list[tuple[str, str, str | None]], some: tuple[int | None, ...], upper: str, exceeds: bool
) -> None:
    """Three levels of which the pair is A and ``upper``; pyrene on dry weight, per carbon, at 1 % or on both bases."""
    given_levels = {name: float(level) for name, level in zip(NAMES, sorted(some, key=lambda x: (x is None, x)),
                                                              strict=True) if level}  # fmt: skip
    for basis in ("dry", "oc", "oc-1%", "mixed"):
        by_level = {name: "oc-1%" if name == "C" else "dry" for name in NAMES} if basis == "mixed" else basis
        chosen = set_of([("Pyrene", given_levels)], levels=NAMES, unit="mg/kg", basis=by_level, lower="A", upper=upper,
                        at_level="exceeds" if exceeds else "not-above")  # fmt: skip
        sheet: list[tuple[Any, ...]] = []
        wanted = []
        mine = [(text, carbon) for text, own, carbon in rows if own == basis]
        for number, (text, carbon) in enumerate(mine):
            sheet.append((f"S{number}", "Pyrene", text, "dry", "mg/kg"))
            if carbon:
                sheet.append((f"S{number}", "Total organic carbon", carbon))
            needs = basis in ("oc", "oc-1%") or (basis == "mixed" and "C" in given_levels)
            if needs and carbon is None:
                wanted.append(("not-assessed", None, ""))
                continue
            by = {"oc": 100 / float(carbon or 1), "oc-1%": 1 / float(carbon or 1)}.get(basis, 1.0)
            levels = dict(given_levels)
            if basis == "mixed" and "C" in levels and len(levels) > 1:
                levels["C"] *= float(carbon or 1)
            elif basis == "mixed" and "C" in levels:
                by = 1 / float(carbon or 1)
            wanted.append(finding_of(figures(text), by, levels, upper, exceeds, partial=False))
        if sheet:
            assert plainly(compared(sheet, chosen)) == wanted, (basis, mine, given_levels)


@settings(max_examples=12, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(st.lists(st.tuples(TEXT, st.booleans()), min_size=2, max_size=8), SMALL, SMALL, st.booleans())
def test_every_finding_of_a_sum(rows: list[tuple[str, bool]], first: int, second: int, exceeds: bool) -> None:
    """One Aroclor with a figure and, where complete, six not detected below 1e-12: the total is that figure."""
    levels = {"A": float(min(first, second)), "B": float(max(first, second))}
    chosen = set_of(
        [("Total PCBs", levels)],
        levels=("A", "B"),
        sums={"Total PCBs": (("pcb-aroclors",),)},
        at_level="exceeds" if exceeds else "not-above",
    )
    sheet: list[tuple[Any, ...]] = []
    wanted = []
    for number, (text, complete) in enumerate(rows):
        sheet.append((f"S{number}", SEVEN[0], text, "dry", "mg/kg"))
        sheet += [(f"S{number}", name, "<1e-12", "dry", "mg/kg") for name in (SEVEN[1:] if complete else ())]
        wanted.append(finding_of(figures(text), 1.0, levels, "B", exceeds, partial=not complete))
    assert plainly(compared(sheet, chosen)) == wanted, (rows, levels)


def test_the_plain_reading_knows_the_contracts_example() -> None:
    """Detected Aroclors of 40 with six limits of 33 against 59.8: below, and unsettled."""
    assert finding_of(
        {"value": 40, "low": 40, "high": 238, "judged": None, "known": True, "more": False},
        1.0, {"A": 59.8, "B": 676}, "B", exceeds=False, partial=False,
    ) == ("below", False, "")  # fmt: skip
