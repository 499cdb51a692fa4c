"""The page: report.html from the facts of a run."""
