"""Why a file cannot be read: one sort of error for files, packages and texts."""

from __future__ import annotations

__all__ = ["UnreadableError"]


class UnreadableError(Exception):
    """A file that is no sheet or cannot be opened as one; ``code`` is stable, the text is for the user."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
