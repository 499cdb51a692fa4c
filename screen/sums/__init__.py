"""Sums by the stated method, with bounds from non-detects."""
