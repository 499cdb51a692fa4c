"""Sentences of report and memo, made from the facts of a run."""
