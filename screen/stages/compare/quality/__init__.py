"""Quality: what the laboratory's own controls and the figures themselves say of the results."""
