"""The plan on a terminal."""
