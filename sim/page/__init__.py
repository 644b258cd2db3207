"""The local page: describe a system, see its year at once, study it, save it. It serves this computer alone."""
