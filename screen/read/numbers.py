"""Numbers as laboratories write them: texts in, floats or a refusal code out, by a strict pattern of our own."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

__all__ = ["Decimal", "Number", "decimal_evidence", "decimal_proofs", "parse_number"]

Decimal = Literal["point", "comma", "mixed"]


class Number(NamedTuple):
    """``value`` (NaN if refused), ``code`` of the refusal or "", ``notice`` code or ""."""

    value: float
    code: str = ""
    notice: str = ""


def decimal_evidence(texts: Iterable[str]) -> Decimal | None:
    """Which decimal mark the texts prove; ``mixed`` for both, None for neither.

    A stray cell or two against many of the other kind is a typing error, not a proof.
    """
    raise NotImplementedError


def decimal_proofs(texts: Iterable[str]) -> tuple[str, str]:
    """The first text that proves a decimal point and the first that proves a comma, "" where there is none."""
    raise NotImplementedError


def parse_number(text: str, decimal: Decimal | None) -> Number:
    """One number from one text, or why not.

    Codes: ``decimal-unclear``, ``not-a-number``, ``number-range``. Notices: ``thousands-mark``, ``apostrophe``.
    """
    raise NotImplementedError
