"""Sentences of the contract on sets of one's own, each with a sheet by hand: the command in, one finding out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from harness import Outcome

Screen = Callable[..., Outcome]
OwnSet = Callable[..., Path]


TOML = """\
title = "An invented set"
citation = "None: made for a test."
water = ["fresh"]
levels = [{levels}]
{pair}
{keys}
caveats = ["For tests only."]
{more}
"""


@pytest.fixture
def own_set(tmp_path: Path) -> OwnSet:
    """Write a set with these lines of its table, further keys and further tables; give the path of its TOML file."""

    def write(
        table: Sequence[str], levels: Sequence[str] = ("LOW", "HIGH"), keys: str = "", more: str = "", name: str = "own"
    ) -> Path:
        pair = f'upper = "{levels[-1]}"' if len(levels) == 1 else f'lower = "{levels[0]}"\nupper = "{levels[-1]}"'
        quoted = ", ".join(f'"{level}"' for level in levels)
        path = tmp_path / f"{name}.toml"
        path.write_text(TOML.format(levels=quoted, pair=pair, keys=keys, more=more), encoding="utf-8")
        path.with_suffix(".csv").write_text("\n".join(table) + "\n", encoding="utf-8")
        return path

    return write


def rows(unit: str, *pairs: tuple[str, str], sample: str = "S1") -> list[tuple[str, ...]]:
    return [(sample, name, text, unit, "dry") for name, text in pairs]


@pytest.mark.parametrize(
    ("result", "finding", "settled"),
    [
        ("10", "below", "true"),
        ("10.0001", "above", "true"),
        ("<10", "below", "true"),
        ("<11", "undetermined", "false"),
        (">5", "undetermined", "false"),
        (">50", "above", "true"),
    ],
)
def test_a_set_of_one_level(screen_csv: Screen, own_set: OwnSet, result: str, finding: str, settled: str) -> None:
    """The level stands for the lower one, and above it the finding is above."""
    path = own_set(["substance,ONE,unit", "Lead,10,mg/kg"], levels=("ONE",))
    row = screen_csv(rows("mg/kg", ("Lead", result)), "--guidelines", path).one("findings")
    assert (row["finding"], row["settled"], row["lower_name"]) == (finding, settled, "")


@pytest.mark.parametrize(
    ("result", "finding", "exceeded"),
    [("10", "between", "LOW"), ("<10", "below", ""), ("50", "above", "HIGH"), (">10", "between", "LOW")],
)
def test_at_the_level_of_a_set_where_that_exceeds(
    screen_csv: Screen, own_set: OwnSet, result: str, finding: str, exceeded: str
) -> None:
    """A value equal to the level exceeds it; a limit equal to it does not pass it, since the value is lower."""
    path = own_set(["substance,LOW,HIGH,unit", "Lead,10,50,mg/kg"], keys='at_level = "exceeds"')
    row = screen_csv(rows("mg/kg", ("Lead", result)), "--guidelines", path).one("findings")
    assert (row["finding"], row["highest_exceeded"]) == (finding, exceeded)


@pytest.mark.parametrize(
    ("substance", "unit", "result", "figures", "unit_of_level", "levels"),
    [
        ("Lead", "mg/kg", "15", "10,20", "ppm", (10, 20)),
        ("Lead", "mg/kg", "15", "10000,20000", "ppb", (10, 20)),
        ("Iron", "mg/kg", "15000", "1,2", "%", (10000, 20000)),
        ("Total organic carbon", "%", "1.5", "1,2", "%", (1, 2)),
        ("Pyrene", "ug/kg", "150", "0.1,0.2", "mg/kg", (100, 200)),
    ],
)
def test_units_of_levels(
    screen_csv: Screen,
    own_set: OwnSet,
    substance: str,
    unit: str,
    result: str,
    figures: str,
    unit_of_level: str,
    levels: tuple[float, float],
) -> None:
    path = own_set(["substance,LOW,HIGH,unit", f"{substance},{figures},{unit_of_level}"])
    row = screen_csv(rows(unit, (substance, result)), "--guidelines", path).one("findings")
    assert (float(row["lower_level"]), float(row["upper_level"])) == pytest.approx(levels)
    assert row["finding"] == "between"


@pytest.mark.parametrize("unit", ["mg/kg OC", "ug/g OC"])
def test_a_unit_per_carbon(screen_csv: Screen, own_set: OwnSet, unit: str) -> None:
    """150 ug/kg at 1 % carbon is 15 mg/kg OC."""
    path = own_set(["substance,LOW,HIGH,unit", f"Pyrene,10,20,{unit}"])
    sheet = [*rows("ug/kg", ("Pyrene", "150")), ("S1", "TOC", "1", "%", "dry")]
    row = screen_csv(sheet, "--guidelines", path).one("findings")
    assert (row["basis"], float(row["value"]), row["finding"]) == ("oc", pytest.approx(15), "between")


@pytest.mark.parametrize(
    ("carbon", "chosen", "finding"),
    [("0.5", "mine", "above"), ("3.5", "mine", "below"), ("0.49", "other", "between"), ("3.6", "other", "between")],
)
def test_ones_own_set_takes_over_outside_the_range(
    screen_csv: Screen, own_set: OwnSet, carbon: str, chosen: str, finding: str
) -> None:
    """150 ug/kg is 30 mg/kg OC at 0.5 % and 4.3 at 3.5 %; the other set has 100 and 200 ug/kg. The ends are inside."""
    own_set(["substance,LOW,HIGH,unit", "Pyrene,100,200,ug/kg"], name="other")
    more = '[toc]\nrange_pct = [0.5, 3.5]\noutside = "other"'
    path = own_set(["substance,LOW,HIGH,unit,basis", "Pyrene,10,20,mg/kg,oc"], name="mine", more=more)
    sheet = [*rows("ug/kg", ("Pyrene", "150")), ("S1", "TOC", carbon, "%", "dry")]
    out = screen_csv(sheet, "--guidelines", path)
    row = out.one("findings")
    assert (row["set"], row["finding"]) == (chosen, finding)
    assert chosen in [one["id"] for one in out.record["guideline_sets"]]


def test_the_set_outside_has_its_own_rule_for_nondetects(screen_csv: Screen, own_set: OwnSet) -> None:
    """Ten and a limit of 4: 12 by half in one set, 10 by zero in the other, which low carbon leads to."""
    own_set(["substance,LOW,HIGH,unit", "Sum DDT,11,100,ug/kg"], name="other", keys='nondetects = "zero"',
            more='[sums]\n"Sum DDT" = ["ddt"]')  # fmt: skip
    more = '[toc]\nrange_pct = [0.5, 3.5]\noutside = "other"\n[sums]\n"Sum DDT" = ["ddt"]'
    table = ["substance,LOW,HIGH,unit,basis", "Sum DDT,1,10,mg/kg,oc"]
    path = own_set(table, name="mine", more=more, keys='nondetects = "half"')
    sheet = [*rows("ug/kg", ("4,4'-DDT", "10"), ("2,4'-DDT", "<4")), ("S1", "TOC", "0.1", "%", "dry")]
    row = screen_csv(sheet, "--guidelines", path).one("findings")
    assert (row["set"], float(row["value"]), row["finding"]) == ("other", 10, "below")


SEVEN = ("1016", "1221", "1232", "1242", "1248", "1260")


@pytest.mark.parametrize(("result", "finding"), [(">20", "undetermined"), (">60", "between"), (">700", "above")])
def test_a_total_of_a_member_above_the_range(screen_csv: Screen, result: str, finding: str) -> None:
    """It is at least so much, as its member is: total PCBs against TEC 59.8 and PEC 676 ug/kg (MacDonald 2000)."""
    sheet = rows("ug/kg", ("Aroclor 1254", result), *((f"Aroclor {one}", "<1") for one in SEVEN))
    row = screen_csv(sheet).one("findings")
    assert (row["finding"], "at least this" in row["note"], row["high"]) == (finding, True, "")


def test_a_laboratory_total_above_the_range(screen_csv: Screen) -> None:
    sheet = [*rows("ug/kg", ("Total PCBs", ">20")), *rows("mg/kg", ("Lead", "1"))]
    row = screen_csv(sheet).one("findings", substance="Total PCBs")
    assert (row["total"], row["finding"]) == ("pcb-congeners-lab", "undetermined")
