"""Documents to bytes and into folders, whole or not at all."""
