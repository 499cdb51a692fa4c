"""The tables in `guidelines/`: substances, names, units, sum rules and guideline sets."""
