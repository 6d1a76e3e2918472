"""The house's files and books, checked and read into records."""
