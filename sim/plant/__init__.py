"""The simulation itself: records, lanes, the kernel, simpy processes and the log."""
