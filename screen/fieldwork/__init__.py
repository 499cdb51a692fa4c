"""Before the laboratory: sample labels, chain-of-custody record, what to ask for. In: a field record. Out: pages."""
