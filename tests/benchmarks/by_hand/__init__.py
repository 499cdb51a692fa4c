"""The same job by other means, each a script of its own: `python -m tests.benchmarks.by_hand.NAME INPUT OUTPUT ...`."""
