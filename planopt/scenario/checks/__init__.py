"""Checks of a scenario: against itself, its catalog, and published values."""
