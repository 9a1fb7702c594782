"""Measured signals turned into text, JSON and pages: files, comparisons, fits."""
