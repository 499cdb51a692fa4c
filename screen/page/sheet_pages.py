"""The files of a batch. In: requests. Out: pages; batches begun, files kept and taken out."""

from __future__ import annotations

from pathlib import Path

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from screen.page.document import document_text, load_document, save_document
from screen.page.folder import KINDS, Batch, FolderError
from screen.page.shared import page

__all__ = ["pages"]

pages = Blueprint("sheets", __name__)


@pages.post("/new")
def new() -> AnyResponse | tuple[str, int]:
    """Begin a batch."""
    name = request.form.get("name", "")
    try:
        made = page().workspace.new_batch(name, document_text({}))
    except FolderError as error:
        batches = page().workspace.batches()
        return render_template("start.html", batches=batches, name=name, problem=str(error)), 400
    return redirect(url_for("sheets.show", name=made.name), 303)


@pages.get("/b/<name>/")
def begin(name: str) -> AnyResponse:
    """Where one goes on: at the sheets of a batch that has none, else at what was understood."""
    batch = page().workspace.batch(name)
    return redirect(url_for("answers.show" if batch.files("sheets") else "sheets.show", name=name), 303)


@pages.get("/b/<name>/sheets")
def show(name: str) -> str:
    """The files of a batch."""
    return _sheets(page().workspace.batch(name), [])


def _sheets(batch: Batch, problems: list[str]) -> str:
    files = {kind: [(one.name, _size(one)) for one in batch.files(kind)] for kind in KINDS}
    return render_template("sheets.html", batch=batch, files=files, problems=problems)


def _size(path: Path) -> str:
    size = path.stat().st_size
    return f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{max(round(size / 1e3), 1)} kB"


@pages.post("/b/<name>/sheets")
def add(name: str) -> AnyResponse | tuple[str, int]:
    """Keep files that were sent."""
    batch, problems, kept = page().workspace.batch(name), [], 0
    for kind in ("sheets", "field"):
        for one in request.files.getlist(kind):
            if not one.filename:
                continue
            try:
                batch.add(kind, one.filename, one.stream)
                kept += 1
            except FolderError as error:
                problems.append(str(error))
    save_document(batch, load_document(batch))
    if not (kept or problems):
        problems.append("No file was chosen.")
    if problems:
        return _sheets(batch, problems), 400
    return redirect(url_for("sheets.show", name=name), 303)


@pages.post("/b/<name>/remove")
def remove(name: str) -> AnyResponse:
    """Take a file out."""
    batch, kind = page().workspace.batch(name), request.form.get("kind", "")
    if kind not in KINDS:
        raise FolderError("There is no such kind of file.")
    batch.remove(kind, request.form.get("file", ""))
    save_document(batch, load_document(batch))
    return redirect(url_for("choices.show" if kind == "sets" else "sheets.show", name=name), 303)
