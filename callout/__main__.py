"""`python -m callout`."""

from callout.cli import main

main()
