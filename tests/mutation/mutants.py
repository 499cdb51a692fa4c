"""A source file to its mutants: in goes a path, out come mutmut's mutants of it, each with its lines and its change.

Which mutants there are is mutmut's doing alone. All of one file stand in one text, beside the functions as written; a
name in the environment says which of them is called.
"""

from __future__ import annotations

import ast
import difflib
import hashlib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

from mutmut.mutation.file_mutation import mutate_file_contents

__all__ = ["Mutant", "Source", "alike", "put_in_place", "source_of"]


@dataclass(frozen=True)
class Mutant:
    """One mutant: ``key`` (module and mangled name), the ``lines`` it changes, and the change itself."""

    key: str
    function: str
    lines: tuple[int, ...]
    change: str


@dataclass(frozen=True)
class Source:
    """A file with all its mutants: the ``module`` it is, the text with mutants, and the mutants in order."""

    path: Path
    module: str
    code: str
    mutants: tuple[Mutant, ...]


def source_of(path: Path, kept: Path) -> Source:
    """The mutants of ``path`` (below the root of the repository); texts are kept in the folder ``kept``."""
    text = path.read_text(encoding="utf-8")
    cached = kept / f"{hashlib.sha256(f'{path}{text}'.encode()).hexdigest()[:20]}.json"
    if cached.exists():
        code, names = json.loads(cached.read_text(encoding="utf-8"))
    else:
        mutated = mutate_file_contents(str(path), text)
        code, names = mutated.code, list(mutated.mutant_names)
        kept.mkdir(parents=True, exist_ok=True)
        cached.write_text(json.dumps([code, names]), encoding="utf-8")
    module = ".".join(path.with_suffix("").parts).removesuffix(".__init__")
    return Source(path, module, code, tuple(_mutants(module, text, code, names)))


def _mutants(module: str, text: str, code: str, names: Sequence[str]) -> list[Mutant]:
    written = _functions(text)
    statements = _statements(text)
    made = _functions(code)
    lines = code.splitlines()
    found = []
    for name in names:
        function, number = name.rsplit("__mutmut_", 1)
        before, after = (_lines_of(made[f"{function}__mutmut_{which}"], lines) for which in ("orig", number))
        head = before[0].replace("__mutmut_orig", ""), after[0].replace(f"__mutmut_{number}", "")
        before, after = ([one, *body[1:]] for one, body in zip(head, (before, after), strict=True))
        changed = [i for i, (one, other) in enumerate(zip(before, after, strict=False)) if one != other]
        first = written[_plain(function)].lineno + (changed[0] if changed else 0)
        told = list(difflib.unified_diff(before, after, n=0, lineterm=""))[3:]
        lines_changed = statements.get(first, (first,))
        found.append(Mutant(f"{module}.{name}", _plain(function), lines_changed, "\n".join(told)))
    return found


def alike(mutant: Mutant, changes: Sequence[Mapping[str, Any]]) -> str:
    """The reason why no test can tell the mutant apart, "" for none known.

    ``changes`` say what is ``written`` (a regular expression) and into what it is ``changed`` to no effect.
    """
    lines = mutant.change.splitlines()
    if [line[:1] for line in lines] != ["-", "+"]:
        return ""
    old, new = (line[1:] for line in lines)
    for one in changes:
        for found in re.finditer(one["written"], old):
            if new in [old[: found.start()] + text + old[found.end() :] for text in one["changed"]]:
                return str(one["reason"])
    return ""


def _plain(mangled: str) -> str:
    """``x_f`` as ``f``, ``xǁCǁf`` as ``C.f``."""
    return mangled[2:] if mangled.startswith("x_") else ".".join(mangled.split("ǁ")[1:])


def _functions(text: str) -> dict[str, ast.FunctionDef]:
    found = {}
    for node in ast.parse(text).body:
        if isinstance(node, ast.FunctionDef):
            found[node.name] = node
        elif isinstance(node, ast.ClassDef):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef):
                    found[inner.name if "__mutmut_" in inner.name else f"{node.name}.{inner.name}"] = inner
    return found


def _lines_of(function: ast.FunctionDef, lines: Sequence[str]) -> list[str]:
    return lines[function.lineno - 1 : function.end_lineno]


def _statements(text: str) -> dict[int, tuple[int, ...]]:
    """For each line the lines of the innermost statement on it; of one with a body, those of its head."""
    found: dict[int, tuple[int, ...]] = {}
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.stmt):
            body = getattr(node, "body", None)
            end = body[0].lineno - 1 if body else node.end_lineno
            span = tuple(range(node.lineno, max(node.lineno, end or 0) + 1))
            for line in span:
                if line not in found or len(span) <= len(found[line]):
                    found[line] = span
    return found


class _Loader(importlib.machinery.SourceFileLoader):
    """Loads a module from its text with mutants."""

    def __init__(self, source: Source) -> None:
        super().__init__(source.module, str(source.path.absolute()))
        self._text = source.code

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._text, self.path, "exec", dont_inherit=True)


class _Finder(importlib.abc.MetaPathFinder):
    def __init__(self, sources: Mapping[str, Source]) -> None:
        self._sources = sources

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        source = self._sources.get(fullname)
        if source is None:
            return None
        inside = [str(source.path.parent.absolute())] if source.path.name == "__init__.py" else None
        return importlib.util.spec_from_file_location(
            fullname, source.path.absolute(), loader=_Loader(source), submodule_search_locations=inside
        )


def put_in_place(sources: Sequence[Source]) -> None:
    """From now on these modules are imported with their mutants, none of them active."""
    loaded = [source.module for source in sources if source.module in sys.modules]
    if loaded:
        raise RuntimeError(f"already imported: {', '.join(loaded)}")
    sys.meta_path.insert(0, _Finder({source.module: source for source in sources}))
