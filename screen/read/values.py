"""Value cells: distinct cells in, what each says out (number, sign, flags, words), before any limit is looked at."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.read.numbers import Decimal

__all__ = ["parse_values"]


def parse_values(
    texts: npt.NDArray[np.object_],
    kinds: npt.NDArray[np.uint8],
    numbers: npt.NDArray[np.float64],
    decimal: Decimal | None,
    brackets: str = "",
) -> pd.DataFrame:
    """What each distinct cell says. The three arrays are those of a ``Column`` (any length, same order).

    One row per distinct cell, default index; columns:

    - ``number`` float64, NaN where there is none. Not yet judged: may be 0 or negative.
    - ``sign`` str: "", ``<``, ``<=``, ``>``, ``>=``. ``ND0.5``, ``ND(0.5)``, ``LT 0.5`` give ``<``; ``GT 5`` gives ``>``.
    - ``flags`` str: the flags of the cell, split, in the order met, joined by one blank (``J B``, ``U``, ``J C20``, ``*``).
    - ``word`` str: "", ``nondetect``, ``trace``, ``not-analysed`` (blank cell too), ``rejected``.
    - ``limit_named`` str: "", ``reporting``, ``detection`` (``<RL``, ``<MDL``).
    - ``percent`` bool: the cell has a percent sign.
    - ``figures`` int16: significant figures as written, 0 where there is no number.
    - ``code`` str: "" or why the cell is refused (see ``detection.REASONS``).
    - ``notice`` str: "" or a notice code (``apostrophe``, ``thousands-mark``, ``at-most``).
    - ``hint`` str: "" or what the cell may have been (dates).

    ``brackets``: what a legend says of a number in brackets: "" (unknown: refused), ``nondetect`` or ``estimated``.
    Cells of numbers that carry no flag take the fast path; millions of distinct cells are fine.
    """
    raise NotImplementedError
