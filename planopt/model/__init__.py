"""Model: the problem as a PuLP mixed-integer program."""
