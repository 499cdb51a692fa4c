"""Benchmarks: whole commands as processes of their own, reported as ratios in one run. Nothing here asserts a time."""
