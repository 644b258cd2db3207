"""What the console shows of a result, in a few lines; a file for each kind of result."""
