"""Many houses at once: each one's own run on a worker, and what the group adds up of them."""
