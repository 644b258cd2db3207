"""Sunlight on the panel and what the array makes of it; independent of the state of the system."""
