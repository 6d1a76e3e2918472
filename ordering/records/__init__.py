"""Frozen types that cross the borders between stages."""
