"""One part of a batch while its records are decided on: all that is known of them, one entry per record each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from screen.stages.read.decide.grouped import Grouped
from screen.stages.read.decide.verdicts import Verdicts
from screen.stages.read.records.measures import Measures
from screen.stages.read.records.melt import Records
from screen.stages.read.records.owners import Owners
from screen.stages.read.records.readings import Readings, Substances

__all__ = ["Case"]


@dataclass(frozen=True, slots=True)
class Case:
    """What the steps of a decision look at, and ``verdicts`` and ``grouped``, to which they add.

    ``use``: 1 where the sheet marks the result for use, 0 for not, -1 not stated. ``status``: 1 final or accepted,
    0 rejected, 2 preliminary, -1 not stated.
    """

    records: Records
    substances: Substances
    measures: Measures
    readings: Readings
    owners: Owners
    verdicts: Verdicts
    grouped: Grouped
    use: npt.NDArray[np.int8]
    status: npt.NDArray[np.int8]
