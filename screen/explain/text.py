"""Chains as plain text for a terminal: chains in, lines out."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

__all__ = ["render"]


def render(found: Sequence[Mapping[str, Any]]) -> str:
    """Chains as plain text for a terminal."""
    lines: list[str] = []
    for chain in found:
        total = f" ({chain['total']})" if chain["total"] else ""
        source = ""
        lines.append(f"{chain['sample']} · {chain['substance']}{total} · {chain['set']}: {chain['finding']}")
        for step in chain["steps"]:
            lines.append(f"  {step['step']:<11}{_in_words(step)}")
            if step["source"] and step["source"] != source:
                source = step["source"]
                lines += textwrap.wrap(source, 96, initial_indent=" " * 15, subsequent_indent=" " * 15)
        if chain["note"]:
            lines.append(f"  note: {chain['note']}")
        lines.append("")
    return "\n".join(lines).rstrip()


def _in_words(step: Mapping[str, Any]) -> str:
    """One step on a line: what it is about, then the arithmetic."""
    about = " ".join(str(step[key]) for key in ("substance", "level", "quantity") if step.get(key))
    to = f"{_shown(step['to'])} {step['unit']}".rstrip()
    if step["step"] == "read":
        return f"{about}: cell reads {step['from']!r}: {to}"
    if step["step"] == "sum":
        parts = zip(step["weights"], step["from"], strict=True) if step["quantity"] != "limit" else ()
        terms = [f"{_shown(weight)} × {_shown(one)}" if weight != 1 else _shown(one) for weight, one in parts]
        inner = " + ".join(terms) or f"highest of {', '.join(_shown(one) for one in step['from'])}"
        by = "" if step["by"] == 1 else f" × {_shown(step['by'])}"
        return f"{about}: ({inner}){by} = {to}"
    if step["step"] == "duplicates":
        return f"mean of {', '.join(_shown(one) for one in step['from'])} = {to}"
    if step["step"] == "level" and step["by"] == 1:
        return f"{about}: {to}"
    return f"{about}: {_shown(step['from'])} {step['operation']} {_shown(step['by'])} = {to}"


def _shown(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.12g}"
    return "" if value is None else str(value)
