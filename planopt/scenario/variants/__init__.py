"""Variants: a scenario with stated changes."""
