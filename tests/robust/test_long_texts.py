"""Texts as long as a spreadsheet's cell can be (32,767 characters): each reader refuses or reads them at once."""

from __future__ import annotations

import time

import pytest

from tests.robust.parsers import PARSERS

LONGEST_CELL = 32_767
PIECES = ["a", "1", " ", "-", "/", ",", "1,", "1.", "1,234", "dry ", "mg/kg ", "mg/kg dry ", "PCB-1/", "+1", "1-", "(",
          "((a)", "J ", "<", "1/1/", "jan ", "1e", "%", "J=", "J: estimated; ", "'", "oc ", "1-2 cm to ", "1 000 ", "½",
          "μ", "PCB 1+2 ", "benzo(a)", "1 1/2 ", "0", "9", "\u202e", "ﬃ", "ﷺ"]  # fmt: skip


@pytest.mark.parametrize("name", sorted(PARSERS))
@pytest.mark.parametrize("piece", PIECES)
def test_a_cell_of_the_greatest_length(name: str, piece: str) -> None:
    began = time.monotonic()
    PARSERS[name]((piece * LONGEST_CELL)[:LONGEST_CELL])
    assert time.monotonic() - began < 10
