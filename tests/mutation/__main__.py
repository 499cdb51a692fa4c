"""Mutation testing of all that works with figures: ``python -m tests.mutation --help`` (extra ``mutation``).

In: which files and tests (``tests.toml`` beside this module), and the source files to try (patterns, default all).
Out: in a folder of the user's, what each mutant came to; on stdout a table by file, with ``--survivors`` their changes.
"""

from __future__ import annotations

import argparse
import fnmatch
import hashlib
import json
import os
import random
import sys
import time
import tomllib
from collections import Counter
from dataclasses import asdict
from pathlib import Path

import pytest

from tests.mutation.mutants import Mutant, Source, alike, put_in_place, source_of
from tests.mutation.trying import Mapper, Reached, Trier, Verdict, pytest_options

ROOT = Path(__file__).parents[2]


class Kept:
    """What is kept from run to run in one folder: the map of tests, and the verdict of each mutant by its change."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.texts = folder / "texts"
        (folder / "verdicts").mkdir(parents=True, exist_ok=True)
        self._verdicts: dict[str, dict[str, dict[str, object]]] = {}

    def _file(self, source: Source) -> Path:
        return self._folder / "verdicts" / f"{source.module}.json"

    def of(self, source: Source) -> dict[str, dict[str, object]]:
        """The verdicts on the mutants of one file, by ``mark``."""
        if source.module not in self._verdicts:
            path = self._file(source)
            self._verdicts[source.module] = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
        return self._verdicts[source.module]

    def save(self, source: Source) -> None:
        """Write the verdicts on the mutants that the file has now."""
        marks = {_mark(one) for one in source.mutants}
        verdicts = {mark: one for mark, one in self.of(source).items() if mark in marks}
        _write(self._file(source), verdicts)

    def map_of(self, tests: list[str], folders: list[str], longest: float) -> Reached:
        """The map, made anew for test files that changed since, and for all where a source file did."""
        path = self._folder / "map.json"
        known = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
        texts = [path.read_bytes() for folder in folders for path in sorted(Path(folder).rglob("*.py"))]
        common = _digest(repr(pytest_options()).encode(), *texts).encode()
        wanted = {one: _digest(Path(one).read_bytes(), common) for one in tests}
        anew = [one for one, digest in wanted.items() if known.get(one, {}).get("digest") != digest]
        if anew:
            print(f"mapping {len(anew)} test files", file=sys.stderr)
            pid = os.fork()
            if pid == 0:
                mapper = Mapper(folders, longest)
                pytest.main([*pytest_options(), *anew], plugins=[mapper])
                if mapper.failing:
                    print("these fail without any mutant:", *mapper.failing, sep="\n", file=sys.stderr)
                for one in anew:
                    known[one] = _part(mapper.reached, one, wanted[one])
                _write(path, {one: known[one] for one in wanted})
                os._exit(1 if mapper.failing or not mapper.reached.seconds else 0)
            if os.waitpid(pid, 0)[1]:
                sys.exit("no map of the tests")
            known = json.loads(path.read_text(encoding="utf-8"))
        reached = Reached()
        for one in wanted:
            reached.seconds |= known[one]["seconds"]
            for source, lines in known[one]["by_line"].items():
                into = reached.by_line.setdefault(source, {})
                for line, ids in lines.items():
                    into.setdefault(int(line), []).extend(ids)
        return reached


def _digest(*parts: bytes) -> str:
    return hashlib.sha256(b"".join(parts)).hexdigest()


def _write(path: Path, what: object) -> None:
    """Written beside and moved, so that no other run reads half of it."""
    beside = path.with_suffix(f".{os.getpid()}")
    beside.write_text(json.dumps(what), encoding="utf-8")
    beside.replace(path)


def _part(reached: Reached, file: str, digest: str) -> dict[str, object]:
    seconds = {one: round(took, 4) for one, took in reached.seconds.items() if one.split("::")[0] == file}
    by_line = {
        source: {line: mine for line, ids in lines.items() if (mine := [one for one in ids if one in seconds])}
        for source, lines in reached.by_line.items()
    }
    return {"digest": digest, "seconds": seconds, "by_line": by_line}


def _mark(mutant: Mutant) -> str:
    return f"{mutant.key}#{_digest(mutant.change.encode())[:12]}"


def main() -> int:
    """Run from the command line."""
    given = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    given.add_argument("sources", nargs="*", default=["*"], help="patterns of source files")
    given.add_argument("--folder", type=Path, required=True, help="what is kept from run to run")
    given.add_argument("--sample", type=int, default=0, help="only so many mutants of each file, by chance")
    given.add_argument("--again", action="store_true", help="also those that survived an earlier run")
    given.add_argument("--survivors", action="store_true", help="show the survivors' changes; try nothing")
    given.add_argument("--at-once", type=int, default=2)
    given.add_argument("--budget", type=float, default=2.0, help="seconds of tests for one mutant")
    asked = given.parse_args()
    os.chdir(ROOT)
    data = tomllib.loads((Path(__file__).parent / "tests.toml").read_text(encoding="utf-8"))
    kept = Kept(asked.folder.absolute())
    paths = sorted({path.relative_to(ROOT) for folder in data["mutate"] for path in (ROOT / folder).rglob("*.py")})
    paths = [path for path in paths if any(fnmatch.fnmatch(str(path), f"*{one}") for one in asked.sources)]
    sources = [source_of(path, kept.texts) for path in paths]
    if not asked.survivors:
        _try(sources, asked, data, kept)
    _tell(sources, kept, data["alike"], asked.survivors)
    return 0


def _try(sources: list[Source], asked: argparse.Namespace, data: dict[str, object], kept: Kept) -> None:
    tests = sorted({str(path.relative_to(ROOT)) for one in data["tests"] for path in ROOT.glob(one)})
    reached = kept.map_of(tests, data["mutate"], data["longest"])
    wanted: list[tuple[Mutant, list[str], list[str]]] = []
    source_by_key: dict[str, Source] = {}
    for source in sources:
        lines = reached.by_line.get(str(source.path), {})
        own = data["own"].get(str(source.path.relative_to("screen/stages")), [])
        mutants = list(source.mutants)
        if asked.sample:
            mutants = random.Random(0).sample(mutants, min(asked.sample, len(mutants)))
        for mutant in mutants:
            known = kept.of(source).get(_mark(mutant))
            if alike(mutant, data["alike"]):
                kept.of(source)[_mark(mutant)] = asdict(Verdict("alike"))
                continue
            source_by_key[mutant.key] = source
            if known is None or (asked.again and known["outcome"] in ("survived", "no test")):
                ids = sorted({one for line in mutant.lines for one in lines.get(line, [])})
                wanted.append((mutant, ids, own))
    if not wanted:
        return
    began, done = time.monotonic(), Counter[str]()

    def tell(mutant: Mutant, verdict: Verdict) -> None:
        source = source_by_key[mutant.key]
        kept.of(source)[_mark(mutant)] = asdict(verdict)
        done[verdict.outcome] += 1
        if done.total() % 20 == 0:
            kept.save(source)
        if done.total() % 100 == 0:
            print(f"{done.total()}/{len(wanted)} {dict(done)} {time.monotonic() - began:.0f} s", file=sys.stderr)

    put_in_place(sources)
    files = sorted({one.split("::")[0] for _, ids, _ in wanted for one in ids})
    pytest.main(
        [*pytest_options(), *files], plugins=[Trier(wanted, reached.seconds, tell, asked.at_once, asked.budget)]
    )
    for source in sources:
        kept.save(source)


def _tell(sources: list[Source], kept: Kept, changes: list[dict[str, object]], survivors: bool) -> None:
    print("| file | mutants | tried | killed | of these by time | survived | not reached | alike | share killed |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    whole, reasons = Counter[str](), Counter[str]()
    for source in sources:
        by = Counter(str(kept.of(source).get(_mark(one), {}).get("outcome", "not tried")) for one in source.mutants)
        reasons += Counter(why for one in source.mutants if (why := alike(one, changes)))
        whole += by
        if by:
            print(_line(str(source.path.relative_to("screen/stages")), by))
    print(_line("all", whole))
    if survivors:
        for reason, count in reasons.most_common():
            print(f"\n{count} alike: {reason}")
        for source in sources:
            for mutant in source.mutants:
                outcome = kept.of(source).get(_mark(mutant), {}).get("outcome")
                if outcome in ("survived", "no test"):
                    print(f"\n{mutant.key} line {mutant.lines[0]}: {outcome}\n{mutant.change}")


def _line(name: str, by: Counter[str]) -> str:
    """A line of the table; those that are alike count as tried and not killed."""
    tried = by.total() - by["not tried"]
    killed = by["killed"] + by["timeout"]
    share = f"{100 * killed / tried:.1f} %" if tried else ""
    counts = [by.total(), tried, killed, *(by[one] for one in ("timeout", "survived", "no test", "alike"))]
    return f"| `{name}` | {' | '.join(map(str, counts))} | {share} |"


if __name__ == "__main__":
    sys.exit(main())
