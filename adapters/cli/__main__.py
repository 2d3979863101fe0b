"""Lets `python -m adapters.cli` run the command line where it is not installed."""

from adapters.cli.main import main

main()
