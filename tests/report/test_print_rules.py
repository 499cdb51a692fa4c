"""What the print leaves out is counted by the style sheet and said in words: the two must agree."""

import dataclasses
import re
from pathlib import Path

import pandas as pd
import pytest
from invented import make_run

import screen.stages.report.page.page as page
from screen.stages.report.facts import Facts
from screen.stages.report.page.appendix import quality
from screen.stages.report.page.supporting import totals
from screen.stages.report.parts import MOST_PRINTED, Table, listing, simple

STYLE = (Path(page.__file__).parent.parent / "templates" / "style.css").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def totals_made() -> Table:
    return totals(Facts(make_run()))[0][0]


def table(rows: int) -> Table:
    return simple("many", "Many rows", ("Sample", "Value"), [(f"S-{at}", "1") for at in range(rows)])


def test_the_style_sheet_stops_where_the_words_say() -> None:
    (first_left_out,) = re.findall(r"\.cut tbody tr:nth-child\(n \+ (\d+)\)", STYLE)
    assert int(first_left_out) == MOST_PRINTED + 1


def test_a_short_table_is_printed_whole() -> None:
    assert table(MOST_PRINTED).on_paper == ""


def test_of_a_long_table_the_rest_is_counted() -> None:
    assert table(MOST_PRINTED + 7).on_paper == "The first 30 of 37 rows are printed."


def test_of_a_table_that_the_page_cuts_the_whole_is_counted_and_named() -> None:
    rows = [f"S{at}" for at in range(50)]
    made = listing("long", "Long", ("Sample",), rows, lambda row: [row], source="findings", most=40, whole=70)
    assert len(made.rows) == 40
    assert made.shown == "The first 40 of 70 rows are shown; all are in the table findings."
    assert made.on_paper == "The first 30 of 70 rows are printed; all are in the table findings."


def test_counts_of_members_are_no_rounded_figures(totals_made: Table) -> None:
    (column,) = (at for at, head in enumerate(totals_made.heads) if head.text == "Members measured")
    assert all(re.fullmatch(r"\d+( to \d+)? of \d+", row[column].text) for row in totals_made.rows)


def test_a_quality_row_stands_for_the_samples_that_share_it() -> None:
    row = {"check": "limit-above-level", "substance": "Lead", "criterion": "TEC", "outcome": "above level", "note": ""}
    row |= {"file": "a.csv", "sheet": "", "row": 4.0}
    run = make_run()
    rows = [row | {"sample": f"S{at}", "value": 40.0 + at} for at in range(7)]
    run = dataclasses.replace(run, quality=pd.DataFrame(rows))
    (cells,) = quality(Facts(run))[1].rows
    said = [cell.text for cell in cells]
    assert "7: S0, S1, S2, S3 and 3 more" in said
    assert "40.0 to 46.0" in said
