"""Covers and portions of the coming services, as means and sample paths."""
