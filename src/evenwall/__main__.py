"""`python -m evenwall` is the command line."""

from evenwall.cli import main

main()
