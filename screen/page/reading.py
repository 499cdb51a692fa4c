"""What was understood of a batch, found out beside the server and kept. In: a batch. Out: it, or how far it is.

Nothing is remembered between requests but the files of the batch: another state of its sheets or answers is another
file.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from screen.page.document import Document, document_text, load_document
from screen.page.folder import Batch
from screen.page.jobs import Job, Jobs

__all__ = ["forget", "understood_of"]

#: The settings that change what a sheet says.
_READING = ("field", "basis", "unit", "reading", "answers")


def _reading(batch: Batch, document: Document) -> Path:
    """The file for what was understood of a batch as it is: another for each state of its sheets and answers."""
    stamps = [
        (kind, one.name, one.stat().st_size, one.stat().st_mtime_ns)
        for kind in ("sheets", "field")
        for one in batch.files(kind)
    ]
    told = {key: document[key] for key in _READING if key in document}
    state = json.dumps([stamps, document_text(told)])
    return batch.folder / f".understood-{hashlib.sha256(state.encode()).hexdigest()[:16]}.json"


def understood_of(jobs: Jobs, batch: Batch) -> tuple[dict[str, Any] | None, Job | None]:
    """What was understood of a batch, or the process that is finding out, started if need be."""
    target = _reading(batch, load_document(batch))
    if target.is_file():
        found: dict[str, Any] = json.loads(target.read_text(encoding="utf-8"))
        return found, None
    job = jobs.get(target)
    if job is None or (not job.running and (job.stopped or job.status == 0)):  # never begun, or what it wrote has gone
        for old in batch.folder.glob(".understood-*.json"):
            old.unlink(missing_ok=True)
        arguments = ["understand", batch.settings.name, target.name, *batch.arguments()]
        job = jobs.start(target, arguments, batch.folder)
    return None, job


def forget(jobs: Jobs, batch: Batch) -> None:
    """Let go of a reading that did not end well, so that the next request starts it again."""
    jobs.forget(_reading(batch, load_document(batch)))
