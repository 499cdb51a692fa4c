"""Indices: mixtures, probabilities, metals against background, ratios."""
