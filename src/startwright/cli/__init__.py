"""The command line: the same questions on the same functions, and nothing computed here."""

from startwright.cli.commands import app
from startwright.cli.run import main

__all__ = ["app", "main"]
