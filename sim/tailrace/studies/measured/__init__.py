"""Simulations held against measured signals: compared, and fitted to them."""
