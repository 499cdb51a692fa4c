"""The pages of runs. In: requests. Out: runs started and stopped, their progress, the report in place, downloads."""

from __future__ import annotations

import os
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from flask import Blueprint, Response, jsonify, redirect, render_template, request, send_file, url_for
from werkzeug.wrappers import Response as AnyResponse

from screen.page.choices import shared_stations
from screen.page.document import check_text, document_text, load_document
from screen.page.folder import Batch, FolderError, Run, write_whole
from screen.page.jobs import Job
from screen.page.questions import open_questions
from screen.page.reading import understood_of
from screen.page.security import report_policy
from screen.page.shared import page

__all__ = ["pages"]

pages = Blueprint("run", __name__)
#: What can be downloaded: the name in the address, the file, its name when kept, and what it is.
_FILES = (
    ("report", "report.html", "the report, one file that opens anywhere"),
    ("workbook", "workbook.xlsx", "the workbook: every table as a sheet"),
    ("tables", "tables", "all tables as CSV, zipped"),
    ("memo", "memo.docx", "the memo, for a word processor"),
    ("memo-text", "memo.md", "the memo as plain text"),
    ("pdf", "report.pdf", "the report as PDF"),
    ("record", "run.json", "the record of the run: inputs, settings, counts, messages"),
    ("settings", "settings.toml", "the settings that it was made with"),
    ("all", "", "everything, zipped"),
)
_MOMENT = (1980, 1, 1, 0, 0, 0)


def _run(name: str, number: int) -> Run:
    return page().workspace.batch(name).run(number)


@pages.get("/b/<name>/runs")
def runs(name: str) -> str:
    """The settings as they will be used, and the runs that there are."""
    batch = page().workspace.batch(name)
    text = batch.settings.read_text(encoding="utf-8")
    found, _ = understood_of(page().jobs, batch) if batch.files("sheets") else (None, None)
    return render_template(
        "runs.html",
        batch=batch,
        text=text,
        command=_command(batch, "settings.toml"),
        runs=_listed(batch),
        open=len(open_questions(found, load_document(batch))) if found else 0,
    )


def _command(batch: Batch, settings: str) -> str:
    """What to type for the same run, in the folder of the batch."""
    words = [f'"{one}"' if " " in one else one for one in batch.arguments()]
    return " ".join(["siltmark screen", *words, f"--settings {settings} --out DIR"])


def _listed(batch: Batch) -> list[dict[str, Any]]:
    return [{"number": one.number, "state": _state(one), **_told(one)} for one in batch.runs()]


def _state(run: Run) -> str:
    job = page().jobs.get(run.folder)
    if job is not None and job.running:
        return "running"
    return "whole" if run.whole else "absent"


def _told(run: Run) -> dict[str, Any]:
    record = run.record()
    return {
        "counts": record.get("counts", {}),
        "title": record.get("settings", {}).get("title") or "",
        "started": str(record.get("started", "")).replace("T", " ").replace("+00:00", " UTC"),
        "sets": [one.get("id", "") for one in record.get("guideline_sets", ())],
        "compared": record.get("settings", {}).get("earlier") or "",
    }


@pages.post("/b/<name>/runs")
def start(name: str) -> AnyResponse:
    """Begin a run with the settings as they stand."""
    batch = page().workspace.batch(name)
    if not batch.files("sheets"):
        raise FolderError(f"{name} holds no lab sheet yet. Add one first.")
    return _begin(batch, batch.settings.read_text(encoding="utf-8"))


def _begin(batch: Batch, text: str) -> AnyResponse:
    check_text(batch, text)
    run = batch.new_run(text)
    arguments = ["screen", *batch.arguments(), "--settings", run.settings.name, "--out", run.folder.name]

    def ended(job: Job) -> None:
        write_whole(run.log, "".join(f"{line}\n" for line in job.messages))

    page().jobs.start(run.folder, arguments, batch.folder, ended)
    return redirect(url_for("run.show", name=batch.name, number=run.number), 303)


