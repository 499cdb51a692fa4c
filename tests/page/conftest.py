"""Fixtures for the page: two messy sheets with a field record (all invented), a client, and a server of its own."""

from __future__ import annotations

import contextlib
import os
import re
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
from harness import ROOT, write_csv

from screen.page.app import make_app
from screen.page.folder import Workspace
from screen.page.jobs import Jobs
from screen.page.security import Guard
from screen.page.shared import Page

PORT, TOKEN = 8123, "the-token-of-this-test"
SAMPLES = ("MW-1", "MW-2", "MW-3")
FROM_HERE = {"Sec-Fetch-Site": "same-origin"}


def write_metals(path: Path) -> Path:
    """A workbook with a title, notes, no basis, a bare 0, a name that nobody knows and one that looks like another."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Metals 2026"
    sheet.append(["Marrow Wharf Laboratory (invented)"])
    sheet.append(["Order 17, sediment of the Ostrel"])
    sheet.append([])
    sheet.append(["Sample ID", "Analyte", "Result", "Qual", "RL", "Units"])
    for number, sample in enumerate(SAMPLES, 1):
        sheet.append([sample, "Lead", 70 * number, None, 1, "mg/kg"])
        sheet.append([sample, "Zinc", "<5", "U", 5, "mg/kg"])
        sheet.append([sample, "Copperium", 20 * number, None, 1, "mg/kg"])
        sheet.append([sample, "Cadmium", 0, None, 0.1, "mg/kg"])
        sheet.append([sample, "Zelmarane", 3, None, 0.1, "mg/kg"])
        sheet.append([sample, "Percent solids", 50, None, None, "%"])
    book.save(path)
    return path


def write_organics(path: Path) -> Path:
    """A text file with semicolons, decimal commas, no unit for most rows, and dates that can be read in two ways."""
    rows = ["Sample;Parameter;Result;Unit;Basis;Sampled"]
    for number, sample in enumerate(SAMPLES, 1):
        rows.append(f"{sample};Pyrene;{number},25;;dry;03/04/2026")
        rows.append(f"{sample};Fluoranthene;{number},75;;dry;03/04/2026")
        rows.append(f"{sample};Total organic carbon;2,{number};%;dry;03/04/2026")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def write_field(path: Path, water: str = "") -> Path:
    """A field record of three stations."""
    rows = [["station", "river_km", "water"]]
    rows += [[f"S{number}", number, water] for number in (1, 2, 3)]
    rows += [[], ["sample", "station", "top", "bottom"]]
    rows += [[sample, f"S{number}", "0 cm", "10 cm"] for number, sample in enumerate(SAMPLES, 1)]
    return write_csv(path, rows)


@pytest.fixture
def messy(tmp_path: Path) -> dict[str, list[Path]]:
    """The files of the messy batch."""
    folder = tmp_path / "from the laboratory"
    folder.mkdir()
    return {
        "sheets": [write_metals(folder / "metals.xlsx"), write_organics(folder / "organics.csv")],
        "field": [write_field(folder / "field.csv")],
    }


@dataclass
class Site:
    """The application without a network: ``get`` and ``post`` as a browser that holds the token sends them."""

    workspace: Workspace
    jobs: Jobs
    client: object
    stopped: threading.Event

    def get(self, path: str, **more):
        return self.client.get(path, **{"base_url": f"http://127.0.0.1:{PORT}", **more})

    def post(self, path: str, data=None, headers=FROM_HERE, **more):
        more = {"base_url": f"http://127.0.0.1:{PORT}", "content_type": "multipart/form-data", **more}
        return self.client.post(path, data=data or {}, headers=headers, **more)

    def add(self, name: str, **files: list[Path]):
        """Begin a batch with files."""
        self.post("/new", {"name": name})
        with contextlib.ExitStack() as stack:
            data = {
                kind: [(stack.enter_context(path.open("rb")), path.name) for path in paths]
                for kind, paths in files.items()
            }
            assert self.post(f"/b/{name}/sheets", data).status_code == 303
        return self.workspace.batch(name)

    def understood(self, name: str) -> str:
        """The page of what was understood, once it is."""
        return self._once(f"/b/{name}/understood", lambda text: 'id="questions"' in text or "could not be read" in text)

    def finished(self, name: str, number: int = 1) -> str:
        """The page of a run, once it is over."""
        return self._once(f"/b/{name}/runs/{number}", lambda text: "is going on" not in text)

    def _once(self, path, there) -> str:
        for _ in range(1800):
            text = self.get(path).get_data(as_text=True)
            if there(text):
                return text
            time.sleep(0.1)
        raise AssertionError(f"{path} did not come to an end:\n{text}")


@pytest.fixture
def site(tmp_path: Path):
    """The application, with the token held."""
    workspace, jobs, stopped = Workspace(tmp_path / "kept"), Jobs(), threading.Event()
    workspace.open()
    guard = Guard(TOKEN, PORT)
    client = make_app(Page(workspace, guard, jobs, stopped.set)).test_client()
    client.set_cookie(guard.cookie, TOKEN, domain="127.0.0.1")
    yield Site(workspace, jobs, client, stopped)
    jobs.stop_all()


@dataclass
class Server:
    """``siltmark page`` as a process: its address, its folder, and what it said."""

    process: subprocess.Popen[str]
    address: str
    folder: Path

    @property
    def root(self) -> str:
        return self.address.split("/?")[0]


def start_server(folder: Path, *options: str) -> Server:
    """Start ``siltmark page`` and wait for its first line."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])}
    command = [sys.executable, "-m", "screen", "page", "--no-browser", "--folder", str(folder), *options]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8", env=environment, cwd=folder.parent
    )
    assert process.stdout is not None
    address = process.stdout.readline().strip()
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/\?token=[\w-]{40,}", address), (address, process.stderr)
    return Server(process, address, folder)


@pytest.fixture
def server(tmp_path: Path):
    """A server of its own, ended afterwards."""
    made = start_server(tmp_path / "kept")
    yield made
    made.process.terminate()
    try:
        made.process.wait(30)
    except subprocess.TimeoutExpired:
        made.process.kill()
