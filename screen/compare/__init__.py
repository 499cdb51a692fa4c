"""Comparing results and totals with guideline levels, station with station, depth with depth."""
