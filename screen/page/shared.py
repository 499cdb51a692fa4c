"""What all pages share: the folder of batches, who may ask, the processes, and how to stop. In: nothing. Out: these."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from flask import current_app

from screen.page.folder import Workspace
from screen.page.jobs import Jobs
from screen.page.security import Guard

__all__ = ["LIMIT_MB", "Page", "page"]

#: The most that is taken in one upload.
LIMIT_MB = 200


@dataclass(frozen=True, slots=True)
class Page:
    """What the pages of one start share."""

    workspace: Workspace
    guard: Guard
    jobs: Jobs
    stop: Callable[[], None]


def page() -> Page:
    """The one of the present request."""
    found: Page = current_app.extensions["siltmark"]
    return found
