"""Coverage-guided fuzzing of the readers of texts and of text files: ``python -m tests.robust.guided -runs=100000``.

Needs the extra ``fuzz``. Arguments are those of libFuzzer; inputs that reach new code are added to a copy of
``tests/robust/corpus``, which stays as it is. The first byte of an input chooses the reader, the others are its text.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import warnings
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["screen"], enable_loader_override=False):
    from tests.robust.damage import read_damaged
    from tests.robust.parsers import PARSERS

CORPUS = Path(__file__).parent / "corpus"
_NAMES = sorted(PARSERS)
_FOLDER = Path(tempfile.mkdtemp())


def one_input(data: bytes) -> None:
    """Feed one input; anything but a quiet end is a finding."""
    if not data:
        return
    choice = data[0] % (len(_NAMES) + 1)
    if choice < len(_NAMES):
        PARSERS[_NAMES[choice]](data[1:].decode("utf-8", "replace"))
        return
    path = _FOLDER / "lab.csv"
    path.write_bytes(data[1:])
    read_damaged(path)


def main() -> None:
    """Fuzz until the runs are done."""
    warnings.simplefilter("ignore")
    grown = _FOLDER / "corpus"
    shutil.copytree(CORPUS, grown)
    atheris.Setup(
        [sys.argv[0], "-max_len=400", "-timeout=10", "-rss_limit_mb=4000", *sys.argv[1:], str(grown)], one_input
    )
    atheris.Fuzz()


if __name__ == "__main__":
    main()
