"""The program ``packwear``: the library's commands, and those of the record and the service."""

from webapi.cli.program import main

__all__ = ["main"]
