"""``python -m tailrace``: the same as the command ``tailrace``."""

from tailrace.cli import main

main()
