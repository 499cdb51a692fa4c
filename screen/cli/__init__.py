"""The command line: the only place that prints and exits. Heavy modules are imported inside the commands."""

from screen.cli.main import main

__all__ = ["main"]
