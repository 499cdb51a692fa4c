"""A batch on a Dask scheduler with two worker processes gives the bytes of one machine (invented sheets)."""

from __future__ import annotations

import dataclasses
import importlib.util
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from screen.parts import workers
from screen.parts.cluster import ClusterError
from screen.parts.work import work_folder
from screen.reference.locate import demo_root
from screen.settings import Settings, SettingsError, load_settings
from screen.stages.report.extras import check_extras
from tests.scale.split_batch import bytes_of, split_batch, written

pytest.importorskip("dask.dataframe")
distributed = pytest.importorskip("distributed")
pytestmark = pytest.mark.cluster

#: Records of a part: the batch of some 200 records is cut into three.
SIZE = 90


@pytest.fixture(scope="module")
def scheduler() -> Iterator[Any]:
    """A scheduler with two worker processes, each under a nanny that starts it anew."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as found:
        yield found


def _run(batch: tuple[list[Path], Settings], folder: Path, **given: Any) -> dict[str, bytes]:
    folder.mkdir()
    paths, settings = batch
    progress = given.pop("progress", lambda text, step=0, steps=1: None)
    size = given.pop("size", SIZE)
    return written(paths, dataclasses.replace(settings, **given), size, folder, progress)


def _same(one: dict[str, bytes], other: dict[str, bytes]) -> None:
    assert [name for name in one if one[name] != other.get(name)] == []
    assert one.keys() == other.keys()


def test_samples_that_span_files_and_parts(scheduler: Any, tmp_path: Path) -> None:
    batch = split_batch(tmp_path, 1)
    told = {"guidelines": ("long-1995-marine", "consensus-2000-fresh"), "nondetects": "km"}
    said: list[tuple[str, int, int]] = []
    there = _run(
        batch, tmp_path / "there", cluster=scheduler.scheduler_address, **told,
        progress=lambda text, step=0, steps=1: said.append((text, step, steps)),
    )  # fmt: skip
    _same(_run(batch, tmp_path / "here", **told), there)
    assert [step for text, step, steps in said if text == "making sums and comparing" and steps == 3] == [0, 1, 2]
    assert not work_folder(tmp_path / "there" / "out").exists()


def test_the_engine_s_other_shuffle_and_tables_as_parquet(scheduler: Any, tmp_path: Path) -> None:
    import dask

    batch = split_batch(tmp_path, 2)
    with dask.config.set({"dataframe.shuffle.method": "p2p"}):
        there = _run(batch, tmp_path / "there", cluster=scheduler.scheduler_address, tables="parquet")
    _same(_run(batch, tmp_path / "here", tables="parquet"), there)


@pytest.mark.parametrize("step", ["reading", "deciding on results", "making sums and comparing"])
def test_a_killed_worker_changes_nothing(scheduler: Any, step: str, tmp_path: Path) -> None:
    batch = split_batch(tmp_path, 1)
    killed: list[int] = []

    def kill(text: str, number: int = 0, steps: int = 1) -> None:
        if text.startswith(step) and steps > 1 and not killed:
            process = next(nanny.pid for nanny in scheduler.workers.values() if nanny.pid)
            os.kill(process, signal.SIGKILL)
            killed.append(process)

    there = _run(batch, tmp_path / "there", cluster=scheduler.scheduler_address, progress=kill)
    assert len(killed) == 1
    _same(_run(batch, tmp_path / "here"), there)


def test_the_whole_command_on_the_demo(scheduler: Any, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "screen", "screen", str(demo_root() / "lab_sheets"), "--settings",
               str(demo_root() / "settings.toml"), "--out"]  # fmt: skip
    subprocess.run([*command, str(tmp_path / "here")], check=True, capture_output=True)
    there = [*command, str(tmp_path / "there"), "--cluster", scheduler.scheduler_address]
    told = subprocess.run(there, check=True, capture_output=True, text=True)
    _same(bytes_of(tmp_path / "here"), bytes_of(tmp_path / "there"))
    assert "distributed" not in told.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["here", "there"]


def test_one_machine_goes_on_with_what_a_cluster_left(scheduler: Any, tmp_path: Path) -> None:
    batch = split_batch(tmp_path, 1)

    def stop(text: str, step: int = 0, steps: int = 1) -> None:
        if text == "making sums and comparing" and step == 1:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        _run(batch, tmp_path / "there", cluster=scheduler.scheduler_address, progress=stop)
    said: list[str] = []
    paths, settings = batch
    going_on = dataclasses.replace(settings, resume=True)
    there = written(paths, going_on, SIZE, tmp_path / "there", lambda text, step=0, steps=1: said.append(text))
    assert "3 parts decided on" in said[0]
    assert "deciding on results" not in said
    _same(_run(batch, tmp_path / "here"), there)


def test_a_scheduler_that_is_lost_is_told_and_its_work_is_kept(tmp_path: Path) -> None:
    batch = split_batch(tmp_path, 1)
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as lost:

        def lose(text: str, step: int = 0, steps: int = 1) -> None:
            if text == "making sums and comparing":
                lost.close()

        with pytest.raises(ClusterError, match=r"was lost\. Run the same command with --resume"):
            _run(batch, tmp_path / "there", cluster=lost.scheduler_address, progress=lose)
    assert (tmp_path / "there" / f"work{SIZE}" / "parts").is_dir()


@pytest.mark.parametrize(
    ("differing", "words"),
    [
        ({"pandas": "2.0"}, r"pandas .* \(here 2\.0\)"),
        ({"files": "x"}, "files of siltmark"),
        ({"figures": "x"}, "digits"),
    ],
)
def test_another_installation_is_refused(
    scheduler: Any, differing: dict[str, str], words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = workers.installation()
    monkeypatch.setattr(workers, "installation", lambda: here | differing)
    with pytest.raises(SettingsError, match=words):
        _run(split_batch(tmp_path, 1), tmp_path / "there", cluster=scheduler.scheduler_address)


def test_a_sheet_that_workers_do_not_see_is_named(
    scheduler: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from screen.parts import cluster

    look = cluster.Cluster._look
    monkeypatch.setattr(
        cluster.Cluster,
        "_look",
        lambda self, files, folder: look(self, [(path.with_name("b2.csv"), *rest) for path, *rest in files], folder),
    )
    with pytest.raises(SettingsError, match=r"does not see .*b2\.csv"):
        _run(split_batch(tmp_path, 1), tmp_path / "there", cluster=scheduler.scheduler_address)


def test_a_folder_that_workers_do_not_share_is_told(
    scheduler: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from screen.parts import cluster

    look = cluster.Cluster._look
    monkeypatch.setattr(cluster.Cluster, "_look", lambda self, files, folder: look(self, files, folder / "elsewhere"))
    with pytest.raises(SettingsError, match="not every worker can write"):
        _run(split_batch(tmp_path, 1), tmp_path / "there", cluster=scheduler.scheduler_address)


def _screen(tmp_path: Path, address: str) -> tuple[subprocess.CompletedProcess[str], float]:
    paths, _ = split_batch(tmp_path, 1)
    began = time.monotonic()
    command = [sys.executable, "-m", "screen", "screen", str(paths[0]), "--out", str(tmp_path / "out"), "--cluster"]
    done = subprocess.run([*command, address], capture_output=True, text=True, check=False)
    return done, time.monotonic() - began


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:{}", "nonsense://127.0.0.1:{}"])
def test_a_scheduler_that_does_not_answer(address: str, tmp_path: Path) -> None:
    address = address.format(_free_port())
    done, seconds = _screen(tmp_path, address)
    assert done.returncode == 2
    assert done.stderr.startswith(f"siltmark: cluster: no scheduler answers at {address}.")
    assert len(done.stderr.splitlines()) == 1
    assert seconds < 60
    assert not (tmp_path / "out").exists()


def test_a_scheduler_without_workers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("screen.parts.cluster.PATIENCE", 1)
    with (
        distributed.LocalCluster(n_workers=0, dashboard_address=None, silence_logs=50) as empty,
        pytest.raises(SettingsError, match="has no workers"),
    ):
        _run(split_batch(tmp_path, 1), tmp_path / "there", cluster=empty.scheduler_address)


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SettingsError, match=r'pip install "siltmark\[cluster\]"'):
        check_extras(Settings(cluster="tcp://127.0.0.1:8786"))


def test_the_address_may_stand_in_the_settings(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text('cluster = "tcp://10.0.0.5:8786"\n', encoding="utf-8")
    assert load_settings(path, {}).cluster == "tcp://10.0.0.5:8786"
