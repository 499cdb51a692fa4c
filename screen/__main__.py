"""Lets ``python -m screen`` work."""

from screen.cli import main

main()
