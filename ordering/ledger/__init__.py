"""The house's documents in SQLite, and how they answer one another."""
