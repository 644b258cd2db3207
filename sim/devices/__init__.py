"""The parts of the system as scalar functions of plain numbers in SI units; none knows another."""
