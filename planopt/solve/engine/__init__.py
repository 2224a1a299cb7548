"""The engine: which method works when, and what the search knows so far."""
