"""The scenario file turned into validated objects; every error names file, line and key."""
