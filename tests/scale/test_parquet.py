"""Tables in Parquet say what those in CSV say (the demo)."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pandas as pd
import pytest

from screen.folder import read_folder, read_table
from screen.pipeline import screened, write_run
from screen.reference.locate import demo_root
from screen.settings import Settings, SettingsError, load_settings
from screen.stages.read.earlier import read_earlier
from screen.stages.report.extras import check_extras

pytest.importorskip("pyarrow")


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The demo's tables, once in each form."""
    made = {}
    for form in ("csv", "parquet"):
        folder = tmp_path_factory.mktemp(form)
        settings = load_settings(demo_root() / "settings.toml", {"tables_only": True})
        done = screened([demo_root() / "lab_sheets"], dataclasses.replace(settings, tables=form), folder / "work")
        out = folder / "out"
        out.mkdir()
        write_run(done, out)
        made[form] = out
    return made


def test_the_same_tables_are_there(folders: dict[str, Path]) -> None:
    names = {form: {path.stem for path in (out / "tables").glob(f"*.{form}")} for form, out in folders.items()}
    assert names["csv"] == names["parquet"]


@pytest.mark.parametrize("name", ["results", "totals", "findings", "samples"])
def test_a_table_reads_back_equal(name: str, folders: dict[str, Path]) -> None:
    first, second = (read_table(folders[form], name) for form in ("csv", "parquet"))
    pd.testing.assert_frame_equal(first.astype(object), second.astype(object), check_dtype=False)


def test_a_chain_needs_no_csv(folders: dict[str, Path]) -> None:
    assert len(read_folder(folders["parquet"]).findings) > 0


def test_an_earlier_run_may_be_in_parquet(folders: dict[str, Path]) -> None:
    first, second = (read_earlier(folders[form]) for form in ("csv", "parquet"))
    pd.testing.assert_frame_equal(first.methods.astype(object), second.methods.astype(object))


def test_parquet_without_the_extra_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(SettingsError, match=r"siltmark\[fast\]"):
        check_extras(Settings(tables="parquet"))
