"""The same input and settings give the same bytes: on two runs, with other hash seeds, locales and zones."""

from __future__ import annotations

import csv
import json
import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from harness import DEMO, Outcome

from screen.printing import browser
from tests.robust.child import run_child
from tests.robust.kills import digests

#: What a run may write differently each time.
_TIMES = ("started", "seconds")


def screened(folder: Path, name: str, **environment: str) -> tuple[dict[str, str], dict[str, object]]:
    """Digests of all files of a run over the demo data but the record's, and the record without its times."""
    out = folder / name
    pdf = ["--pdf"] if browser() else []
    ended = run_child(
        "screen", DEMO / "lab_sheets", "--field", DEMO / "field_record.xlsx", "--out", out, "--memo", *pdf,
        environment=environment, seconds=300,
    )  # fmt: skip
    assert ended.status == 0, ended.stderr
    files = digests(out)
    files.pop("run.json")
    record = json.loads((out / "run.json").read_text("utf-8"))
    return files, {key: value for key, value in record.items() if key not in _TIMES}


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, str], dict[str, object]]:
    return screened(tmp_path_factory.mktemp("first"), "out", PYTHONHASHSEED="0")


OTHERS = {
    "hash seed 1": {"PYTHONHASHSEED": "1"},
    "hash seed 4242, C locale, far zone": {"PYTHONHASHSEED": "4242", "LC_ALL": "C", "TZ": "Asia/Kathmandu"},
    "decimal comma, zone behind": {"LC_ALL": "de_DE.UTF-8", "LANG": "tr_TR.UTF-8", "TZ": "America/St_Johns"},
}


@pytest.mark.parametrize("name", OTHERS)
def test_another_run_gives_the_same_bytes(
    tmp_path: Path, first: tuple[dict[str, str], dict[str, object]], name: str
) -> None:
    files, record = screened(tmp_path, "other", **OTHERS[name])
    assert files == first[0]
    assert record == first[1]


def test_workbook_memo_and_pdf_are_among_them(first: tuple[dict[str, str], dict[str, object]]) -> None:
    wanted = {"report.html", "workbook.xlsx", "memo.md", "memo.docx", *(["report.pdf"] if browser() else [])}
    assert wanted <= set(first[0])


@pytest.mark.parametrize("seed", range(3))
def test_shuffled_rows_change_results_and_ledger_alone(
    screen_files: Callable[..., Outcome], tmp_path: Path, seed: int
) -> None:
    """The sheet has no two rows of which one must be chosen: there, which stands first may decide (intake handbook)."""
    head = ["Sample", "Analyte", "Result", "Unit"]
    chance = random.Random(seed)
    figures = random.Random(5)
    names = ["Lead", "Zinc", "Copper", "Pyrene", "Benzo(a)pyrene", "PCB-118", "PCB-138", "4,4'-DDE", "Aroclor 1254"]
    rows = [
        [f"QE-{sample:02}", name, f"{'<' * (figures.random() < 0.3)}{figures.uniform(1, 500):.3g}", "ug/kg dry"]
        for sample in range(12)
        for name in names
    ]
    rows += [[f"QE-{sample:02}", "Total organic carbon", "2.5", "% dry"] for sample in range(12)]
    shuffled = chance.sample(rows, len(rows))
    tables: list[dict[str, str]] = []
    for number, order in enumerate((rows, shuffled)):
        folder = tmp_path / str(number)
        folder.mkdir()
        with (folder / "lab.csv").open("w", newline="") as stream:
            csv.writer(stream).writerows([head, *order])
        run = screen_files([folder / "lab.csv"], "--water", "estuarine")
        tables.append(digests(run.out / "tables"))
        assert [row["sample"] for row in run.rows("results")] == [row[0] for row in order]
        shutil.rmtree(run.out)
    first, second = tables
    differing = {name for name in first if first[name] != second[name]}
    assert differing == {"results.csv", "ledger.csv"}
