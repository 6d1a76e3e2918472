"""What a past stretch came to: forecast against actual, money, losses, advice."""
