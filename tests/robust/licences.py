"""The licences of all dependencies: ``python -m tests.robust.licences > docs/licences.md`` writes the page anew.

In: pyproject.toml and the metadata of what is installed. Out: one row for each package that an installation can bring.
"""

from __future__ import annotations

import re
import tomllib
from collections import deque
from importlib.metadata import PackageNotFoundError, files, metadata, requires
from pathlib import Path

__all__ = ["direct", "licence", "page"]

ROOT = Path(__file__).parents[2]
_NAME = re.compile(r"^[A-Za-z0-9._-]+")


def _names(requirements: list[str]) -> list[str]:
    """The names of requirements that hold here, without extras of our own."""
    wanted = [one for one in requirements if "extra ==" not in one]
    found = [met[0].lower().replace("_", "-") for one in wanted if (met := _NAME.match(one))]
    return [name for name in found if name != "siltmark"]


def direct() -> dict[str, list[str]]:
    """Names of the packages that pyproject.toml names, by what they are for (``run``, or the extra)."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    return {"run": _names(project["dependencies"])} | {
        name: _names(listed) for name, listed in project["optional-dependencies"].items()
    }


def licence(name: str) -> str:
    """What the metadata of an installed package says, in a few words; "" where it says nothing or is not installed."""
    try:
        about = metadata(name)
    except PackageNotFoundError:
        return ""
    if stated := about.get("License-Expression"):
        return stated
    classified = [
        one.rpartition(" :: ")[2] for one in about.get_all("Classifier") or [] if one.startswith("License ::")
    ]
    if classified := [one for one in classified if one != "OSI Approved"]:
        return "; ".join(classified)
    if stated := (about.get("License") or "").strip():
        return stated.splitlines()[0][:60]
    for one in files(name) or []:
        if one.name.upper().startswith("LICEN"):
            return next((line.strip() for line in one.read_text("utf-8").splitlines() if line.strip()), "")
    return ""


def page() -> str:
    """The page as Markdown."""
    use: dict[str, str] = {}
    for extra, names in direct().items():
        for name in names:
            use.setdefault(name, "runs the tool" if extra == "run" else f"extra `{extra}`")
    waiting = deque((name, name) for name in use)
    while waiting:
        name, first = waiting.popleft()
        try:
            more = _names(requires(name) or [])
        except PackageNotFoundError:
            continue
        for other in more:
            if other not in use and licence(other):
                use[other] = f"with {first}"
                waiting.append((other, first))
    lines = [
        "# Licences of the dependencies",
        "",
        "Siltmark itself is under the MIT licence. What an installation brings with it, as its own metadata says;",
        "nothing of it is part of this repository. Written by `python -m tests.robust.licences > docs/licences.md`.",
        "",
        "| package | licence | why |",
        "| --- | --- | --- |",
    ]
    return (
        "\n".join([*lines, *(f"| {one} | {licence(one) or 'see its page'} | {use[one]} |" for one in sorted(use))])
        + "\n"
    )


if __name__ == "__main__":
    print(page(), end="")
