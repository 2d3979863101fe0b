"""Run the command line by `python -m adapters.cli`, where it is not installed."""

from adapters.cli.main import main

main()
