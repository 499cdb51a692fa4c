"""Places: stations, the reach, areas, cores and cuts, earlier runs."""
