"""Files a kitchen already has, read into the house's own."""
