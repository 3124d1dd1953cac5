"""The `leaklore` command. Thin: it reads options, calls the layer below and prints what comes back."""

from leaklore.cli import answer, publish, records, teach
from leaklore.cli.group import main

__all__ = ["answer", "main", "publish", "records", "teach"]
