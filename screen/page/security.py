"""Who may ask the page for what. In: a request. Out: nothing, or a refusal; and the headers of every answer.

The server listens on 127.0.0.1, which any program and any web page open on the machine can reach. So each request must
carry the token of this start, name this server as its host, and, where it changes something, come from a page of ours.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
from dataclasses import dataclass

from flask import Request, Response

__all__ = ["PAGE_POLICY", "Guard", "report_policy", "secure"]

#: Our own style sheets and scripts, our own addresses, and nothing else.
PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; frame-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), usb=()",
    "Cache-Control": "no-store",
}


@dataclass(frozen=True, slots=True)
class Guard:
    """The rules of one start. ``token`` is made anew for each; ``port`` is the one listened on."""

    token: str
    port: int

    @property
    def cookie(self) -> str:
        """The name of the cookie that carries the token. Cookies know no ports, so the name does."""
        return f"siltmark-{self.port}"

    @property
    def hosts(self) -> tuple[str, str]:
        """The hosts that a request may name, exactly."""
        return (f"127.0.0.1:{self.port}", f"localhost:{self.port}")

    def holds(self, given: str | None) -> bool:
        """Whether ``given`` is the token; takes as long for a wrong one."""
        return hmac.compare_digest((given or "").encode(), self.token.encode())

    def refusal(self, request: Request) -> str:
        """Why a request is refused, "" where it is not."""
        host = request.headers.get("Host", "")
        if host not in self.hosts:
            return "This server answers to 127.0.0.1 and localhost only."
        if not (self.holds(request.cookies.get(self.cookie)) or self._opens(request)):
            return (
                "This address needs the token of this start. Open the whole address that siltmark page printed, "
                "with ?token=... at its end."
            )
        if request.method not in ("GET", "HEAD") and not _from_here(request, host):
            return "This request does not come from a page of this server, so nothing was done."
        return ""

    def _opens(self, request: Request) -> bool:
        """Whether it is the first request of a browser, with the token in its address."""
        return request.method == "GET" and request.path == "/" and self.holds(request.args.get("token"))


def _from_here(request: Request, host: str) -> bool:
    """Whether a page of ours sent it: by the browser's own account, and by its origin where it names one.

    A form sent under ``no-referrer`` has the origin ``null``; then the browser's account must be there.
    """
    site, origin = request.headers.get("Sec-Fetch-Site"), request.headers.get("Origin")
    if site is not None and site != "same-origin":
        return False
    if origin is None or origin == "null":
        return site == "same-origin"
    return origin == f"http://{host}"


def secure(response: Response) -> Response:
    """The answer with the headers that every answer has; a policy that is set already stays."""
    for name, value in _HEADERS.items():
        response.headers[name] = value
    response.headers.setdefault("Content-Security-Policy", PAGE_POLICY)
    response.headers.setdefault("X-Frame-Options", "DENY")
    return response


def report_policy(html: str) -> str:
    """For a report: its own inline style, script and images, in a sandbox, framed by us only."""
    styles, scripts = _hashes(html, "style"), _hashes(html, "script")
    return (
        f"default-src 'none'; style-src {styles}; script-src {scripts}; img-src data:; base-uri 'none'; "
        "form-action 'none'; frame-ancestors 'self'; sandbox allow-scripts allow-modals"
    )


def _hashes(html: str, tag: str) -> str:
    texts = re.findall(rf"<{tag}>(.*?)</{tag}>", html, re.S)
    digests = (base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in texts)
    return " ".join(f"'sha256-{one}'" for one in digests) or "'none'"
