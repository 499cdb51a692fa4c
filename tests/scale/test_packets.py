"""Records that travel between workers arrive as they were, and steps come out of another process as they went in."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from screen.parts import workers
from screen.parts.cut import Cut, cut
from screen.parts.executor import Here
from screen.parts.kept import Shelf
from screen.parts.reading import reading
from screen.parts.work import Files
from screen.reference.names import name_book
from screen.stages.read.cells.files import find_sheets, read_grids
from screen.stages.read.field.record import read_field_record
from screen.stages.read.gathering import Lot, Unit, gather, starts_of
from screen.stages.read.joining import book_of
from tests.scale.split_batch import split_batch


def _units(folder: Path) -> tuple[list[Unit], Cut]:
    paths, settings = split_batch(folder, 1)
    sources, _ = find_sheets(paths)
    units = Here().read(reading(settings, book_of(settings)[0], read_grids), sources, lambda number: None)
    gathered = gather(sources, units)
    return units, cut(gathered.owners, gathered.of_owner, read_field_record(settings.field, settings).samples, 40)


def _told(lot: Lot) -> list[tuple[object, ...]]:
    """Each record as plain values; which codes stand for its texts does not matter."""
    records = lot.records
    fields = [(name, column) for name, column in sorted(records.fields.items()) if (column.codes != 0).any()]
    return [
        (
            *(int(getattr(records, name)[at]) for name in ("file", "grid", "table", "row", "column", "cells")),
            int(lot.owner[at]),
            int(lot.places[at]),
            *(
                (name, str(one.texts[one.codes[at]]), int(one.kinds[one.codes[at]]), str(one.numbers[one.codes[at]]))
                for name, one in fields
            ),
        )
        for at in range(len(records))
    ]


def test_packets_of_all_files_make_the_lots_of_one_machine(tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    units, parts = _units(tmp_path)
    starts = starts_of(units)[:-1]
    every = list(range(parts.count))
    assert len(every) > 3
    lots = Here().lots(units, starts, parts, every)
    packets = [
        workers.packets_of(unit, start, parts.of_owner[start.owner : start.owner + len(unit.owners)], every)
        for unit, start in zip(units, starts, strict=True)
    ]
    assert sum(len(one) for one in packets) > parts.count  # samples span the files
    for part in every:
        mine = [one[one["part"] == part] for one in reversed(packets)]  # a shuffle keeps no order
        arrived = workers.unpacked(pd.concat(mine))
        assert _told(arrived) == _told(lots(part))


def test_only_packets_that_are_wanted_travel(tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    units, parts = _units(tmp_path)
    start = starts_of(units)[0]
    found = workers.packets_of(units[0], start, parts.of_owner[: len(units[0].owners)], [1, 2])
    assert set(found["part"]) == {1, 2}


def test_a_file_without_records_still_counts_them(tmp_path: Path) -> None:
    units, _ = _units(tmp_path)
    light = workers.without_records(units[0])
    assert len(light) == len(units[0]) == len(units[0].owner)
    assert len(light.records) == 0


def test_own_names_reach_another_process(tmp_path: Path) -> None:
    names = tmp_path / "names.csv"
    names.write_text("name,substance\nold works lead,Lead\n", encoding="utf-8")
    book = pickle.loads(pickle.dumps(name_book(names)))
    assert book.resolve("Old works lead").substance == "Lead"


def test_what_reading_asks_for_reaches_another_process(tmp_path: Path) -> None:
    _, settings = split_batch(tmp_path, 1)
    sent = pickle.loads(pickle.dumps(reading(settings, book_of(settings)[0], Files(Shelf(tmp_path), {}))))
    assert sent.knows(["Lead", "Nonsense"]).tolist() == [True, False]
    assert sent.opened.shelf.folder == tmp_path.absolute()


def test_a_step_put_twice_counts_once(tmp_path: Path) -> None:
    first, second = Shelf(tmp_path), Shelf(tmp_path)
    first.put("decided.00000", {}, {"numbers": np.arange(3)}, {"said": "once"})
    second.put("decided.00000", {}, {"numbers": np.arange(3)}, {"said": "twice"})
    assert first.get("decided.00000").about == {"said": "once"}
    assert [one.name for one in tmp_path.iterdir()] == ["decided.00000"]


def test_a_worker_of_another_installation_does_no_step() -> None:
    other = workers.installation() | {"pandas": "2.0"}
    with pytest.raises(workers.OtherInstallationError, match=r"here 2\.0"):
        workers.run_step(lambda part, known: None, other, 0, None)


def test_other_files_of_the_tool_are_told_without_digests() -> None:
    here = workers.installation()
    assert workers.differing(here | {"files": "x"}, here) == "files of siltmark that differ from those here"
