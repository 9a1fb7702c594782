"""What all tables of a scenario file have in common."""

from tailrace.quantities.table import Name, Table

__all__ = ["Name", "Table"]
