"""Normalising: dry weight, standard units, organic carbon."""
