"""From results to pages that people read."""
