"""The page as an application. In: the folder of batches, who may ask, and how to stop. Out: a Flask app."""

from __future__ import annotations

import sys
from pathlib import Path

from flask import Flask, Response, redirect, render_template, request, send_file, url_for
from jinja2 import StrictUndefined
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge
from werkzeug.wrappers import Response as AnyResponse

import screen.stages.report
from screen.page import answer_pages, choice_pages, run_pages, sheet_pages
from screen.page.folder import FolderError
from screen.page.security import secure
from screen.page.shared import LIMIT_MB, Page, page
from screen.page.words import STEPS
from screen.settings import SettingsError

__all__ = ["make_app"]

_TEXT_LIMIT = 8 << 20
_HERE = Path(__file__).parent
_STATIC = {
    "page.css": (_HERE / "static" / "page.css", "text/css"),
    "page.js": (_HERE / "static" / "page.js", "text/javascript"),
    "mark.svg": (_HERE / "static" / "mark.svg", "image/svg+xml"),
    "tokens.css": (Path(screen.stages.report.__path__[0]) / "templates" / "tokens.css", "text/css"),
}


def make_app(shared: Page) -> Flask:
    """The application."""
    app = Flask("siltmark", static_folder=None, template_folder=str(_HERE / "templates"))
    app.extensions["siltmark"] = shared
    app.config.update(MAX_CONTENT_LENGTH=LIMIT_MB * 1_000_000, MAX_FORM_MEMORY_SIZE=_TEXT_LIMIT, MAX_FORM_PARTS=20_000)
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.context_processor(lambda: {"steps": STEPS, "folder": str(shared.workspace.folder), "limit_mb": LIMIT_MB})
    app.before_request(_guard)
    app.after_request(secure)
    app.register_error_handler(FolderError, lambda error: _problem("Not found", str(error), 404))
    app.register_error_handler(SettingsError, lambda error: _problem("These settings cannot be used", str(error), 400))
    app.register_error_handler(RequestEntityTooLarge, _too_large)
    app.register_error_handler(HTTPException, _other)
    app.register_error_handler(Exception, _fault)
    app.add_url_rule("/", "start", _start)
    app.add_url_rule("/stop", "stop", _stop, methods=["POST"])
    app.add_url_rule("/static/<name>", "asset", _asset)
    for one in (sheet_pages, answer_pages, choice_pages, run_pages):
        app.register_blueprint(one.pages)
    return app


def _guard() -> AnyResponse | None:
    guard = page().guard
    why = guard.refusal(request)
    if why:
        return Response(f"{why}\n", 403, content_type="text/plain; charset=utf-8")
    if "token" in request.args:
        # out of the address at once, so that it stands in no history and no screenshot
        answer = redirect(url_for("start"), 303)
        answer.set_cookie(guard.cookie, guard.token, httponly=True, samesite="Strict")
        return answer
    return None


def _start() -> str:
    return render_template("start.html", batches=page().workspace.batches(), name="", problem="")


def _stop() -> str:
    shared = page()
    shared.jobs.stop_all()
    shared.stop()
    return render_template("stopped.html")


def _asset(name: str) -> AnyResponse:
    if name not in _STATIC:
        return _problem("Not found", "There is no such page.", 404)
    path, kind = _STATIC[name]
    return send_file(path, mimetype=kind)


def _problem(title: str, text: str, status: int) -> Response:
    return Response(render_template("problem.html", title=title, text=text), status)


def _too_large(_: Exception) -> Response:
    text = (
        f"The upload is larger than {LIMIT_MB} MB, which is the most that is taken at once; nothing of it was kept. "
        "Add the files one by one, or screen larger ones with the command line: siltmark screen."
    )
    return _problem("Too large", text, 413)


def _other(error: HTTPException) -> Response:
    status = error.code or 500
    text = "There is no such page." if status == 404 else error.description or error.name
    return _problem("Not found" if status == 404 else "Not done", text, status)


def _fault(error: Exception) -> Response:
    from screen.cli.common import fault

    print(f"siltmark: {fault(error)}", file=sys.stderr)
    if isinstance(error, OSError):
        place = f"{Path(error.filename).name}: " if error.filename else ""
        return _problem("Not done", f"{place}{error.strerror or error}. Mend that and do it again.", 500)
    text = fault(error)
    return _problem("Not done", text[:1].upper() + text[1:], 500)
