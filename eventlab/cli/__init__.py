"""The command line; heavy libraries load only when a command needs them."""

from eventlab.cli.commands import main

__all__ = ["main"]
