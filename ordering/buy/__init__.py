"""What to order: packs, vendors and days at least cost."""
