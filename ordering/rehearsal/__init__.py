"""A simulated kitchen that lives through past weeks by one way of ordering."""
