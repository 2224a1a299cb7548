"""Heuristics: one method a module, by its textbook name."""
