"""Lets `python -m adapters` run the command line where it is not installed."""

from adapters.cli import main

main()
