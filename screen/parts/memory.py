"""Memory that is free handed back to the system, which allocators otherwise keep. Nothing in, nothing out."""

from __future__ import annotations

import contextlib
import ctypes
import importlib.util
import sys

__all__ = ["give_back"]


def give_back() -> None:
    """Hand back what Arrow and the C library hold and do not use; a third of a long run's memory otherwise."""
    if importlib.util.find_spec("pyarrow") is not None:
        import pyarrow as pa

        pa.default_memory_pool().release_unused()
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):  # a C library without this call
            ctypes.CDLL(None).malloc_trim(0)
