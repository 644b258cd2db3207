"""The simulation itself: records, lanes, circuit, minds, step and books, simpy processes and the log."""
