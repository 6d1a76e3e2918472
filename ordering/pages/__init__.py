"""Every document as a value: cells, styles by name, letters, pages."""
