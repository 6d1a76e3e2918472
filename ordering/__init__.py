"""What a restaurant kitchen must buy and start today, and why."""

__version__ = "0.1.0"
