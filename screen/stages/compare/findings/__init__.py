"""Findings: figures of samples against the levels of guideline sets."""
