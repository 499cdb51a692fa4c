"""The chain of one finding: from the cells in the laboratory's sheet, step by step, to the word in the report."""

from screen.explain.chain import chains, results_summed
from screen.explain.tables import Tables, find, sets_met, tables_of
from screen.explain.text import render

__all__ = ["Tables", "chains", "find", "render", "results_summed", "sets_met", "tables_of"]
