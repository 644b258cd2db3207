"""The water: what the pump's hours move, and what the pond does meanwhile."""
