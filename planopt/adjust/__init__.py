"""Adjust: a written plan changed by hand, with a price on every change, and why a dish is there."""
