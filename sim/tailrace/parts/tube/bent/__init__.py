"""Bent tubes: the flow in them, and the ways of a band through them."""
