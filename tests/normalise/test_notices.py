"""What is told of several samples at once, and how notices of parts become one problem."""

from __future__ import annotations

import numpy as np
import pytest
from made import read_rows

from screen.stages.normalise.notices import Notice, named, notice_of, problems_of

ROWS = read_rows([("B", "Lead", "1"), ("A", "Lead", "2"), ("B", "Zinc", "3")], sheet="Metals")


@pytest.mark.parametrize(
    ("samples", "most", "words"),
    [
        (["A"], 60, "sample A"),
        (["A", "B"], 60, "samples A, B"),
        (["A", "B"], 2, "samples A, B"),
        (["A", "B", "C"], 2, "samples A, B and 1 more"),
        ([str(one) for one in range(61)], None, f"samples {', '.join(str(one) for one in range(60))} and 1 more"),
    ],
)
def test_samples_in_words(samples: list[str], most: int | None, words: str) -> None:
    assert (named(samples) if most is None else named(samples, most)) == words


def test_a_notice_names_each_sample_once_with_the_place_it_was_met_first() -> None:
    rows = ROWS.set_index(np.array([7, 5, 3]))
    assert notice_of(rows, "code", "what", "mend", "refused", counted=True, placed=False) == [
        Notice(
            "code", "what", "mend", "refused", True, False, ((3, "B"), (5, "A")), 3, "lab.csv", "Metals", 4, "C"
        )
    ]  # fmt: skip


def test_what_a_notice_is_unless_told_otherwise() -> None:
    (found,) = notice_of(ROWS, "code", "what")
    assert (found.mend, found.severity, found.counted, found.placed, found.first) == ("", "warning", False, True, 0)


def test_a_place_that_is_not_known_is_empty() -> None:
    (found,) = notice_of(ROWS.assign(file=None, sheet=None, column=None, row=np.nan), "code", "what")
    assert (found.file, found.sheet, found.row, found.column) == ("", "", None, "")


def test_no_rows_are_nothing_to_tell() -> None:
    assert notice_of(ROWS.iloc[:0], "code", "what") == []
    assert problems_of([]) == ()


def notice(**more: object) -> Notice:
    given = {
        "code": "code", "what": "said", "mend": "Mend it.", "severity": "refused", "counted": False, "placed": True,
        "samples": ((4, "A"),), "results": 1, "file": "lab.csv", "sheet": "", "row": 9, "column": "D",
    }  # fmt: skip
    return Notice(**(given | more))  # type: ignore[arg-type]


def test_notices_of_one_matter_become_one_problem_in_the_order_met() -> None:
    later = notice(samples=((9, "A"), (6, "C")), results=2, row=30)
    (problem,) = problems_of([later, notice()])
    assert problem.text == "lab.csv, cell D9: samples A, C, A: said. Mend it."
    assert (problem.code, problem.severity) == ("code", "refused")


@pytest.mark.parametrize("more", [{"code": "other"}, {"what": "other"}, {"mend": "other"}])
def test_other_matters_are_problems_of_their_own_by_the_first_place(more: dict[str, str]) -> None:
    found = problems_of([notice(samples=((8, "B"),)), notice(**more)])
    assert [one.message.split(":")[0] for one in found] == ["sample A", "sample B"]


def test_matters_of_one_place_go_by_code_and_words() -> None:
    found = problems_of([notice(code="b", what="x"), notice(code="a", what="z"), notice(code="a", what="y")])
    assert [(one.code, one.message) for one in found] == [
        ("a", "sample A: y."), ("a", "sample A: z."), ("b", "sample A: x."),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("results", "words"), [(1, "1 result of sample A: said."), (3, "3 results of sample A: said.")]
)
def test_how_many_results(results: int, words: str) -> None:
    (problem,) = problems_of([notice(counted=True, results=results)])
    assert problem.message == words


def test_results_of_several_parts_are_added() -> None:
    (problem,) = problems_of([notice(counted=True, results=2), notice(counted=True, results=3, samples=((7, "A"),))])
    assert problem.message.startswith("5 results of ")


def test_a_matter_without_a_place_has_none() -> None:
    (problem,) = problems_of([notice(placed=False)])
    assert (problem.file, problem.sheet, problem.row, problem.column) == ("", "", None, "")


def test_to_plain_data_and_back() -> None:
    one = notice(samples=((4, "A"), (2, "B")))
    plain = one.as_plain()
    assert Notice.from_plain(plain | {"samples": [[4, "A"], [2, "B"]]}) == one


def test_places_of_a_part_as_those_of_the_batch() -> None:
    assert notice(samples=((0, "A"), (2, "B"))).placed_at(np.array([10, 11, 12])).samples == ((10, "A"), (12, "B"))
