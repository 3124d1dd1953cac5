"""`python -m leaklore` is the same as the `leaklore` command."""

from leaklore.cli import main

main()
