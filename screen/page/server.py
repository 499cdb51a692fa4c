"""The server of the page. In: a folder, a port, and whether to open a browser. Out: nothing until it is stopped.

It listens on 127.0.0.1 only. The first line on stdout is its address with the token of this start.
"""

from __future__ import annotations

import _thread
import secrets
import signal
import threading
import webbrowser
from collections.abc import Callable

from flask import Flask

from screen.page.app import make_app
from screen.page.folder import Workspace
from screen.page.jobs import Jobs
from screen.page.security import Guard
from screen.page.shared import LIMIT_MB, Page

__all__ = ["PortError", "serve"]

_HOST = "127.0.0.1"


class PortError(ValueError):
    """A port that cannot be listened on. The text says what to do."""


def serve(workspace: Workspace, port: int, tell: Callable[[str], None], *, browser: bool) -> None:
    """Serve the page until Ctrl-C or its button; ``tell`` is given the address, ``port`` 0 is a free one.

    Raises FolderError for a folder that cannot be used and PortError for a port that is taken.
    """
    from waitress.server import create_server

    workspace.open()
    jobs, token = Jobs(), secrets.token_urlsafe(32)
    app: Flask
    try:
        server = create_server(
            lambda environ, start: app(environ, start),
            host=_HOST,
            port=port,
            threads=8,
            ident="",
            max_request_body_size=2 * LIMIT_MB * 1_000_000,
            clear_untrusted_proxy_headers=True,
        )
    except OSError as error:
        raise PortError(
            f"port {port} cannot be listened on ({error.strerror or error}). Leave --port out, and a free one is taken."
        ) from error
    guard = Guard(token, int(server.effective_port))
    app = make_app(Page(workspace, guard, jobs, _stop_soon))
    address = f"http://{_HOST}:{guard.port}/?token={token}"
    for one in (signal.SIGINT, signal.SIGTERM):
        signal.signal(one, signal.default_int_handler)  # also where the shell that started it had them ignored
    try:
        tell(address)
        if browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        jobs.stop_all()
        server.close()


def _stop_soon() -> None:
    """As Ctrl-C, once the answer to the button is out."""
    threading.Timer(0.5, _thread.interrupt_main).start()
