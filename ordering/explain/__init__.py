"""Why each line is there: pegging, shortages and remedies, the chain told by `explain`."""
