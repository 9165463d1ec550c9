"""Errors carry their data, say their sentence and survive a pickle."""
