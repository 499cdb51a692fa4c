"""What was understood, and the answers. In: requests. Out: pages; answers written into the settings."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Blueprint, Response, jsonify, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from screen.page.document import load_document, save_document
from screen.page.folder import Batch
from screen.page.questions import answered, given_answers, open_questions, without_answer
from screen.page.reading import forget, understood_of
from screen.page.shared import page
from screen.settings import SettingsError

__all__ = ["pages"]

pages = Blueprint("answers", __name__)


@pages.get("/b/<name>/understood")
def show(name: str) -> str | tuple[str, int]:
    """What was understood, with the open questions."""
    return _show(page().workspace.batch(name), {}, {})


def _show(batch: Batch, given: Mapping[str, str], problems: Mapping[str, str]) -> str | tuple[str, int]:
    if not batch.files("sheets"):
        return render_template("understood.html", batch=batch, found=None)
    found, job = understood_of(page().jobs, batch)
    if found is None:
        where = url_for("answers.progress", name=batch.name)
        return render_template("reading.html", batch=batch, job=job, where=where)
    document = load_document(batch)
    questions = open_questions(found, document)
    page_text = render_template(
        "understood.html",
        batch=batch,
        found=found,
        questions=questions,
        given=given,
        problems=problems,
        answers=given_answers(document),
        names=_substances() if any(one.names for one in questions) else (),
    )
    return (page_text, 400) if problems else page_text


@pages.get("/b/<name>/progress")
def progress(name: str) -> Response:
    """How far the reading is."""
    _, job = understood_of(page().jobs, page().workspace.batch(name))
    return jsonify(running=bool(job and job.running), steps=job.steps if job else [], seconds=job.elapsed if job else 0)


@pages.post("/b/<name>/again")
def again(name: str) -> AnyResponse:
    """Read once more, after a reading that did not end well."""
    batch = page().workspace.batch(name)
    forget(page().jobs, batch)
    return redirect(url_for("answers.show", name=name), 303)


@pages.post("/b/<name>/answers")
def take(name: str) -> AnyResponse | str | tuple[str, int]:
    """Take the answers that were chosen into the settings."""
    batch = page().workspace.batch(name)
    found, _ = understood_of(page().jobs, batch)
    if found is None:
        return redirect(url_for("answers.show", name=name), 303)
    document, form = load_document(batch), request.form
    problems: dict[str, str] = {}
    for one in open_questions(found, load_document(batch)):
        value = form.get(f"{one.id}-choice", "")
        if not value or value == "open":
            continue
        typed, because = form.get(f"{one.id}-typed", ""), form.get(f"{one.id}-because", "")
        try:
            document = answered(document, one, value, typed, because, form.get("by", ""), _knows)
        except SettingsError as error:
            problems[one.id] = str(error)
    if problems:
        return _show(batch, form, problems)
    save_document(batch, document)
    return redirect(url_for("answers.show", name=name), 303)


@pages.post("/b/<name>/take-back")
def take_back(name: str) -> AnyResponse:
    """Open a question again."""
    batch, form = page().workspace.batch(name), request.form
    number = int(form["number"]) if form.get("number", "").isdecimal() else -1
    save_document(batch, without_answer(load_document(batch), form.get("table", ""), number, form.get("key", "")))
    return redirect(url_for("answers.show", name=name), 303)


def _knows(typed: str) -> str:
    """The canonical name of a substance, "" where none is known by it."""
    from screen.reference.names import name_book

    return name_book(None).resolve(typed).substance or ""


def _substances() -> tuple[str, ...]:
    from screen.reference.substances import table

    return tuple(str(one) for one in table().index)
