"""Decisions: what becomes of each record, and which of several is the result."""
