"""The commands; the only room that prints, asks or exits."""

from tailrace.cli.main import main

__all__ = ["main"]
