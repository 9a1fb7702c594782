"""The scenario file: read, checked, and turned into parts and streams."""
