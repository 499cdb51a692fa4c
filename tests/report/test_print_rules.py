"""What the print leaves out is counted by the style sheet and said in words: the two must agree."""

import re
from pathlib import Path

import screen.stages.report.page.page as page
from screen.stages.report.parts import MOST_PRINTED, Table, simple

STYLE = (Path(page.__file__).parent.parent / "templates" / "style.css").read_text(encoding="utf-8")


def table(rows: int) -> Table:
    return simple("many", "Many rows", ("Sample", "Value"), [(f"S-{at}", "1") for at in range(rows)])


def test_the_style_sheet_stops_where_the_words_say() -> None:
    (first_left_out,) = re.findall(r"\.cut tbody tr:nth-child\(n \+ (\d+)\)", STYLE)
    assert int(first_left_out) == MOST_PRINTED + 1


def test_a_short_table_is_printed_whole() -> None:
    assert table(MOST_PRINTED).more == 0


def test_of_a_long_table_the_rest_is_counted() -> None:
    assert table(MOST_PRINTED + 7).more == 7