@pages.get("/b/<name>/runs/<int:number>")
def show(name: str, number: int) -> str:
    """A run: how far it is, its report in place, or why there is none."""
    run = _run(name, number)
    job = page().jobs.get(run.folder)
    if job is not None and job.running:
        return render_template("running.html", batch=run.batch, run=run, job=job)
    if not run.whole:
        stopped = bool(job and job.stopped) or not run.messages()
        lines = [] if stopped else run.messages()
        return render_template("unfinished.html", batch=run.batch, run=run, lines=lines)
    return render_template(
        "run.html",
        batch=run.batch,
        run=run,
        told=_told(run),
        lines=run.messages(),
        files=[(key, says) for key, file, says in _FILES if _there(run, key, file)],
        others=_others(run),
        report=(run.folder / "report.html").is_file(),
    )


def _there(run: Run, key: str, file: str) -> bool:
    return key in ("all", "settings") or (run.folder / file).exists()


def _others(run: Run) -> list[dict[str, Any]]:
    """Other whole runs with a station in common."""
    every = (one for batch in page().workspace.batches() for one in batch.runs() if one != run and one.whole)
    return [
        {"batch": one.batch.name, "number": one.number, "shared": shared, **_told(one)}
        for one in every
        if (shared := shared_stations(run, one))
    ]


@pages.get("/b/<name>/runs/<int:number>/progress")
def progress(name: str, number: int) -> Response:
    """How far a run is."""
    job = page().jobs.get(_run(name, number).folder)
    return jsonify(running=bool(job and job.running), steps=job.steps if job else [], seconds=job.elapsed if job else 0)


@pages.post("/b/<name>/runs/<int:number>/stop")
def stop(name: str, number: int) -> AnyResponse:
    """End a run; nothing of it is left."""
    job = page().jobs.get(_run(name, number).folder)
    if job is not None and job.running:
        job.stop()
        job.wait()
    return redirect(url_for("run.show", name=name, number=number), 303)


@pages.get("/b/<name>/runs/<int:number>/report")
def report(name: str, number: int) -> Response:
    """The report itself, in its sandbox."""
    path = _run(name, number).folder / "report.html"
    if not path.is_file():
        raise FolderError("This run has no report.")
    html = path.read_text(encoding="utf-8")
    answer = Response(html, content_type="text/html; charset=utf-8")
    answer.headers["Content-Security-Policy"] = report_policy(html)
    answer.headers["X-Frame-Options"] = "SAMEORIGIN"
    return answer


@pages.get("/b/<name>/runs/<int:number>/get/<key>")
def get(name: str, number: int, key: str) -> Response:
    """One of the files, to keep."""
    run = _run(name, number)
    file = next((file for one, file, _ in _FILES if one == key and _there(run, one, file)), None)
    if file is None or not run.whole:
        raise FolderError("This run has no such file.")
    stem = f"{name} {run.folder.name}"
    if key == "settings":
        return send_file(run.settings, mimetype="application/toml", as_attachment=True, download_name="settings.toml")
    if key in ("tables", "all"):
        return _zipped(run.folder / file, f"{stem} {key}.zip" if key == "tables" else f"{stem}.zip")
    return send_file(run.folder / file, as_attachment=True, download_name=f"{stem} {file}")


def _zipped(folder: Path, name: str) -> Response:
    """A folder as one archive; the same folder gives the same bytes."""
    work = tempfile.TemporaryFile()  # noqa: SIM115
    with zipfile.ZipFile(work, "w", zipfile.ZIP_DEFLATED) as made:
        for path in sorted(one for one in folder.rglob("*") if one.is_file()):
            entry = zipfile.ZipInfo(path.relative_to(folder).as_posix(), _MOMENT)
            entry.compress_type = zipfile.ZIP_DEFLATED
            with path.open("rb") as source, made.open(entry, "w", force_zip64=True) as target:
                while block := source.read(1 << 20):
                    target.write(block)
    work.seek(0)
    return send_file(work, mimetype="application/zip", as_attachment=True, download_name=name)


@pages.post("/b/<name>/runs/<int:number>/compare")
def compare(name: str, number: int) -> AnyResponse:
    """Run the batch again, beside an earlier run of the same stations."""
    run = _run(name, number)
    other, _, which = request.form.get("earlier", "").rpartition("/")
    if not which.isdecimal():
        raise FolderError("Choose the run to compare with.")
    earlier = _run(other, int(which))
    document = load_document(run.batch)
    document["earlier"] = Path(os.path.relpath(earlier.folder, run.batch.folder)).as_posix()
    return _begin(run.batch, document_text(document))
