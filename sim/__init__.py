"""sunrill: one year of a small off-grid solar system that runs a garden pond's pump, hour by hour."""
