"""Levels, rules and the settings as text. In: requests. Out: pages; choices written into the settings."""

from __future__ import annotations

from flask import Blueprint, Response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from screen.page.choices import chosen, shown_choices
from screen.page.document import load_document, save_document, save_text
from screen.page.folder import Batch, FolderError
from screen.page.reading import understood_of
from screen.page.shared import page
from screen.settings import SettingsError

__all__ = ["pages"]

pages = Blueprint("choices", __name__)


@pages.get("/b/<name>/choices")
def show(name: str) -> str:
    """Sets, water, rules and the head of the report."""
    return _show(page().workspace.batch(name), [])


def _show(batch: Batch, problems: list[str]) -> str:
    found, _ = understood_of(page().jobs, batch) if batch.files("sheets") else (None, None)
    return render_template(
        "choices.html",
        batch=batch,
        problems=problems,
        **shown_choices(page().workspace, batch, load_document(batch), found),
    )


@pages.post("/b/<name>/choices")
def take(name: str) -> AnyResponse | tuple[str, int]:
    """Take what was chosen into the settings."""
    batch = page().workspace.batch(name)
    try:
        save_document(batch, chosen(load_document(batch), request.form))
    except SettingsError as error:
        return _show(batch, [str(error)]), 400
    return redirect(url_for("run.runs", name=name), 303)


@pages.post("/b/<name>/own-set")
def own_set(name: str) -> AnyResponse | tuple[str, int]:
    """Keep a guideline set of one's own, and check it by line as the command does."""
    from screen.reference.check import check_set

    batch, problems = page().workspace.batch(name), []
    for one in request.files.getlist("set"):
        if one.filename:
            try:
                batch.add("sets", one.filename, one.stream)
            except FolderError as error:
                problems.append(str(error))
    for path in batch.files("sets"):
        if path.suffix == ".toml":
            problems += [f"{one.file}, line {one.line}: {one.message} {one.mend}".rstrip() for one in check_set(path)]
    if problems:
        return _show(batch, problems), 400
    return redirect(url_for("choices.show", name=name), 303)


@pages.get("/b/<name>/settings")
def settings(name: str) -> str:
    """The settings file as it stands."""
    batch = page().workspace.batch(name)
    return render_template("settings.html", batch=batch, text=batch.settings.read_text(encoding="utf-8"), problem="")


@pages.post("/b/<name>/settings")
def write_settings(name: str) -> AnyResponse | tuple[str, int]:
    """Take the settings file as it was edited."""
    batch, text = page().workspace.batch(name), request.form.get("text", "").replace("\r\n", "\n")
    try:
        save_text(batch, text)
    except SettingsError as error:
        return render_template("settings.html", batch=batch, text=text, problem=str(error)), 400
    return redirect(url_for("choices.settings", name=name), 303)


@pages.get("/b/<name>/settings.toml")
def settings_file(name: str) -> Response:
    """The settings file, to keep."""
    text = page().workspace.batch(name).settings.read_text(encoding="utf-8")
    head = {"Content-Disposition": 'attachment; filename="settings.toml"'}
    return Response(text, headers=head, content_type="application/toml; charset=utf-8")
