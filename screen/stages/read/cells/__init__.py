"""Cells: files in, coded grids out."""
