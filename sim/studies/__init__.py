"""Studies: many designs on the same year."""
