"""The field record: stations, cores and samples, and where each sample is from."""
