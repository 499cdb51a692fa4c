"""What only a whole batch can tell: where its samples are from, what is wrong, and what only the user can answer.

In: a gathered batch, what was decided on it, and the field record. Out: samples with their places, messages, questions.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.model import Problem
from screen.reference.names import NameBook, NamesFileError, name_book
from screen.settings import Settings
from screen.stages.read.cells.files import Source
from screen.stages.read.decide.grouped import Told
from screen.stages.read.decide.questions import questions_of
from screen.stages.read.field.places import join_places
from screen.stages.read.field.record import FieldRecord
from screen.stages.read.gathering import Gathered
from screen.stages.read.records.answers import Answers
from screen.stages.read.words.ids import near_ids

__all__ = ["Joined", "book_of", "inputs_of", "join", "told_of", "with_field"]


@dataclass(frozen=True, slots=True)
class Joined:
    """Where the samples of a batch are from, sheets and field record together, and what is told of that."""

    samples: pd.DataFrame
    stations: pd.DataFrame
    cores: pd.DataFrame
    notices: tuple[Problem, ...]


def join(samples: pd.DataFrame, record: FieldRecord, settings: Settings) -> Joined:
    """The samples of the sheets (of all parts of a batch, in the order met) with those of the field record."""
    joined, stations, cores, notices = join_places(samples, record, settings)
    return Joined(joined, stations, cores, (*record.problems, *notices, *_alike(samples, notices)))


def told_of(
    gathered: Gathered,
    told: Told,
    answers_used: set[int],
    joined: Joined,
    problems: Sequence[Problem],
    settings: Settings,
) -> tuple[tuple[Problem, ...], tuple[dict[str, object], ...]]:
    """All problems of a batch, and the questions that only the user can answer.

    ``told`` and ``answers_used`` come from all of its parts; ``problems`` were met before.
    """
    told = Told.together([gathered.told, told])
    answers = Answers(settings.answers, gathered.sheets, gathered.tables, gathered.answers_used | answers_used)
    sheets = gathered.sheets
    everything = (
        *(*problems, *gathered.problems, *told.problems(sheets), *answers.problems()),
        *joined.notices,
    )
    ended = tuple(_sentence(one) for one in everything)
    return ended, (*questions_of(ended), *told.asked(sheets))


def inputs_of(sources: Sequence[Source], record: FieldRecord) -> tuple[dict[str, object], ...]:
    """What run.json says of each file read."""
    own = [{"path": one.shown, "sha256": one.sha256, "bytes": one.bytes} for one in sources]
    return (*own, *record.inputs)


def _alike(samples: pd.DataFrame, told: Sequence[Problem]) -> list[Problem]:
    """Ids of the sheets that differ only by case, blanks, hyphens or padding, but for those that were told already."""
    said = " ".join(one.message for one in told if one.code == "sample-ids-alike")
    return [
        Problem(
            "sample-ids-alike",
            f"{', '.join(map(repr, group))} may be one sample, written differently; they are kept apart",
            "Write the id in one way.",
        )
        for group in near_ids(samples["sample"])
        if repr(group[0]) not in said
    ]


def _sentence(problem: Problem) -> Problem:
    """The problem with a full stop behind its message, so that the mend can follow."""
    ended = not problem.message or problem.message.rstrip("'\")")[-1:] in (".", "?", "!", ":")
    return problem if ended else dataclasses.replace(problem, message=f"{problem.message}.")


def book_of(settings: Settings) -> tuple[NameBook, list[Problem]]:
    """The substance names that the settings let be used, and what is wrong with a file of own names."""
    try:
        return name_book(settings.names), []
    except (NamesFileError, OSError) as error:
        name = settings.names.name if settings.names else ""
        problem = Problem("names-file", f"the file of own names was not used: {error}", "Mend the line.", "file", name)
        return name_book(None), [problem]


def with_field(ledger: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """The ledger of the sheets with that of the field record under it."""
    if not len(other):
        return ledger
    columns: dict[str, object] = {}
    for name in ledger.columns:
        first, second = ledger[name], other[name]
        if isinstance(first.dtype, pd.CategoricalDtype):
            before, after = (pd.Categorical(one).rename_categories(lambda text: str(text)) for one in (first, second))
            names = before.categories.union(after.categories, sort=False)
            columns[name] = pd.Categorical.from_codes(
                np.concatenate([pd.Categorical(one).set_categories(names).codes for one in (before, after)]), names
            )
        elif name == "result_id":
            blank = pd.arrays.IntegerArray(np.zeros(len(other), dtype=np.int64), np.ones(len(other), dtype=bool))
            columns[name] = pd.concat([first, pd.Series(blank)], ignore_index=True)
        else:
            columns[name] = np.concatenate([first.to_numpy(dtype=np.float64), second.to_numpy(dtype=np.float64)])
    return pd.DataFrame(columns)
